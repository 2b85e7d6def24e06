"""A table of lives as the operator keeps it: ages at failure, ages under watch from the ledger."""

import csv
import io
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from soak.desk.bench_folder import BenchFolder
from soak.errors import UsageError, told_of
from soak.judge.explain.life import Life
from soak.ledger.ledger import Ledger
from soak.outside import read_text
from soak.words import Message, Number, joined, msg

_COLUMNS = ("unit", "hours", "failed")


@dataclass(slots=True)
class History:
    """What is on record of one unit.

    Attributes
    ----------
    failures : list of float
        Ages at failure, h.
    end_h : float
        Age up to which it was followed, h.
    entry_h : float or None
        Age from which on a failure would have been in the table, h; None if nobody says.
    """

    failures: list[float] = field(default_factory=list)
    end_h: float = 0.0
    entry_h: float | None = None

    def life(self) -> Life:
        """Return its life to the first failure."""
        first = min(self.failures, default=self.end_h)
        return Life(first, bool(self.failures), self.entry_h or 0.0)


@dataclass(frozen=True, slots=True)
class LifeTable:
    """The histories by group and unit, and in words from where they were watched."""

    groups: Mapping[str, Mapping[str, History]]
    watched: Message

    @property
    def units(self) -> dict[str, History]:
        """Return the histories of all groups by unit."""
        return {unit: history for group in self.groups.values() for unit, history in group.items()}

    def lives(self) -> list[Life]:
        """Return each unit's life to its first failure."""
        return [unit.life() for unit in self.units.values()]


def read_life_table(file: str, bench: Path | None) -> LifeTable:
    """Read a table; ages at entry that it lacks come from the ledger where that knows them.

    Raises
    ------
    UsageError
        If the table cannot be read or a row is impossible.
    """
    path = Path(file)
    groups: dict[str, dict[str, History]] = defaultdict(dict)
    for number, row in enumerate(_rows(path), 2):
        try:
            _take(groups[(row.get("group") or "").strip()], row)
        except ValueError as fault:
            raise UsageError(
                msg(
                    "{path}: line {number}: {why}",
                    path=str(path),
                    number=number,
                    why=told_of(fault),
                )
            ) from None
    units = {name: history for group in groups.values() for name, history in group.items()}
    for name, one in units.items():
        if one.entry_h is not None and one.entry_h >= min(one.failures, default=one.end_h):
            raise UsageError(
                msg(
                    "{path}: unit {name}: came under watch at {hours} h, which is not before its "
                    "failure or end",
                    path=str(path),
                    name=name,
                    hours=Number(one.entry_h, "g"),
                )
            )
    return LifeTable(groups, _entries(units, bench))


def _rows(path: Path) -> list[dict[str, str]]:
    try:
        rows = list(csv.DictReader(io.StringIO(read_text(path), newline="")))
    except OSError as fault:
        raise UsageError(
            msg("{path}: cannot be read: {why}", path=str(path), why=str(fault.strerror))
        ) from None
    except UnicodeDecodeError:
        raise UsageError(
            msg("{path}: is not UTF-8 text; save it as UTF-8", path=str(path))
        ) from None
    except csv.Error as fault:  # a cell of more than 131 072 signs, a NUL
        raise UsageError(
            msg("{path}: is no table: {why}", path=str(path), why=str(fault))
        ) from None
    missing = [name for name in _COLUMNS if not rows or name not in rows[0]]
    if missing:
        raise UsageError(
            msg(
                "{path}: has no column {column}; it needs {columns} and may have entry, group",
                path=str(path),
                column=missing[0],
                columns=joined(", ", _COLUMNS),
            )
        )
    return rows


def _take(units: dict[str, History], row: Mapping[str, str]) -> None:
    """Take a row; ValueError says what is wrong with it."""
    hours = _number("hours", row["hours"])
    if hours <= 0:
        raise ValueError(msg("{name} is a positive number", name="hours"))
    if row["failed"] not in ("0", "1"):
        raise ValueError(
            msg(
                "failed is {value}; write 1 where it failed, 0 where it still worked",
                value=repr(row["failed"]),
            )
        )
    history = units.setdefault(row["unit"], History())
    history.end_h = max(history.end_h, hours)
    if row["failed"] == "1":
        history.failures.append(hours)
    entry = (row.get("entry") or "").strip()
    if entry:
        entry_h = _number("entry", entry)
        if entry_h < 0:
            raise ValueError(msg("{name} is a number from 0 up", name="entry"))
        if history.entry_h is not None and history.entry_h != entry_h:
            raise ValueError(
                msg(
                    "entry is {here} h here and {before} h further up",
                    here=Number(entry_h, "g"),
                    before=Number(history.entry_h, "g"),
                )
            )
        history.entry_h = entry_h


def _number(name: str, text: str) -> float:
    try:
        number = float(text)
    except (TypeError, ValueError):
        raise ValueError(msg("{name} {text} is no number", name=name, text=repr(text))) from None
    if not math.isfinite(number):
        raise ValueError(msg("{name} is a positive number", name=name))
    return number


def _entries(units: Mapping[str, History], bench: Path | None) -> Message:
    """Fill in ages at entry that are not told; return where they come from, in words.

    Soak hours before a sale are ages at entry only where the table holds sold units alone. If it
    also holds one that failed on the bench, all were watched from their first hour on.
    """
    lacking = {name: history for name, history in units.items() if history.entry_h is None}
    if not lacking:
        return msg("Ages at entry as the table says.")
    known = _soaked_before_sale_h(bench, lacking) if bench is not None else {}
    sold = all(
        name in known and known[name] < min(one.failures, default=one.end_h)
        for name, one in lacking.items()
    )
    for name, one in lacking.items():
        one.entry_h = known[name] if sold else 0.0
    if sold:
        return msg(
            "Age at entry of {units} units by the ledger: hours of soak before the sale.",
            units=len(lacking),
        )
    if known or len(lacking) < len(units):
        return msg(
            "{units} units are taken as watched from their first hour on: the table gives no age "
            "at entry, and they are not all units that were sold first.",
            units=len(lacking),
        )
    return msg(
        "Each unit is taken as watched from its first hour on. If the table holds sold units only, "
        "none could fail in its soak: add a column entry, the hours of soak before the sale, or "
        "the shape comes out too high."
    )


def _soaked_before_sale_h(bench: Path, names: Iterable[str]) -> dict[str, float]:
    """Return hours under power in the soaks of a unit's job before its first sale, by its name."""
    file = BenchFolder(bench).ledger
    if not file.is_file():
        return {}
    ledger = Ledger(file)
    wanted = set(names)
    hours: dict[str, float] = {}
    for unit in ledger.list_units():
        called = wanted & {unit.tag, unit.serial}
        sales = [
            line
            for line in (ledger.unit_card(unit.tag).lines if called else ())
            if line.kind == "sold" and not line.withdrawn
        ]
        if not sales:
            continue
        first = min(sales, key=lambda line: line.entry)
        powered_s = sum(
            line.wear.powered_s
            for line in ledger.soaks(unit.tag)
            if line.job_id == first.detail["job_id"] and line.entry < first.entry
        )
        hours |= dict.fromkeys(called, powered_s / 3600)
    return hours
