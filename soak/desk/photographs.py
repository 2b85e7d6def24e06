"""Photographs of a unit: copied into the bench's folder, on record with their hash."""

import hashlib
from pathlib import Path

from soak.desk.units import open_ledger, with_clock
from soak.errors import UsageError
from soak.words import Message, joined, msg

_KINDS = {b"\xff\xd8\xff": ".jpg", b"\x89PNG\r\n\x1a\n": ".png"}


def photograph(bench: Path, unit: str, name: str, *, what: str, by: str, on: str) -> Message:
    """Keep a photograph of a unit.

    Raises
    ------
    UsageError
        If the file cannot be read or is no JPEG or PNG, or cannot be kept.
    LedgerError
        If the unit is unknown or the day impossible.
    """
    source = Path(name)
    try:
        content = source.read_bytes()
    except OSError as fault:
        raise UsageError(
            msg("{source}: cannot be read: {why}", source=str(source), why=str(fault.strerror))
        ) from None
    ending = next((end for magic, end in _KINDS.items() if content.startswith(magic)), "")
    if not ending:
        raise UsageError(
            msg(
                "{source}: is neither JPEG nor PNG; save the photograph as one of them",
                source=str(source),
            )
        )
    ledger = open_ledger(bench)
    tag = ledger.find_unit(unit).tag
    digest = hashlib.sha256(content).hexdigest()
    kept = bench / "photographs" / tag / f"{digest[:16]}{ending}"
    try:
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_bytes(content)
    except OSError as fault:
        raise UsageError(
            msg("{kept}: cannot be written: {why}", kept=str(kept), why=str(fault.strerror))
        ) from None
    inside = kept.relative_to(bench).as_posix()
    seal = ledger.photograph(tag, what=what, file=inside, sha256=digest, by=by, on=on)
    photo = joined(": ", [tag, what, inside])
    tied = msg("{photo}; no sealed soak to tie it to", photo=photo)
    if seal:
        tied = msg("{photo}, tied to the seal {seal}", photo=photo, seal=seal[:16])
    return with_clock(ledger, tied)
