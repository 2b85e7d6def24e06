"""What was typed wrong is withdrawn or corrected by a new entry; the old one stays where it is."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, insert, select

from soak.errors import LedgerError
from soak.ledger import jobs
from soak.ledger.amending.corrected import (
    BACK,
    CORRECTED,
    DEMAND_WITHDRAWN,
    HAZARD_SETTLED,
    JOB,
    PHOTOGRAPH,
    REPAIR,
    SOAK,
    SOLD,
    WIPING,
    WITHDRAWN,
    Corrections,
    UnitRow,
    facts,
)
from soak.ledger.amending.replay import Misfit, replay
from soak.ledger.amending.restated import amended
from soak.ledger.days import When, read_price
from soak.ledger.sales import check_hazard
from soak.ledger.schema import CORRECTIONS, ENTRIES
from soak.ledger.soaks import not_judged_any_more, soaks
from soak.ledger.units import check_serial, move, of_id, record, rows, told
from soak.names import named
from soak.words import NOTHING_SAID, Message, just, msg

NOTHING = "none"
"""Typed for a word that is to be empty: no hazard, no price, no serial."""

ADDED = "added"
CAN_BE_CORRECTED: Mapping[str, Sequence[str]] = {
    ADDED: ("serial", "on"),
    JOB: ("what", "on"),
    REPAIR: ("what", "function", "kind", "part", "batch", "on"),
    WIPING: ("how", "verified", "on"),
    SOLD: ("where", "price", "report", "on"),
    BACK: ("complaint", "hazard", "on"),
    HAZARD_SETTLED: ("found", "done", "on"),
    PHOTOGRAPH: ("what", "on"),
}
"""What can be typed anew, for each kind of entry; `added` is the one at which a unit came in."""

_MAY_BE_EMPTY = frozenset({"serial", "part", "batch", "report", "hazard", "price"})
_COLUMNS: Mapping[tuple[str, str], str] = {(JOB, "what"): "why"}


@dataclass(frozen=True, slots=True)
class Done:
    """What came of a correction.

    Attributes
    ----------
    entry, of : int
        The new entry, and the one that it names.
    what : str
        The kind of the old one.
    soak_id : str
        The newest soak of the current job, if it must be judged anew; else empty.
    """

    entry: int
    of: int
    what: str
    soak_id: str


def withdraw(
    connection: Connection, unit: UnitRow, number: int, *, why: str, by: str, when: When
) -> Done:
    """Withdraw an entry; to withdraw a withdrawal restores what it had withdrawn.

    Raises
    ------
    LedgerError
        If it is no entry of this unit that can be withdrawn, or what came after hangs on it.
    """
    entry = _entry(connection, unit, number)
    known = Corrections.read(connection)
    _refuse_withdrawn(unit, entry, known)
    _refuse_measured(entry)
    if entry.kind == JOB:
        _refuse_begun(connection, unit, entry)
    return _put(connection, unit, entry, known=known, said=(WITHDRAWN, why, by, when), new=None)


def correct(
    connection: Connection,
    unit: UnitRow,
    number: int,
    given: Mapping[str, str],
    *,
    on: When | None,
    why: str,
    by: str,
    when: When,
    anyway: bool,
) -> Done:
    """Put words of an entry in place of others.

    Parameters
    ----------
    given : mapping of str
        What is put in place, by the names of `CAN_BE_CORRECTED`; `none` leaves a word empty.
    on : When or None
        When it happened, if that was wrong.

    Raises
    ------
    LedgerError
        If it is no entry of this unit that can be corrected so, or what came after hangs on it.
    NeedsAnyway
        If a serial reads like that of another unit, unless `anyway`.
    """
    entry = _entry(connection, unit, number)
    known = Corrections.read(connection)
    _refuse_withdrawn(unit, entry, known)
    _refuse_measured(entry)
    root = _root(connection, entry, known)
    kind = ADDED if root.number == unit.first_entry else root.kind
    names = [*given, *(["on"] if on is not None else [])]
    _refuse_others(entry, kind, names)
    new = {_COLUMNS.get((kind, name), name): _read(name, text) for name, text in given.items()}
    if "serial" in new:
        others = [row for row in rows(connection) if row.id != unit.id]
        check_serial(str(new["serial"]), unit.model, others, anyway)
    if on is not None:
        at = on.at.isoformat(timespec="minutes") if on.at else None
        new |= {"day": on.day.isoformat(), "at": at}
        new |= {"bought": on.day.isoformat()} if kind == ADDED else {}
    return _put(connection, unit, entry, known=known, said=(CORRECTED, why, by, when), new=new)


def _put(
    connection: Connection,
    unit: UnitRow,
    entry: Row[Any],
    known: Corrections,
    said: tuple[str, str, str, When],
    new: Mapping[str, Any] | None,
) -> Done:
    """Record a correction; undone by its error if what stands then could not have been written."""
    kind, why, by, when = said
    if kind == WITHDRAWN:
        reason = told(why, msg("why it is withdrawn"))
        who = told(by, msg("who has withdrawn it"))
    else:
        reason = told(why, msg("why it is corrected"))
        who = told(by, msg("who has corrected it"))
    before = replay(connection, unit, known)
    number = record(connection, unit.id, kind, when=when, by=who)
    connection.execute(
        insert(CORRECTIONS).values(entry=number, of=entry.number, why=reason, new=new)
    )
    now = of_id(connection, unit.id)
    after = replay(connection, now, Corrections.read(connection))
    misfits = sorted(after.misfits - before.misfits, key=lambda misfit: (misfit.entry, misfit.why))
    if misfits:
        raise LedgerError(_hangs(unit, entry, kind, misfits[-1]))
    move(connection, now, after.state)
    return Done(number, entry.number, entry.kind, _to_judge_anew(connection, now, known, number))


def _to_judge_anew(connection: Connection, unit: UnitRow, known: Corrections, number: int) -> str:
    """Take back the grade of the current job's newest soak if it stood on what was corrected."""
    done = soaks(connection, job_id=jobs.current(connection, unit).job_id)
    soak_id = done[-1].soak_id if done else ""
    before, now = (
        (amended(connection, soak_id, corrections), _demands(connection, unit, corrections))
        for corrections in (known, None)
    )
    if before == now:
        return ""
    not_judged_any_more(
        connection, soak_id, msg("entry {entry} corrected what it stood on", entry=number)
    )
    return soak_id


