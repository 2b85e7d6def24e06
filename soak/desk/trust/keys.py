"""The bench's key: made once, kept readable by its owner only, never in a report."""

import os
from pathlib import Path

from soak.errors import UsageError
from soak.outside import is_file, read_bytes, read_text
from soak.report.signing.sign import BenchKey, key_from_pem, new_key, short_key
from soak.words import msg

KEY_FOLDER = "key"
_PRIVATE = "bench.key"
_PUBLIC = "bench.pub"
_KNOWN = "known.keys"
"""Public keys of other benches, one a line: hexadecimal, then a name."""


def make_key(bench: Path) -> str:
    """Make the bench's key.

    Raises
    ------
    UsageError
        If there is one already, or the folder cannot be written to.
    """
    folder = bench / KEY_FOLDER
    private = folder / _PRIVATE
    if private.exists():
        raise UsageError(
            msg(
                "{private}: there is a key already; reports signed by it need it kept",
                private=str(private),
            )
        )
    key = new_key()
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle = os.open(private, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(key.pem())
            file.flush()
            os.fsync(file.fileno())
        (folder / _PUBLIC).write_text(key.public + "\n")
    except OSError as fault:
        raise UsageError(
            msg(
                "{folder}: the key cannot be kept: {why}",
                folder=str(folder),
                why=str(fault.strerror),
            )
        ) from None
    return (
        f"key made: {short_key(key.public)}\n"
        f"public: {folder / _PUBLIC} (give it to buyers)\n"
        f"private: {private} (keep a copy in a safe place, show it to nobody)"
    )


def bench_key(bench: Path) -> BenchKey | None:
    """Return the bench's key, or None if it has none.

    Raises
    ------
    UsageError
        If it cannot be read, or others may read it.
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
    return key_from_pem(pem, str(private))


def known_keys(bench: Path, more: str = "") -> dict[str, str]:
    """Return the public keys this bench knows, hexadecimal, with a name for each.

    Parameters
    ----------
    more : str
        A public key in hexadecimal, or a file that holds one.

    Raises
    ------
    UsageError
        If `more` is neither.
    """
    keys: dict[str, str] = {}
    own = bench / KEY_FOLDER / _PUBLIC
    if own.is_file():
        keys[read_text(own).strip()] = "this bench"
    others = bench / KEY_FOLDER / _KNOWN
    if others.is_file():
        for line in read_text(others).splitlines():
            key, _, name = line.strip().partition(" ")
            if key:
                keys[key] = name or "a known bench"
    if more:
        keys[_given(more)] = "the key given"
    return keys


def _given(more: str) -> str:
    file = Path(more)
    text = read_bytes(file).decode("utf-8", "replace") if is_file(file) else more
    key = text.strip().replace(" ", "").lower()
    if len(key) != 64 or any(sign not in "0123456789abcdef" for sign in key):
        raise UsageError(
            msg("--key {more}: is no public key (64 hexadecimal digits, or its file)", more=more)
        )
    return key
