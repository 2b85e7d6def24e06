"""The buyer's checker page in a real Chromium: from disk, under its own policy, no network."""

import base64
import html
import json
import random
import re

import pytest
from browser import axe_file, browser, run
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from made_up_report import sheet_of

from soak.language import codes
from soak.report.output.checker import checker
from soak.report.output.html import page
from soak.report.output.paper import pdf
from soak.report.output.privacy import for_buyer
from soak.report.signing.sign import HOLE, BenchKey, new_key, sign_file

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not browser(), reason="no chromium or chrome here; SOAK_BROWSER names one"),
]
KEY = new_key()
FORGER = new_key()
OWN_VERIFIER = "w.crypto.subtle.importKey = () => Promise.reject(new Error('no Ed25519 here'));"
"""Takes the browser's own Ed25519 away, as older browsers lack it."""
WAYS = [pytest.param("", id="by-the-browser"), pytest.param(OWN_VERIFIER, id="by-noble")]
DRIVER = """
const asked = __CASES__;
const pause = () => new Promise(go => setTimeout(go, 1));
addEventListener('load', async () => {
  const w = frames[0], d = w.document, told = [], imports = [];
  const real = w.crypto.subtle.importKey.bind(w.crypto.subtle);
  w.crypto.subtle.importKey = (...all) => real(...all).then(key => (imports.push(1), key));
  __FIRST__
  const result = d.getElementById('result'), file = d.getElementById('file');
  for (const one of asked) {
    const bytes = Uint8Array.from(atob(one.content), sign => sign.charCodeAt(0));
    const edits = one.edits.length ? one.edits : [null];
    for (const edit of edits) {
      if (edit) bytes[edit[0]] ^= edit[1];
      const carried = new w.DataTransfer();
      carried.items.add(new w.File([bytes], one.name));
      d.getElementById('fingerprint').value = one.typed;
      delete result.dataset.outcome;
      if (one.dropped) {
        const how = { dataTransfer: carried, bubbles: true, cancelable: true };
        d.body.dispatchEvent(new w.DragEvent('drop', how));
      } else {
        file.files = carried.files;
        file.dispatchEvent(new w.Event('change'));
      }
      while (!result.dataset.outcome) await pause();
      told.push([result.dataset.outcome, result.innerText]);
      if (edit) bytes[edit[0]] ^= edit[1];
    }
  }
  document.body.dataset.told = JSON.stringify([told, imports.length]);
});
"""


def asked(folder, *cases, first="", language="en"):
    """Give files and fingerprints to the page; return what it says of each, and its own imports."""
    (folder / "check.html").write_text(checker(language), encoding="utf-8")
    script = DRIVER.replace("__CASES__", json.dumps(cases)).replace("__FIRST__", first)
    frame = folder / "frame.html"
    frame.write_text(
        '<!DOCTYPE html><title>frame</title><iframe src="check.html" width="390" height="2000">'
        f"</iframe><script>{script}</script>",
        encoding="utf-8",
    )
    seen = run(
        folder, "--allow-file-access-from-files", "--virtual-time-budget=3000000", "--dump-dom",
        frame.as_uri(),
    )  # fmt: skip
    found = re.search(r'data-told="(.*?)"', seen, re.DOTALL)
    assert found, "the page did not answer"
    return json.loads(html.unescape(found[1]))


def case(content, typed="", name="report-buyer.html", edits=(), *, dropped=False):
    coded = base64.b64encode(content).decode()
    return {
        "content": coded, "typed": typed, "name": name, "edits": list(edits), "dropped": dropped
    }  # fmt: skip


def signed_page(key=KEY, prints=KEY):
    """Return a buyer's page signed by a key, on which the fingerprint of a key is printed."""
    sheet = for_buyer(sheet_of(signed_by=prints.fingerprint))
    return sign_file(page(sheet).encode(), key)


def signed_paper():
    return sign_file(pdf(for_buyer(sheet_of(signed_by=KEY.fingerprint))), KEY)


@pytest.mark.parametrize("first", WAYS)
def test_it_tells_genuine_changed_forged_and_foreign_apart(first, tmp_path):
    """Each kind of file has its own plain words; both ways to verify agree."""
    genuine = signed_page()
    fingerprint = KEY.fingerprint
    other = FORGER.fingerprint
    unsigned = page(for_buyer(sheet_of())).encode()
    one_off = "1" if fingerprint[-1] == "0" else "0"
    second = HOLE.encode().replace(b"0" * 192, b"a" * 192)
    cases = {
        "whole": case(genuine, fingerprint),
        "whole, paper, dropped": case(signed_paper(), fingerprint, "r.pdf", dropped=True),
        "whole, capitals": case(genuine, fingerprint.upper().replace(" ", "")),
        "whole, hyphens": case(genuine, fingerprint.replace(" ", "-")),
        "whole, the whole key": case(genuine, KEY.public),
        "whole, hard blanks": case(genuine, fingerprint.replace(" ", "\u00a0")),
        "other": case(genuine, other),
        "other, one digit": case(genuine, fingerprint[:-1] + one_off),
        "other, forged throughout": case(signed_page(FORGER, FORGER), fingerprint),
        "forged": case(signed_page(FORGER, KEY), fingerprint),
        "forged, his fingerprint": case(signed_page(FORGER, KEY), other),
        "unnamed": case(genuine),
        "mistyped": case(genuine, fingerprint[:-1]),
        "mistyped, words": case(genuine, "the bench of Kittiwake Yard"),
        "changed": case(genuine.replace(b"</main>", b" </main>"), fingerprint),
        "changed, cut": case(genuine[:-1], fingerprint),
        "changed, two signatures": case(genuine + second, fingerprint),
        "unsigned": case(unsigned, fingerprint),
        "foreign": case(b"<p>Ready for sale</p>", fingerprint),
        "foreign, empty": case(b"", fingerprint),
        "foreign, picture": case(bytes(range(256)), fingerprint, "listing.png"),
    }  # fmt: skip
    told, imports = asked(tmp_path, *cases.values(), first=first)
    assert [says for says, _ in told] == [name.partition(",")[0] for name in cases]
    assert (imports == 0) == bool(first)
    words = dict(zip(cases, (text for _, text in told), strict=True))
    for name in ("whole", "whole, paper, dropped"):
        unit = sheet_of().report.unit
        for said in ("Whole, and signed by this key", unit.tag, unit.model, "not ready: failed"):
            assert str(said) in words[name], (name, said)
        assert "unproven" not in words[name]
    for name in ("changed", "forged", "other", "unsigned", "unnamed", "mistyped"):
        assert "It says of itself, unproven:" in words[name], name
        assert "Whole" not in words[name]
    assert other in words["other, forged throughout"]