def _demands(connection: Connection, unit: UnitRow, corrections: Corrections | None) -> list[str]:
    """Return the demands that are withdrawn."""
    withdrawn = facts(connection, DEMAND_WITHDRAWN, unit=unit, corrections=corrections)
    return [f"{fact['soak_id']} {fact['demand']}" for fact in withdrawn]


def _hangs(unit: UnitRow, entry: Row[Any], kind: str, misfit: Misfit) -> Message:
    done = msg(
        "entry {number} ({kind}) of {tag} cannot be {done}",
        number=entry.number,
        kind=named(entry.kind),
        tag=unit.tag,
        done=named(kind),
    )
    by = msg(
        "entry {entry} ({kind}) would not fit: {why}",
        entry=misfit.entry,
        kind=named(misfit.kind),
        why=misfit.why,
    )
    if misfit.kind == SOAK:
        return msg("{done}: {by}, and what was measured stays", done=done, by=by)
    if misfit.entry == entry.number:
        return msg("{done} so: {why}", done=done, why=misfit.why)
    return msg(
        "{done}: {by}; withdraw that one first: soak unit withdraw {tag} {entry}",
        done=done,
        by=by,
        tag=unit.tag,
        entry=misfit.entry,
    )


def _entry(connection: Connection, unit: UnitRow, number: int) -> Row[Any]:
    row = connection.execute(select(ENTRIES).where(ENTRIES.c.number == number)).one_or_none()
    if row is None or row.unit_id != unit.id:
        of = (
            NOTHING_SAID
            if row is None
            else msg("; it is one of {tag}", tag=of_id(connection, row.unit_id).tag)
        )
        raise LedgerError(
            msg(
                "{tag} has no entry {number}{of}; soak unit show {tag} numbers them",
                tag=unit.tag,
                number=number,
                of=of,
            )
        )
    return row


