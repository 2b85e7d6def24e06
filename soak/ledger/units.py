"""Units: adding one, finding one by what people type."""

import re
from collections.abc import Sequence
from datetime import date

from sqlalchemy import Connection, func, insert, select, update

from soak.errors import LedgerError
from soak.ledger.amending.corrected import JOB, UnitRow, facts, unit_rows
from soak.ledger.days import When
from soak.ledger.entries import NeedsAnyway, Unit
from soak.ledger.returning.likeness import likeness, one_unit, plain
from soak.ledger.schema import ENTRIES, UNITS
from soak.names import named
from soak.settings import nearest_name
from soak.words import NOTHING_SAID, Message, msg

_TAG = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,31}")


def add(
    connection: Connection, *, tag: str, serial: str, model: str, bought: date, anyway: bool
) -> tuple[int, str]:
    """Add a unit and return its id and tag; an empty tag becomes the next free `U` number.

    Raises
    ------
    LedgerError
        If the tag cannot be used or is taken, or the serial is in the ledger already.
    NeedsAnyway
        If the serial reads like one of the ledger.
    """
    if not model.strip():
        raise LedgerError(msg("the unit's model is missing; give it as its model sheet calls it"))
    known = rows(connection)
    tag = tag.strip() or _next_tag(known)
    _check_tag(tag, known)
    check_serial(serial, model, known, anyway)
    values = {"tag": tag, "serial": serial.strip(), "model": model.strip()}
    done = connection.execute(
        insert(UNITS).values(**values, bought=bought.isoformat(), state="on the bench")
    )
    return int(done.lastrowid), tag


def rows(connection: Connection) -> Sequence[UnitRow]:
    """Return all units as they stand, in the order they were added."""
    return unit_rows(connection)


def of_id(connection: Connection, unit_id: int) -> UnitRow:
    """Return the unit of an id that there is."""
    return next(row for row in rows(connection) if row.id == unit_id)


def of_job(connection: Connection, job_id: str) -> UnitRow | None:
    """Return the unit of a job, whether the job stands or not; None if there is no such job."""
    jobs = facts(connection, JOB, withdrawn=True)
    fact = next((job for job in jobs if job["job_id"] == job_id), None)
    return None if fact is None else of_id(connection, fact.unit_id)


def find(connection: Connection, text: str) -> UnitRow:
    """Find a unit by its tag, its serial, or the unique beginning of either.

    Case does not matter, nor do spaces and dashes in a serial. A whole tag comes before a whole
    serial, that before one that was mistyped once, and all before a beginning.

    Raises
    ------
    LedgerError
        If no unit, or more than one, is meant.
    """
    known = rows(connection)
    wanted = text.strip().lower()
    wanted_plain = plain(text)
    if not wanted:
        raise LedgerError(msg("which unit? give its tag or serial"))
    by_tag = [row for row in known if row.tag.lower() == wanted]
    by_serial = [row for row in known if wanted_plain and plain(row.serial) == wanted_plain]
    by_mistake = [row for row in known if mistyped(row, text)]
    by_beginning = [row for row in known if _begins(row, wanted, wanted_plain)]
    for candidate in (by_tag, by_serial, by_mistake, by_beginning):
        if len(candidate) == 1:
            return candidate[0]
        if candidate:
            listed = ", ".join(row.tag for row in candidate[:6])
            raise LedgerError(
                msg(
                    "{text} may be any of {listed}; type more of it, or a whole tag",
                    text=repr(text),
                    listed=listed,
                )
            )
    raise LedgerError(
        msg("the ledger has no unit {text}{known}", text=repr(text), known=_hint(known, text))
    )


def mistyped(row: UnitRow, text: str) -> Message:
    """Say that a unit was found by a serial that had been typed wrong; empty if it was not."""
    wanted = plain(text)
    if plain(row.serial) == wanted or row.tag.lower() == text.strip().lower():
        return NOTHING_SAID
    former = next((serial for serial in row.mistyped if wanted and plain(serial) == wanted), "")
    if not former:
        return NOTHING_SAID
    return msg(
        "{former} is a serial once recorded for {tag} by mistake; it is {now}",
        former=former,
        tag=row.tag,
        now=row.serial or msg("no serial"),
    )


def same_model(connection: Connection, unit: UnitRow) -> Sequence[UnitRow]:
    """Return the other units of the same model; spelling of case, spaces, dashes aside."""
    return [
        row
        for row in rows(connection)
        if row.id != unit.id and plain(row.model) == plain(unit.model)
    ]


def move(connection: Connection, unit: UnitRow, state: str) -> None:
    """Say where the unit is from now on."""
    connection.execute(update(UNITS).where(UNITS.c.id == unit.id).values(state=state))


