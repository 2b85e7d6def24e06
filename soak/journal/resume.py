"""Going on after a crash, a power cut or a stop: a new session in the same journal."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Literal

from soak.clock import SoakClock, boot_id, boot_time_s
from soak.errors import JournalError
from soak.journal.evidence import open_evidence
from soak.journal.faults import writing_fault
from soak.journal.intake import canonical
from soak.journal.kept import put_aside
from soak.journal.ownership import Ownership
from soak.journal.reading import ReadsContents
from soak.journal.reserve import Reserve
from soak.journal.rows import Chain
from soak.journal.sealing import make_final
from soak.journal.store import KEPT, UNRECORDED, Store
from soak.journal.writer import Writer, undone_on_error
from soak.marks import ClockStepped, fact_as
from soak.records import Session
from soak.words import msg

GapFrom = Literal["first start", "boot clock", "wall clock", "unknown"]


def first_session(program: str, clock: SoakClock) -> Session:
    """Return the session with which a new soak begins at 0 s.

    That is when its clock began, which is before the instruments were opened and the journal made.
    """
    since_s = clock.now_s()
    return Session(
        number=1,
        program=program,
        boot_id="" if clock.leaping else boot_id(),
        utc=_rfc3339(clock.utc() - timedelta(seconds=since_s)),
        begins_at_s=0.0,
        gap_s=0.0,
        gap_from="first start",
        boot_s=None if clock.leaping else boot_time_s() - since_s,
    )


def plan_resume(
    evidence: ReadsContents, *, program: str, boot_id: str, boot_s: float | None, utc: datetime
) -> Session:
    """Work out the next session of a soak that was cut off.

    Parameters
    ----------
    boot_id, boot_s : str, float or None
        Identity of the host's present boot and its clock now, in s.
    utc : datetime
        Wall clock now.

    Returns
    -------
    Session
        Begins where the last record was, plus the time in which nobody looked: by the boot clock
        if this is the same boot, else by the wall clock, else unknown (and taken as nothing).

    Raises
    ------
    JournalError
        If the soak is sealed.
    """
    if evidence.seal is not None:
        raise JournalError(msg("this soak has ended and is sealed; begin a new one"))
    last = evidence.sessions()[-1]
    ends_s = evidence.ends_s
    gap_s, gap_from = _gap(evidence, last, ends_s, boot_id=boot_id, boot_s=boot_s, utc=utc)
    return Session(
        number=last.number + 1,
        program=program,
        boot_id=boot_id,
        utc=_rfc3339(utc),
        begins_at_s=ends_s + (gap_s or 0.0),
        gap_s=gap_s,
        gap_from=gap_from,
        boot_s=boot_s,
    )


def resume(folder: Path, session: Session, *, clock: SoakClock) -> Writer:
    """Open an unsealed journal for appending; the session is durable on return.

    Parameters
    ----------
    session : Session
        From `plan_resume`, on evidence that was read after the old writer ended.

    Raises
    ------
    JournalError
        If the journal is sealed, damaged, written by another process, or went on meanwhile.
    """
    ownership = Ownership(folder)
    with undone_on_error(ownership.release):
        evidence = open_evidence(folder)
        if evidence.seal is not None:
            raise JournalError(
                msg(
                    "{folder}: this soak has ended and is sealed; begin a new one",
                    folder=str(folder),
                )
            )
        if session.number != len(evidence.sessions()) + 1:
            raise JournalError(
                msg(
                    "{folder}: the soak went on meanwhile; plan its resumption again",
                    folder=str(folder),
                )
            )
        contents = evidence.contents()
        store = Store(folder, synced=not clock.leaping)
        with undone_on_error(store.close):
            if not clock.leaping:
                Reserve(folder).take()
            store.chain = Chain(evidence.header.quantities, contents.next_number, contents.link)
            store.write([canonical(session)])
            taken = frozenset(kept.name for kept in evidence.kept_files())
            _put_aside(folder, taken)
            return Writer(store, ownership, clock, taken)


def _put_aside(folder: Path, taken: frozenset[str]) -> None:
    try:
        put_aside(folder / KEPT, folder / UNRECORDED, taken)
    except OSError as fault:
        raise writing_fault(folder / UNRECORDED, fault) from None


def finish_sealing(folder: Path) -> str:
    """Finish a sealing that a crash cut short; return the SHA-256 of the file.

    Does nothing to a journal whose file is sealed already.

    Raises
    ------
    JournalError
        If the soak has not ended, or the journal is damaged, held by another process or cannot
        be written.
    """
    ownership = Ownership(folder)
    try:
        evidence = open_evidence(folder)
        if evidence.seal is None:
            raise JournalError(
                msg("{folder}: this soak has not ended; resume it", folder=str(folder))
            )
        if evidence.file_sha256:
            return evidence.file_sha256
        Reserve(folder).give_back()
        try:
            evidence.path.chmod(0o644)
        except OSError as fault:
            raise writing_fault(evidence.path, fault) from None
        Store(folder, synced=True).leave_wal()
        return make_final(evidence.path)
    finally:
        ownership.release()


def _gap(
    evidence: ReadsContents,
    last: Session,
    ends_s: float,
    boot_id: str,
    boot_s: float | None,
    utc: datetime,
) -> tuple[float | None, GapFrom]:
    """Return how long nobody looked, in s, and where that is known from."""
    ran_s = ends_s - last.begins_at_s
    if boot_id and boot_id == last.boot_id and boot_s is not None and last.boot_s is not None:
        gap_s = boot_s - (last.boot_s + ran_s)
        return (gap_s, "boot clock") if gap_s >= 0 else (None, "unknown")
    stepped_s = sum(
        fact_as(mark, ClockStepped).by_s
        for mark in evidence.marks(ClockStepped.mark)
        if mark.t_s >= last.begins_at_s
    )
    began = datetime.fromisoformat(last.utc)
    gap_s = (utc - began).total_seconds() - ran_s - stepped_s
    return (gap_s, "wall clock") if gap_s >= 0 else (None, "unknown")


def _rfc3339(utc: datetime) -> str:
    """Write a time as RFC 3339 does, to the millisecond."""
    return utc.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