@pytest.mark.parametrize("first", WAYS)
@pytest.mark.parametrize("made", [signed_page, signed_paper])
def test_no_changed_byte_passes(made, first, tmp_path):
    """300 single-byte edits spread by chance, and each byte of the signature: none is whole."""
    content = made()
    chance = random.Random(8032)
    signature = content.index(b"soak-signature:") + len(b"soak-signature:")
    places = [chance.randrange(len(content)) for _ in range(300)]
    places += range(signature, signature + 192, 7)
    edits = [(place, 1 << chance.randrange(8)) for place in places]
    told, _ = asked(tmp_path, case(content, KEY.fingerprint, edits=edits), first=first)
    assert len(told) == len(edits)
    assert {says for says, _ in told} <= {"changed", "unsigned", "forged", "foreign"}
    whole, _ = asked(tmp_path, case(content, KEY.fingerprint), first=first)
    assert whole[0][0] == "whole"


@pytest.mark.parametrize("first", WAYS)
def test_a_signature_with_the_order_added_is_changed(first, tmp_path):
    """RFC 8032, 5.1.7: S is below the group's order; the same S plus the order is no signature."""
    order = 2**252 + 27742317777372353535851937790883648493  # RFC 8032, 5.1
    content = signed_page()
    at = content.index(b"soak-signature:") + len(b"soak-signature:") + 128
    scalar = int.from_bytes(bytes.fromhex(content[at : at + 64].decode()), "little")
    moved = (scalar + order).to_bytes(32, "little").hex().encode()
    edited = content[:at] + moved + content[at + 64 :]
    told, _ = asked(tmp_path, case(edited, KEY.fingerprint), first=first)
    assert told[0][0] == "changed"


@pytest.mark.parametrize("first", WAYS)
def test_the_key_of_the_standard_is_taken(first, tmp_path):
    """RFC 8032, section 7.1, test 1: by its seed signed here, by its public key verified there."""
    seed = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"
    public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
    key = BenchKey(Ed25519PrivateKey.from_private_bytes(bytes.fromhex(seed)))
    told, _ = asked(tmp_path, case(signed_page(key, key), public), first=first)
    assert told[0][0] == "whole"


def test_hostile_particulars_do_nothing(tmp_path):
    """What a forger writes into a report's mark is shown as text, cut, or not at all."""
    for said in ({"unit": "<img src=x onerror=alert(1)>" * 50}, [1], "x", {"unit": {"a": 1}}):
        mark = base64.urlsafe_b64encode(json.dumps(said).encode()).rstrip(b"=")
        content = sign_file(f"{HOLE} soak-report:{mark.decode()}".encode(), FORGER)
        told, _ = asked(tmp_path, case(content, FORGER.fingerprint))
        assert told[0][0] == "whole"
        assert len(told[0][1]) < 2000


@pytest.mark.parametrize("language", codes())
@pytest.mark.parametrize("width", [390, 1280])
def test_axe_finds_nothing(language, width, tmp_path):
    """No violation of any rule of axe-core, with every outcome shown at once."""
    from browser import LEAVE, elements, result_of, with_script

    script = (
        f"{axe_file().read_text(encoding='utf-8')};{LEAVE}"
        "document.querySelectorAll('[hidden]').forEach(one => { if (one.id !== 'grades') one.hidden"
        " = false; });"
        "document.querySelectorAll('dd').forEach(one => { one.textContent = 'x'; });"
        "axe.run().then(found => put([found.passes.length, found.violations.map(one =>"
        " [one.id, one.nodes.length, one.nodes[0].html.slice(0, 200)])]))"
    )
    seen = elements(tmp_path, with_script(checker(language), script), width)
    passed, violated = result_of(seen)
    assert violated == []
    assert passed > 10


def test_it_asks_for_nothing():
    """One file: no address of anything outside but in the verifier's own notice."""
    text = checker()
    assert re.findall(r'(?:src|href|action|data)="([^"]+)"', text) == []
    assert "default-src 'none'" in text
    assert "fetch(" not in text
    assert "import(" not in text