def record(connection: Connection, unit_id: int, kind: str, when: When, by: str) -> int:
    """Put an event on a unit's card; return its number, under which its particulars go."""
    done = connection.execute(
        insert(ENTRIES).values(
            unit_id=unit_id,
            kind=kind,
            day=when.day.isoformat(),
            at=when.at.isoformat(timespec="minutes") if when.at else None,
            by=by.strip(),
            recorded_utc=when.recorded_utc,
        )
    )
    return int(done.lastrowid)


def last_recorded_utc(connection: Connection) -> str:
    """Return the latest time that any entry was made at, RFC 3339; empty if there is none."""
    return connection.scalar(select(func.max(ENTRIES.c.recorded_utc))) or ""


def entries_set_back(connection: Connection) -> frozenset[int]:
    """Return the entries that were recorded at an earlier time than one before them."""
    latest = ""
    entries = []
    for row in connection.execute(select(ENTRIES).order_by(ENTRIES.c.number)):
        if row.recorded_utc < latest:
            entries.append(row.number)
        latest = max(latest, row.recorded_utc)
    return frozenset(entries)


def as_unit(row: UnitRow) -> Unit:
    """Turn a row into what the ledger gives back."""
    bought = date.fromisoformat(row.bought) if row.bought else None
    return Unit(
        row.tag, row.serial, row.model, bought=bought, state=row.state, mistyped=row.mistyped
    )


def bought_on(row: UnitRow) -> When | None:
    """Return the day the unit was bought; None if not told."""
    return When(date.fromisoformat(row.bought)) if row.bought else None


def told(text: str, what: Message) -> str:
    """Return `text` without blanks around it.

    Raises
    ------
    LedgerError
        If nothing is left.
    """
    if not text.strip():
        raise LedgerError(msg("{what} is missing; say it in a few words", what=what))
    return text.strip()


def _next_tag(known: Sequence[UnitRow]) -> str:
    taken = {row.tag.upper() for row in known}
    return next(tag for n in range(1, len(known) + 2) if (tag := f"U{n}") not in taken)


def _check_tag(tag: str, known: Sequence[UnitRow]) -> None:
    if _TAG.fullmatch(tag) is None:
        raise LedgerError(
            msg(
                "the tag {tag} cannot be used; take up to 32 letters, digits, dots, dashes",
                tag=repr(tag),
            )
        )
    for row in known:
        if row.tag.lower() == tag.lower():
            raise LedgerError(
                msg(
                    "the tag {tag} is taken ({model}, {value})",
                    tag=tag,
                    model=row.model,
                    value=row.serial or msg("no serial"),
                )
            )
        if plain(tag) == plain(row.serial):
            raise LedgerError(
                msg(
                    "the tag {tag} is the serial of {other}; take another tag",
                    tag=tag,
                    other=row.tag,
                )
            )


def check_serial(serial: str, model: str, known: Sequence[UnitRow], anyway: bool) -> None:
    """Refuse a serial that one of the `known` units has.

    Raises
    ------
    LedgerError
        If it is the serial of a unit of that model, or another's tag.
    NeedsAnyway
        If it reads like that of another, unless `anyway`.
    """
    for row in known:
        how = likeness(serial, row.serial)
        if how == "the same serial" and plain(model) == plain(row.model):
            there = msg(
                "serial {serial} is in the ledger already as {tag}, {state}",
                serial=serial,
                tag=row.tag,
                state=named(row.state),
            )
            if row.state == "sold":
                there = msg(
                    "{there}; if it came back: soak unit back {tag}", there=there, tag=row.tag
                )
            raise LedgerError(there)
        if one_unit(serial, row.serial) and not anyway:
            raise NeedsAnyway(
                msg(
                    "serial {serial} reads like that of {tag} ({model}, {other_serial}); look "
                    "at both "
                    "labels, and insist if they are two units",
                    serial=serial,
                    tag=row.tag,
                    model=row.model,
                    other_serial=row.serial,
                )
            )
        if plain(serial) and plain(serial) == plain(row.tag):
            raise LedgerError(
                msg(
                    "serial {serial} is the tag of another unit ({model})",
                    serial=serial,
                    model=row.model,
                )
            )


def _begins(row: UnitRow, wanted: str, wanted_plain: str) -> bool:
    in_serial = bool(wanted_plain) and plain(row.serial).startswith(wanted_plain)
    return bool(row.tag.lower().startswith(wanted)) or in_serial


def _hint(known: Sequence[UnitRow], text: str) -> Message:
    if not known:
        return msg("; it is empty, add one with: soak unit add")
    alike = [row.tag for row in known if likeness(text, row.serial)]
    by_name = {name.upper(): row.tag for row in known for name in (row.tag, row.serial) if name}
    near = nearest_name(text.strip().upper(), list(by_name))
    nearest = alike[0] if alike else by_name.get(near, "")
    if nearest:
        return msg(" (did you mean {nearest}?)", nearest=nearest)
    return msg("; soak unit list shows them all")
