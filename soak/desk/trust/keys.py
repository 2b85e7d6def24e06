"""The bench's key: made with the bench, readable by its owner only, never in a report or in git."""

import os
import shutil
import subprocess
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from soak.desk.bench_card import own_language
from soak.errors import UsageError
from soak.outside import is_file, read_bytes, read_text
from soak.report.output.checker import checker
from soak.report.signing.sign import BenchKey, key_from_pem, new_key, typed_key
from soak.words import Message, joined, just, msg

KEY_FOLDER = "key"
_PRIVATE = "bench.key"
PRIVATE_KEY = f"{KEY_FOLDER}/{_PRIVATE}"
"""Its place in the bench's folder."""
_PUBLIC = "bench.pub"
_KNOWN = "known.keys"
"""Public keys of other benches, one a line: hexadecimal, then a name."""
_OWN = msg("this bench")
_GIVEN = msg("the key given")


@dataclass(frozen=True, slots=True)
class KnownKeys:
    """Keys whose owner is known.

    Attributes
    ----------
    names : mapping
        By the public key in hexadecimal, or by as much of it as a fingerprint holds.
    """

    names: Mapping[str, Message]

    def name_of(self, public: str) -> Message | None:
        """Return whose key it is; None if nobody knows."""
        names = (self.names[known] for known in self.names if public.startswith(known))
        return next(names, None)

    def whole_key(self, begins: str) -> str:
        """Return the public key that begins so; empty if no whole one does."""
        whole = (key for key in self.names if len(key) > len(begins) and key.startswith(begins))
        return next(whole, "")

    def is_own(self, public: str) -> bool:
        """Tell whether it is the key of the bench itself."""
        return self.name_of(public) == _OWN


def make_key(bench: Path, key: BenchKey | None = None) -> BenchKey:
    """Make the bench's key, where it has none; return the one it has.

    Git keeps nothing of its folder, wherever the bench's folder lies.

    Parameters
    ----------
    key : BenchKey or None
        The key to take; None: a new one.

    Raises
    ------
    UsageError
        If the folder cannot be written to, or the key that is there cannot be used.
    """
    folder = bench / KEY_FOLDER
    key = key or new_key()
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        ignored = folder / ".gitignore"
        if not ignored.exists():
            ignored.write_text("*\n", encoding="utf-8")
        handle = os.open(folder / _PRIVATE, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(key.pem())
            file.flush()
            os.fsync(file.fileno())
        (folder / _PUBLIC).write_text(key.public + "\n")
    except FileExistsError:
        return bench_key(bench) or key  # else another program is about to write its own
    except OSError as fault:
        raise UsageError(
            msg(
                "{folder}: the key cannot be kept: {why}",
                folder=str(folder),
                why=str(fault.strerror),
            )
        ) from None
    return key


def show_key(bench: Path) -> Message:
    """Say the fingerprint of the bench's key and where its files lie; make it where there is none.

    Raises
    ------
    UsageError
        As `make_key` and `bench_key`.
    """
    key = bench_key(bench) or make_key(bench)
    folder = bench / KEY_FOLDER
    return joined(
        "\n",
        [
            msg("fingerprint: {fingerprint}", fingerprint=key.fingerprint),
            msg(
                "Publish it where buyers know you from, such as your own site: a buyer who has it "
                "only from the message that brings a report learns nothing by it."
            ),
            msg("public: {file} (give it to whoever asks)", file=str(folder / _PUBLIC)),
            msg(
                "private: {file} (keep a copy in a safe place, show it to nobody)",
                file=str(folder / _PRIVATE),
            ),
        ],
    )


def write_checker(bench: Path, file: Path, language: str) -> Message:
    """Write the page with which buyers check a report; in the bench's language, else English.

    Raises
    ------
    UsageError
        If it cannot be written.
    """
    try:
        file.write_text(checker(language or own_language(bench) or "en"), encoding="utf-8")
    except OSError as fault:
        raise UsageError(
            msg("{file}: cannot be written: {why}", file=str(file), why=str(fault.strerror))
        ) from None
    return msg(
        "{file}: put it on your own site beside the fingerprint; it works offline", file=str(file)
    )


def bench_key(bench: Path) -> BenchKey | None:
    """Return the bench's key, or None if it has none.

    Raises
    ------
    UsageError
        If it cannot be read, others may read it, or git keeps it.
    """
    private = bench / KEY_FOLDER / _PRIVATE
    try:
        mode = private.stat().st_mode
        pem = read_bytes(private)
    except FileNotFoundError:
        return None
    except OSError as fault:
        raise UsageError(
            msg("{private}: cannot be read: {why}", private=str(private), why=str(fault.strerror))
        ) from None
    if os.name == "posix" and mode & 0o077:
        raise UsageError(
            msg("{private}: others may read it; do `chmod 600 {private}`", private=str(private))
        )
    if _is_tracked(private):
        raise UsageError(
            msg(
                "{private}: git tracks it, so whoever has the repository can sign as this bench: "
                "do `git rm --cached {private}`, and where anybody else may have the repository "
                "delete the key and make a new one with `soak key`",
                private=str(private),
            )
        )
    return key_from_pem(pem, str(private))


def _is_tracked(private: Path) -> bool:
    """Tell whether git keeps a file: whether it stands in the index of the work tree around it."""
    folder = private.resolve().parent
    git = shutil.which("git")
    if git is None or not any((above / ".git").exists() for above in (folder, *folder.parents)):
        return False
    # The work tree may be another user's: that is no reason not to look.
    asked = [git, "-c", "safe.directory=*", "ls-files", "--error-unmatch", "--", _PRIVATE]
    surroundings = {name: told for name, told in os.environ.items() if name[:4] != "GIT_"}
    done = subprocess.run(asked, cwd=folder, env=surroundings, capture_output=True, check=False)
    return done.returncode == 0


def known_keys(bench: Path, only: str = "") -> KnownKeys:
    """Return the public keys this bench knows, with a name for each.

    Parameters
    ----------
    only : str
        The one that is asked for: a public key or its fingerprint as it is printed, or a file that
        holds one; empty: all that are known.

    Raises
    ------
    UsageError
        If `only` is neither.
    """
    names: dict[str, Message] = {}
    others = bench / KEY_FOLDER / _KNOWN
    if others.is_file():
        for line in read_text(others).splitlines():
            key, _, name = line.strip().partition(" ")
            if key:
                names[key] = just(name) if name else msg("a known bench")
    own = bench / KEY_FOLDER / _PUBLIC
    if own.is_file():
        names[read_text(own).strip()] = _OWN
    if not only:
        return KnownKeys(names)
    asked = _given(only)
    whole = next((key for key in names if key.startswith(asked)), asked)
    return KnownKeys({whole: names.get(whole, _GIVEN)})


def _given(only: str) -> str:
    typed = typed_key(only)
    file = Path(only)
    if not typed and is_file(file):
        typed = typed_key(read_bytes(file).decode("utf-8", "replace"))
    if not typed:
        raise UsageError(
            msg(
                "--key {key}: is no key: write the fingerprint as it is printed, 8 groups of 4 "
                "digits 0 to 9 and a to f, or the 64 digits of the whole key, or its file",
                key=only,
            )
        )
    return typed
