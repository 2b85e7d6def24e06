"""Write a journal from a process of its own, so that it can be killed or lose its disk.

    journal_writer.py FOLDER SEED COUNT SYNCHRONOUS

Each line of output is the number of a record that was acknowledged. SYNCHRONOUS is `FULL`, as the
program has it, or `OFF` for the control that must lose data.
"""

import sqlite3
import sys
from pathlib import Path

import trio
from recorded import header, kept_file, stream

from soak.clock import BootClock
from soak.journal import create, first_session, reserve, writer
from soak.journal.store import Store
from soak.records import Reading

EACH = 7
"""Every so many records one is followed by a file."""


class UnsyncedStore(Store):
    """The control: the same store, told not to care for the medium."""

    def _open(self) -> sqlite3.Connection:
        db = super()._open()
        db.execute("PRAGMA synchronous = OFF")
        return db


async def _write(folder: Path, seed: int, count: int, clock: BootClock) -> None:
    journal = create(folder, header(), first_session("1.0", clock), clock=clock)
    for place, record in enumerate(stream(seed, count)):
        number = journal.append(record)
        if place % EACH == 0:
            name = f"{place}.jpg"
            number = journal.keep(kept_file(record.t_s, name), file_of(place))
        if place % EACH == 0 or not isinstance(record, Reading):
            await journal.acknowledged(number)
            sys.stdout.write(f"{number}\n")
            sys.stdout.flush()
    await journal.seal("complete", {})
    sys.stdout.write("sealed\n")


def file_of(place: int) -> bytes:
    """Return the content of the file that belongs to a place in the stream."""
    return f"picture {place} ".encode() * 400


def _main(folder: str, seed: str, count: str, synchronous: str) -> None:
    clock = BootClock()
    if synchronous == "OFF":
        writer.Store = UnsyncedStore  # type: ignore[misc]  # the negative control swaps the store
    trio.run(_write, Path(folder), int(seed), int(count), clock, clock=clock)


if __name__ == "__main__":
    # A played disk is slow, and what is kept back is tested elsewhere.
    reserve.RESERVE_BYTES = 4096
    _main(*sys.argv[1:])
