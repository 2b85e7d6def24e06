"""Rows: how records are laid out and chained, the same in a file and in memory.

A row holds one record as canonical JSON, or a run of readings as plain numbers. Each row's link
is the SHA-256 of the row before it and of what it says, so that no row can be changed, dropped,
added or moved without all later links telling.
"""

import hashlib
import json
from collections.abc import Iterable
from itertools import groupby
from typing import NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from soak.quantities import Quantity
from soak.records import Reading, Record, canonical_json, from_json, kind_of, to_json

READINGS = "readings"
"""Kind of a row that holds a run of readings."""

READING_BYTES = 18
"""A reading in a row: time and value as 64-bit floats, quantity as a 16-bit index."""

FIRST_LINK = bytes(32)
"""What stands in place of the link before the first row."""


class Row(NamedTuple):
    """One row; `first` is the number of its first record, `holds` how many records."""

    first: int
    holds: int
    kind: str
    body: bytes
    link: bytes


class Event(NamedTuple):
    """A record other than a reading, already in canonical form, and the file that goes with it."""

    kind: str
    body: bytes
    file_name: str = ""
    file_data: bytes = b""


Entry = Reading | Event
"""What waits to be written."""


class Damage(Exception):
    """Say that a row is not what was written. Caught where the file's name is known."""


def event_of(record: Record) -> Event:
    """Turn a record into its canonical form.

    Raises
    ------
    ValueError
        If it holds something that is not plain JSON.
    """
    return Event(kind_of(record), canonical_json(to_json(record)))


def link_after(link: bytes, first: int, holds: int, kind: str, body: bytes) -> bytes:
    """Return the link of a row that follows a row with `link`.

    References
    ----------
    FIPS 180-4, Secure Hash Standard (SHA-256).
    """
    said = b"%b%b %d %d\n%b" % (link, kind.encode(), first, holds, body)
    return hashlib.sha256(said).digest()


class Chain:
    """Turns entries into linked rows.

    Parameters
    ----------
    quantities : iterable of Quantity
        Those of the header; a reading is stored with its quantity's position there.
    next_number : int
        Number of the next record.
    link : bytes
        Link of the last row so far.
    """

    def __init__(
        self, quantities: Iterable[Quantity], next_number: int = 1, link: bytes = FIRST_LINK
    ) -> None:
        self.index = {quantity.name: place for place, quantity in enumerate(quantities)}
        self.next_number = next_number
        self.link = link

    def rows(self, entries: Iterable[Entry]) -> list[Row]:
        """Return the rows of these entries, in order."""
        rows: list[Row] = []
        for is_reading, run in groupby(entries, lambda entry: isinstance(entry, Reading)):
            if is_reading:
                readings = cast(list[Reading], list(run))
                rows.append(self._row(len(readings), READINGS, self._packed(readings)))
            else:
                rows.extend(
                    self._row(1, event.kind, event.body) for event in cast("list[Event]", run)
                )
        return rows

    def _row(self, count: int, kind: str, body: bytes) -> Row:
        self.link = link_after(self.link, self.next_number, count, kind=kind, body=body)
        row = Row(self.next_number, count, kind, body=body, link=self.link)
        self.next_number += count
        return row

    def _packed(self, readings: list[Reading]) -> bytes:
        times = np.array([reading.t_s for reading in readings], dtype="<f8")
        values = np.array([reading.value for reading in readings], dtype="<f8")
        places = np.array([self.index[reading.quantity] for reading in readings], dtype="<u2")
        return times.tobytes() + values.tobytes() + places.tobytes()


def record_of(row: Row) -> Record:
    """Return the record of a row that holds one.

    Raises
    ------
    Damage
        If it is not a record of its kind.
    """
    try:
        return from_json(row.kind, json.loads(row.body, parse_int=_whole))
    except (ValueError, TypeError) as fault:
        raise Damage(str(fault)) from None


def _whole(digits: str) -> int | float:
    """Read a number that is written without a point.

    Canonical JSON writes a float such as 1.2345678901234568e20 like an integer; integers of ours
    never reach 2^53.
    """
    return int(digits) if len(digits) <= 16 else float(digits)


class Columns:
    """Gathers rows of readings and gives them as three arrays, in the order they were written."""

    def __init__(self) -> None:
        self._parts: tuple[list[bytes], list[bytes], list[bytes]] = ([], [], [])
        self._count = 0
        self._joined: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.uint16]] | None
        self._joined = None

    def __len__(self) -> int:
        return self._count

    def add(self, row: Row) -> None:
        """Take a row of readings.

        Raises
        ------
        Damage
            If its length is not that of its readings.
        """
        count = row.holds
        body = row.body
        if count < 1 or len(body) != READING_BYTES * count:
            raise Damage("a run of readings has the wrong length")
        times, values, places = self._parts
        times.append(body[: 8 * count])
        values.append(body[8 * count : 16 * count])
        places.append(body[16 * count :])
        self._count += count
        self._joined = None

    def arrays(self) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.uint16]]:
        """Return times in s, values and places of quantities, each of shape (n,)."""
        if self._joined is None:
            times, values, places = (b"".join(parts) for parts in self._parts)
            for parts, joined in zip(self._parts, (times, values, places), strict=True):
                parts[:] = [joined]
            self._joined = (
                np.frombuffer(times, "<f8"),
                np.frombuffer(values, "<f8"),
                np.frombuffer(places, "<u2"),
            )
        return self._joined
