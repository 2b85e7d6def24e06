"""Contents: rows checked one by one and turned back into records and arrays."""

import math
from dataclasses import dataclass, field

import numpy as np

from soak.evidence import Floats
from soak.journal.rows import FIRST_LINK, READINGS, Columns, Damage, Row, link_after, record_of
from soak.marks import StretchBegins, StretchEnds
from soak.records import FORMAT, Header, KeptFile, Mark, Record, Seal, Session, State

_ENDS_OF_PIECES = (StretchBegins.mark, StretchEnds.mark)


@dataclass(slots=True)
class Part:
    """What one session wrote."""

    session: Session
    readings_before: int
    ends_s: float
    marks: list[Mark] = field(default_factory=list)


class Contents:
    """All that a journal says so far; `add` refuses a row that is not the next of the chain."""

    def __init__(self) -> None:
        self.header: Header | None = None
        self.seal: Seal | None = None
        self.parts: list[Part] = []
        self.states: list[State] = []
        self.kept_files: list[KeptFile] = []
        self.columns = Columns()
        self.next_number = 1
        self.link = FIRST_LINK
        self._series: dict[str, tuple[int, tuple[Floats, Floats]]] = {}

    def add(self, row: Row) -> None:
        """Take the next row.

        Raises
        ------
        Damage
            If the row is not the one that was written after the last.
        """
        first, holds, kind, body, link = row
        if not (type(first) is type(holds) is int and type(kind) is str and type(body) is bytes):
            raise Damage("a column holds the wrong kind of value")
        if first != self.next_number:
            raise Damage("it is missing")
        expected = link_after(self.link, first, holds, kind=kind, body=body)
        if link != expected:
            raise Damage("its check value does not fit")
        if self.seal is not None:
            raise Damage("it stands behind the seal")
        if kind == READINGS:
            if not self.parts:
                raise Damage("a reading stands before the first session")
            self.columns.add(row)
        elif holds == 1:
            self._take(record_of(row))
        else:
            raise Damage("it says that it holds several records")
        self.link = expected
        self.next_number = first + holds

    def check_readings(self) -> None:
        """Check the readings as a whole, which costs far less than one by one.

        Raises
        ------
        Damage
            If one is not finite or of a quantity that the header does not describe.
        """
        times, values, places = self.columns.arrays()
        known = len(self.header.quantities) if self.header else 0
        if len(places) and int(places.max()) >= known:
            raise Damage("a reading is of a quantity that the header does not describe")
        if not (np.isfinite(times).all() and np.isfinite(values).all()):
            raise Damage("a reading is not finite")

    def _take(self, record: Record) -> None:
        if isinstance(record, Header):
            if self.header is not None:
                raise Damage("it is a second header")
            if record.format != FORMAT:
                raise Damage(f"it is of format {record.format}")
            self.header = record
            return
        if self.header is None:
            raise Damage("it stands before the header")
        if isinstance(record, Session):
            self.parts.append(Part(record, len(self.columns), record.begins_at_s))
            return
        if not self.parts:
            raise Damage("it stands before the first session")
        self._observe(record)

    def _observe(self, record: Record) -> None:
        part = self.parts[-1]
        match record:
            case State():
                self.states.append(record)
            case Mark():
                part.marks.append(record)
            case KeptFile():
                self.kept_files.append(record)
            case Seal():
                self.seal = record
            case _:
                raise Damage("it does not belong here")
        part.ends_s = max(part.ends_s, record.t_s)

    def part_ends_s(self, place: int) -> float:
        """Return the soak time in s of the last record of a session."""
        part = self.parts[place]
        end = (
            self.parts[place + 1].readings_before
            if place + 1 < len(self.parts)
            else len(self.columns)
        )
        times = self.columns.arrays()[0][part.readings_before : end]
        return max(part.ends_s, float(times.max())) if len(times) else part.ends_s

    def series(self, quantity: str) -> tuple[Floats, Floats]:
        """Return times in s and values of a quantity in order of time; read-only arrays."""
        cached = self._series.get(quantity)
        if cached is not None and cached[0] == len(self.columns):
            return cached[1]
        pair = self._gather(quantity)
        for column in pair:
            column.flags.writeable = False
        self._series[quantity] = (len(self.columns), pair)
        return pair

    def _gather(self, quantity: str) -> tuple[Floats, Floats]:
        names = [entry.name for entry in self.header.quantities] if self.header else []
        if quantity not in names:
            return np.empty(0), np.empty(0)
        times, values, places = self.columns.arrays()
        chosen = np.flatnonzero(places == names.index(quantity))
        times = times[chosen]
        values = values[chosen]
        if np.any(times[1:] < times[:-1]):
            order = np.argsort(times, kind="stable")
            times = times[order]
            values = values[order]
        return times, values

    def windows(self, stretch: str) -> list[tuple[float, float]]:
        """Return begin and end in s of each piece of a stretch."""
        pieces: list[tuple[float, float]] = []
        for place, part in enumerate(self.parts):
            begins_s = math.nan
            for mark in part.marks:
                if mark.stretch != stretch or mark.what not in (
                    StretchBegins.mark,
                    StretchEnds.mark,
                ):
                    continue
                if not math.isnan(begins_s):
                    pieces.append((begins_s, mark.t_s))
                begins_s = mark.t_s if mark.what == StretchBegins.mark else math.nan
            if not math.isnan(begins_s):
                pieces.append((begins_s, self.part_ends_s(place)))
        return pieces
