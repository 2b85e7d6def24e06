"""Which files belong to a soak or a unit, by which hash, and whether they are still those."""

from collections.abc import Mapping, Sequence
from pathlib import Path, PurePosixPath

from soak.desk.bench_folder import BenchFolder
from soak.errors import JournalError
from soak.journal import JournalEvidence, open_evidence
from soak.journal.kept import (
    CHANGED,
    GONE,
    NOT_NAMED,
    Fault,
    Named,
    NotAsRecorded,
    content_of,
    faults,
    is_plain_name,
    not_named,
)
from soak.journal.store import KEPT
from soak.ledger.entries import Photograph
from soak.run.guard.log import FILE as GUARD_LOG
from soak.run.guard.log import check_log
from soak.words import NOTHING_SAID, Message, counted, joined, msg

PHOTOGRAPHS = "photographs"
"""Folder of the units' photographs, a folder a unit."""
_LINES = 12
"""So many files are told one by one. Our own choice: they fit on a screen."""


def opened(bench: BenchFolder, folder: Path) -> JournalEvidence:
    """Open a soak's journal; among the bench's reports it has to be the one of its folder.

    Raises
    ------
    JournalError
        If it is another's, or cannot be opened.
    """
    evidence = open_evidence(folder)
    own = evidence.header.soak_id
    if own != folder.name and folder.absolute().parent == bench.reports.absolute():
        raise JournalError(
            msg(
                "{folder}: holds the journal of soak {own}; put its own back, from a copy that is "
                "whole",
                folder=str(folder),
                own=own,
            )
        )
    return evidence


def soak_faults(evidence: JournalEvidence) -> list[Fault]:
    """Return what beside a soak's journal is not as the journal recorded it: kept files, log.

    Raises
    ------
    JournalError
        If the journal itself cannot be read.
    """
    named = [Named(kept.name, kept.sha256) for kept in evidence.kept_files()]
    folder = evidence.path.parent
    wrong = faults(folder / KEPT, named, alone=evidence.seal is not None)
    return [*wrong, *_guard_log_fault(evidence)]


def copied_faults(evidence: JournalEvidence, hashes: Mapping[str, str]) -> list[Fault]:
    """Return the same of a copy whose files were hashed already.

    Parameters
    ----------
    hashes : mapping of str to str
        The SHA-256 of each file in the copied folder of kept files, by its name.
    """
    named = {kept.name: kept.sha256 for kept in evidence.kept_files()}
    gone = [Fault(name, GONE) for name in named if name not in hashes]
    other = [Fault(name, CHANGED) for name in named if hashes.get(name, named[name]) != named[name]]
    added = [Fault(name, NOT_NAMED) for name in hashes if name not in named]
    wrong = sorted([*gone, *other, *added], key=lambda fault: fault.name)
    return [*wrong, *_guard_log_fault(evidence)]


def photograph_of(bench: Path, photograph: Photograph) -> bytes:
    """Return a photograph's content.

    Raises
    ------
    NotAsRecorded
        If it is not what the ledger recorded.
    """
    inside = PurePosixPath(photograph.file)
    parts = inside.parts
    if len(parts) != 3 or parts[0] != PHOTOGRAPHS or not all(map(is_plain_name, parts)):
        raise NotAsRecorded(photograph.file, msg("is no place for a photograph"))
    file = bench / inside
    if file.parent.is_symlink() or file.parent.parent.is_symlink():
        raise NotAsRecorded(photograph.file, msg("lies behind a link, not in the bench's folder"))
    return content_of(file, photograph.sha256)


def photograph_faults(bench: Path, tag: str, photographs: Sequence[Photograph]) -> list[Fault]:
    """Return what among a unit's photographs is not as the ledger recorded it."""
    wrong = []
    for photograph in photographs:
        try:
            photograph_of(bench, photograph)
        except NotAsRecorded as fault:
            wrong.append(Fault(photograph.file, fault.what))
    names = {PurePosixPath(photograph.file).name for photograph in photographs}
    return wrong + [
        Fault(f"{PHOTOGRAPHS}/{tag}/{name}", NOT_NAMED)
        for name in not_named(bench / PHOTOGRAPHS / tag, names)
    ]


def told_of_soak(soak_id: str, wrong: Sequence[Fault]) -> Message:
    """Say on a page that what a soak kept is not what was recorded; at least one fault."""
    return counted(
        len(wrong),
        "1 file kept as evidence of soak {soak} is not what was recorded: {file}",
        "{count} files kept as evidence of soak {soak} are not what was recorded, such as: {file}",
        soak=soak_id,
        file=wrong[0].told,
    )


def minds(of: str, wrong: Sequence[Fault]) -> list[Message]:
    """Return the lines for an operator about what is not as it was recorded; the first few.

    Parameters
    ----------
    of : str
        The soak or unit; empty where that was said.
    """
    lines = [
        msg("MIND: {what}", what=joined(": ", [of or None, fault.told])) for fault in wrong[:_LINES]
    ]
    more = counted(
        len(wrong) - len(lines), "MIND: and 1 more", "MIND: and {count} more", none=NOTHING_SAID
    )
    return [*lines, more] if more else lines


def _guard_log_fault(evidence: JournalEvidence) -> list[Fault]:
    if evidence.seal is None:
        return []
    try:
        check_log(evidence.path.parent, evidence.seal.guard_log)
    except NotAsRecorded as fault:
        return [Fault(GUARD_LOG, fault.what)]
    except JournalError:
        return [Fault(GUARD_LOG, msg("is not the guard's log that was recorded"))]
    return []
