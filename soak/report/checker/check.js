{
  // What a signed file holds, and what is signed of it: see soak/report/signing.
  const SIGNATURE = /soak-signature:([0-9a-f]{64})([0-9a-f]{128})/g;
  const MARK = "soak-signature:";
  const PARTICULARS = /soak-report:([A-Za-z0-9_-]+)/;
  const KIND = "soak file 1\n";
  const DIGITS = 32;
  const MOST_BYTES = 100e6;

  const at = id => document.getElementById(id);
  const bytesOf = hex => Uint8Array.from(hex.match(/../g), pair => parseInt(pair, 16));
  const grouped = digits => digits.match(/.{4}/g).join(" ");

  /** Whether a signature holds; by the browser, and where it does not know Ed25519, by noble. */
  async function holds(signature, message, key) {
    let own;
    try {
      own = await crypto.subtle.importKey("raw", key, { name: "Ed25519" }, false, ["verify"]);
    } catch {
      return verifyAsync(signature, message, key, { zip215: false }).catch(() => false);
    }
    return crypto.subtle.verify({ name: "Ed25519" }, own, signature, message);
  }

  /** What a file says it is; nothing where that cannot be read. */
  function particulars(text) {
    const found = PARTICULARS.exec(text);
    if (!found) return {};
    try {
      const told = JSON.parse(atob(found[1].replaceAll("-", "+").replaceAll("_", "/")));
      return told !== null && typeof told === "object" ? told : {};
    } catch {
      return {};
    }
  }

  /** Who signed a file: an outcome, and the key where it holds. */
  async function checked(bytes, text) {
    const found = [...text.matchAll(SIGNATURE)];
    const different = new Set(found.map(one => one[0]));
    const zeros = MARK + "0".repeat(192);
    if (found.length === 0 && !PARTICULARS.test(text)) return { says: "foreign" };
    if (found.length === 0 || (different.size === 1 && different.has(zeros))) return { says: "unsigned" };
    if (different.size > 1) return { says: "changed" };
    const empty = bytes.slice();
    for (const one of found) {
      const begins = one.index + MARK.length;
      empty.fill(48, begins, begins + 192);
    }
    const [, key, signature] = found[0];
    const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", empty));
    const message = Uint8Array.from([...new TextEncoder().encode(KIND), ...digest]);
    const whole = await holds(bytesOf(signature), message, bytesOf(key));
    return whole ? { says: "whole", key } : { says: "changed" };
  }

  /** What comes of a file and of what was typed. */
  async function outcome(bytes, typed) {
    const text = new TextDecoder("latin1").decode(bytes);
    const said = particulars(text);
    const found = await checked(bytes, text);
    if (found.says !== "whole") return { ...found, said };
    const signer = grouped(found.key.slice(0, DIGITS));
    const digits = typed.replace(/[\s:-]/g, "").toLowerCase();
    const told = { said, signer };
    if (said.key !== undefined && said.key !== signer) return { says: "forged", ...told };
    if (digits === "") return { says: "unnamed", ...told };
    if (!/^[0-9a-f]+$/.test(digits) || ![DIGITS, found.key.length].includes(digits.length)) {
      return { says: "mistyped", ...told };
    }
    if (found.key.startsWith(digits)) return { says: "whole", ...told };
    return { says: "other", typed: grouped(digits), ...told };
  }

  /** Write groups, those marked that are not in the same place of the other. */
  function write(place, groups, other) {
    const others = (other ?? groups).split(" ");
    place.replaceChildren(...groups.split(" ").flatMap((group, number) => {
      const mark = document.createElement(group === others[number] ? "span" : "mark");
      mark.textContent = group;
      return number ? [" ", mark] : [mark];
    }));
  }

  function show(found) {
    const result = at("result");
    const isWhole = found.says === "whole";
    const more = {
      signer: found.signer !== undefined,
      typed: found.typed !== undefined,
      unproven: !isWhole && Object.keys(found.said ?? {}).length > 0,
      simulated: found.said?.simulated === "yes",
      means: isWhole,
    };
    result.className = ["whole", "unnamed", "mistyped"].includes(found.says) ? "" : "bad";
    result.querySelectorAll("[data-says]").forEach(one => { one.hidden = one.dataset.says !== found.says; });
    result.querySelectorAll("[data-more]").forEach(one => { one.hidden = !more[one.dataset.more]; });
    if (found.signer) write(at("signer"), found.signer, found.typed);
    if (found.typed) write(at("typed"), found.typed, found.signer);
    result.querySelectorAll("[data-name]").forEach(row => {
      const told = found.said?.[row.dataset.name];
      const plain = typeof told === "string" ? told.slice(0, 200) : "";
      row.hidden = plain === "";
      row.querySelector("dd").textContent = row.dataset.name === "grade" ? graded(plain) : plain;
    });
    result.dataset.outcome = found.says;
    result.hidden = false;
  }

  /** A grade in the language of this page. */
  function graded(grade) {
    const known = [...document.querySelectorAll("[data-grade]")].find(one => one.dataset.grade === grade);
    return known ? known.textContent : grade;
  }

  let given = null;
  let latest = 0;

  async function check() {
    if (given === null) return;
    const number = ++latest;
    let found;
    if (!globalThis.crypto?.subtle) found = { says: "unable" };
    else if (given.size > MOST_BYTES) found = { says: "foreign" };
    else {
      found = await given.arrayBuffer()
        .then(content => outcome(new Uint8Array(content), at("fingerprint").value))
        .catch(() => ({ says: "unable" }));
    }
    if (number === latest) show(found);
  }

  function take(files) {
    if (files.length === 0) return;
    given = files[0];
    check();
  }

  at("file").addEventListener("change", event => take(event.target.files));
  at("fingerprint").addEventListener("input", check);
  for (const kind of ["dragenter", "dragover"]) {
    addEventListener(kind, event => { event.preventDefault(); at("drop").classList.add("over"); });
  }
  addEventListener("dragleave", () => at("drop").classList.remove("over"));
  addEventListener("drop", event => {
    event.preventDefault();
    at("drop").classList.remove("over");
    take(event.dataTransfer.files);
  });
}
