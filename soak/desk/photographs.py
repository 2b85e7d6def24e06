"""Photographs of a unit: copied into the bench's folder, on record with their hash."""

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path, PurePosixPath

from soak.desk.trust.belongings import PHOTOGRAPHS, photograph_of
from soak.desk.units import open_ledger, with_clock
from soak.errors import FixtureError, UsageError
from soak.journal.durable import sync_folder, write_durable
from soak.journal.kept import NotAsRecorded
from soak.ledger.entries import Photograph
from soak.ledger.ledger import Ledger
from soak.live.prompt import read_photograph
from soak.report.contents.context import Photographed
from soak.settings import nearest_name
from soak.words import NOTHING_SAID, Message, joined, msg


def photograph(bench: Path, unit: str, name: str, *, what: str, by: str, on: str) -> Message:
    """Keep a photograph of a unit: upright, without its notes, durable before it is on record.

    Raises
    ------
    UsageError
        If the file cannot be read or is no whole JPEG or PNG, or cannot be kept.
    LedgerError
        If the unit is unknown, what it shows is not told, or the day impossible.
    """
    ledger = open_ledger(bench)
    tag = ledger.find_unit(unit).tag
    content = read_photograph(Path(name))
    digest = hashlib.sha256(content).hexdigest()
    inside = f"{PHOTOGRAPHS}/{tag}/{digest}.jpg"
    is_new = not (bench / inside).exists()
    _keep(bench / inside, content)
    try:
        seal = ledger.photograph(tag, what=what, file=inside, sha256=digest, by=by, on=on)
    except BaseException:
        if is_new:
            (bench / inside).unlink(missing_ok=True)
        raise
    photo = joined(": ", [tag, what, inside])
    tied = msg("{photo}; no sealed soak to tie it to", photo=photo)
    if seal:
        tied = msg("{photo}, tied to the seal {seal}", photo=photo, seal=seal[:16])
    return with_clock(ledger, tied)


def _keep(kept: Path, content: bytes) -> None:
    """Write a photograph so that a power cut leaves it whole, and its folders with it."""
    try:
        for folder in (kept.parent.parent, kept.parent):
            if folder.is_symlink():
                raise NotADirectoryError(0, "it is a link")
            if not folder.is_dir():
                folder.mkdir(parents=True)
                sync_folder(folder.parent)
        write_durable(kept, content)
    except OSError as fault:
        raise UsageError(
            msg("{kept}: cannot be written: {why}", kept=str(kept), why=str(fault.strerror))
        ) from None


def shown(
    bench: Path, ledger: Ledger, tag: str, wanted: Sequence[str], details: Path
) -> list[Photographed]:
    """Return the photographs that a job's pages show, read anew and held to their hash.

    Parameters
    ----------
    wanted : sequence of str
        What they show, as it was recorded; of several that show the same, the newest.
    details : Path
        The file that names them.

    Raises
    ------
    FixtureError
        If no photograph that counts shows that.
    """
    newest = {one.what.lower(): one for one in ledger.photographs(tag) if not one.withdrawn}
    soaks = {line.seal: line.soak_id for line in ledger.soaks(tag) if line.seal}
    return [
        _shown(bench, _named(newest, name, place, tag, details), soaks)
        for place, name in enumerate(wanted)
    ]


def _named(
    newest: Mapping[str, Photograph], name: str, place: int, tag: str, details: Path
) -> Photograph:
    photograph = newest.get(name.strip().lower())
    if photograph is None:
        known = [one.what for one in newest.values()]
        what = msg(
            "no photograph of {tag} shows {name}; there is {known}",
            tag=tag,
            name=repr(name),
            known=joined(", ", known) if known else msg("none yet"),
        )
        nearest = nearest_name(name, known)
        raise FixtureError(str(details), f"photographs[{place}]", what, nearest)
    return photograph


def _shown(bench: Path, photograph: Photograph, soaks: Mapping[str, str]) -> Photographed:
    content, problem = b"", NOTHING_SAID
    try:
        content = photograph_of(bench, photograph)
    except NotAsRecorded as fault:
        problem = fault.what
    if PurePosixPath(photograph.file).stem != photograph.sha256:
        content = b""
        problem = msg(
            "was kept with whatever a telephone noted in it; keep it again with `soak unit photo`"
        )
    return Photographed(
        what=photograph.what,
        on=photograph.on.isoformat(),
        sha256=photograph.sha256,
        after_soak=soaks.get(photograph.seal, ""),
        content=content,
        problem=problem,
    )