def _root(connection: Connection, entry: Row[Any], known: Corrections) -> Row[Any]:
    """Return the entry that a correction of a correction speaks of in the end."""
    if entry.kind == WITHDRAWN:
        raise LedgerError(
            msg(
                "entry {number} withdraws another; to restore that, withdraw this one",
                number=entry.number,
            )
        )
    if entry.kind != CORRECTED:
        return entry
    of = next(correction.of for correction in known.all if correction.entry == entry.number)
    return _root(connection, connection.execute(_numbered(of)).one(), known)


def _numbered(number: int) -> Any:
    return select(ENTRIES).where(ENTRIES.c.number == number)


def _refuse_withdrawn(unit: UnitRow, entry: Row[Any], known: Corrections) -> None:
    by = known.withdrawal(entry.number)
    if by is not None:
        raise LedgerError(
            msg(
                "entry {number} is withdrawn already (entry {entry}: {why}); to restore it: "
                "soak unit withdraw {tag} {entry}",
                number=entry.number,
                entry=by.entry,
                why=by.why,
                tag=unit.tag,
            )
        )


def _refuse_measured(entry: Row[Any]) -> None:
    if entry.kind == SOAK:
        raise LedgerError(
            msg("entry {number} is a soak: what was measured stays as it is", number=entry.number)
        )


def _refuse_begun(connection: Connection, unit: UnitRow, entry: Row[Any]) -> None:
    """Refuse to withdraw a job that began with something else, which is what to withdraw."""
    if entry.number == unit.first_entry:
        raise LedgerError(
            msg(
                "with entry {number} {tag} came into the ledger; a wrong serial or day is "
                "corrected: soak unit correct {tag} {number} --serial",
                number=entry.number,
                tag=unit.tag,
            )
        )
    jobs_ever = facts(connection, JOB, unit=unit, withdrawn=True)
    began = next(fact["begun_by"] for fact in jobs_ever if fact.entry == entry.number)
    if began is not None:
        raise LedgerError(
            msg(
                "job entry {number} began with entry {began}; withdraw that one",
                number=entry.number,
                began=began,
            )
        )


def _refuse_others(entry: Row[Any], kind: str, names: Sequence[str]) -> None:
    possible = CAN_BE_CORRECTED.get(kind, ())
    if not possible:
        raise LedgerError(
            msg(
                "entry {number} ({kind}) can be withdrawn, and nothing in it changed",
                number=entry.number,
                kind=named(kind),
            )
        )
    listed = ", ".join(f"--{name}" for name in possible)
    if not names:
        raise LedgerError(
            msg(
                "what was wrong with entry {number}? give one of {listed}",
                number=entry.number,
                listed=listed,
            )
        )
    for name in names:
        if name not in possible:
            raise LedgerError(
                msg(
                    "entry {number} ({kind}) has no --{name}; what can be corrected is {listed}",
                    number=entry.number,
                    kind=named(kind),
                    name=name,
                    listed=listed,
                )
            )


def _read(name: str, text: str) -> str | None:
    """Return a word as the ledger keeps it."""
    if text.strip().lower() == NOTHING and name in _MAY_BE_EMPTY:
        return None if name == "price" else ""
    check = _CHECKS.get(name)
    if check is not None:
        check(text.strip())
    if name == "price":
        return str(read_price(text))
    return told(text, just(f"--{name}"))


_CHECKS: Mapping[str, Callable[[str], None]] = {"kind": jobs.check_kind, "hazard": check_hazard}
