"""Measure the journal, each figure beside plain SQLite inserts of the same readings in one run.

    python benchmarks/journal.py [FOLDER]

FOLDER must lie on the medium in question; by default it is made below the current folder.
"""

import resource
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import numpy as np
import trio
from headers import bare_header

from soak.clock import BootClock, LeapingClock, SoakClock
from soak.journal import Writer, create, first_session, open_evidence
from soak.journal.rows import READINGS, Chain, Row, link_after
from soak.journal.store import FILE
from soak.quantities import Quantity
from soak.records import Header, Mark, Reading, State

QUANTITIES = tuple(Quantity(f"probe.{n}", "degC", f"probe.{n}") for n in range(4))
NAMES = [quantity.name for quantity in QUANTITIES]
BATCH = 100  # 200 readings a second, written each half second
UNITS, RATE_HZ, WATCHED_S = 8, 200, 15


def header() -> Header:
    return bare_header(quantities=QUANTITIES)


def readings(count: int) -> list[Reading]:
    draw = np.random.default_rng(1)
    values = draw.normal(40, 5, count).tolist()
    return [Reading(n / RATE_HZ, NAMES[n % 4], value) for n, value in enumerate(values)]


def cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


@contextmanager
def plain(path: Path) -> Iterator[Callable[[list[Reading]], None]]:
    """Give a function that inserts a batch into a plain table, with the journal's own pragmas."""
    db = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    db.execute("CREATE TABLE reading (t_s REAL, quantity TEXT, value REAL)")

    def insert(batch: list[Reading]) -> None:
        db.execute("BEGIN IMMEDIATE")
        rows = [(reading.t_s, reading.quantity, reading.value) for reading in batch]
        db.executemany("INSERT INTO reading VALUES (?, ?, ?)", rows)
        db.execute("COMMIT")

    try:
        yield insert
    finally:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        db.close()


def write_rate(folder: Path, batch: int, count: int) -> None:
    """Write the same batches both ways, each synced before the next."""
    made, clock = readings(count), BootClock()
    batches = [made[at : at + batch] for at in range(0, len(made), batch)]

    async def ours() -> float:
        writer = new_writer(folder / f"ours{batch}", clock)
        began = time.perf_counter()
        for part in batches:
            for reading in part:
                number = writer.append(reading)
            await writer.acknowledged(number)
        took_s = time.perf_counter() - began
        await writer.seal("complete", {})
        return took_s

    ours_s = trio.run(ours, clock=clock)
    with plain(folder / f"plain{batch}.sqlite") as insert:
        began = time.perf_counter()
        for part in batches:
            insert(part)
        plain_s = time.perf_counter() - began
    row(f"readings/s, synced each {batch}", count / ours_s, count / plain_s, "{:,.0f}")
    ours_bytes = (folder / f"ours{batch}" / FILE).stat().st_size / count
    plain_bytes = (folder / f"plain{batch}.sqlite").stat().st_size / count
    row(f"bytes/reading, batches of {batch}", ours_bytes, plain_bytes, "{:.1f}")


def cpu_share(folder: Path) -> None:
    """Eight units of 200 readings a second in real time, in the loop's steps of 50 ms."""
    step_s = 0.05
    step = [Reading(1.0, NAMES[n % 4], 40.0 + n) for n in range(int(RATE_HZ * step_s))]

    async def feed(give: list[Callable[[], None]]) -> float:
        before = cpu_s()
        for _ in range(int(WATCHED_S / step_s)):
            for call in give:
                call()
            await trio.sleep(step_s)
        return (cpu_s() - before) / WATCHED_S

    async def ours() -> float:
        writers = [new_writer(folder / f"unit{unit}", clock) for unit in range(UNITS)]

        def giver(writer: Writer) -> Callable[[], None]:
            return lambda: [writer.append(reading) for reading in step] and None

        share = await feed([giver(writer) for writer in writers])
        for writer in writers:
            writer.close()
        return share

    async def bare() -> float:
        def giver(insert: Callable[[list[Reading]], None]) -> Callable[[], None]:
            held: list[Reading] = []

            def call() -> None:
                held.extend(step)
                if len(held) >= BATCH:
                    insert(held)
                    held.clear()

            return call

        with ExitStack() as files:
            paths = [folder / f"share{unit}.sqlite" for unit in range(UNITS)]
            inserts = [files.enter_context(plain(path)) for path in paths]
            return await feed([giver(insert) for insert in inserts])

    async def idle() -> float:
        return await feed([lambda: None] * UNITS)

    clock = BootClock()
    idle_share = trio.run(idle, clock=clock)
    ours_share = trio.run(ours, clock=clock) - idle_share
    bare_share = trio.run(bare, clock=clock) - idle_share
    row("% of a core at 1600 readings/s", 100 * ours_share, 100 * bare_share, "{:.2f}")


def new_writer(folder: Path, clock: SoakClock) -> Writer:
    return create(folder, header(), first_session("b", clock), clock=clock)


def load(folder: Path, count: int = 10_000_000) -> None:
    """Ten million readings in batches of 100, from the file into arrays, chain checked."""
    clock = LeapingClock()
    writer = new_writer(folder / "large", clock)
    writer.close()
    fill(folder / "large" / FILE, count)
    began = time.perf_counter()
    evidence = open_evidence(folder / "large")
    found = sum(len(evidence.series(name)[0]) for name in NAMES)
    ours_s = time.perf_counter() - began
    assert found == count
    few = count // 20
    with plain(folder / "few.sqlite") as insert:
        insert(readings(few))
    began = time.perf_counter()
    db = sqlite3.connect(folder / "few.sqlite")
    for name in NAMES:
        rows = db.execute("SELECT t_s, value FROM reading WHERE quantity = ?", (name,)).fetchall()
        np.array(rows)
    plain_s = (time.perf_counter() - began) * count / few
    db.close()
    row("s for 10 million into arrays", ours_s, plain_s, "{:.2f}")


def fill(path: Path, count: int) -> None:
    """Add readings straight as rows, which only a benchmark may do."""
    chain = Chain(QUANTITIES)
    db = sqlite3.connect(path, isolation_level=None)
    for first, holds, kind, body, link in db.execute("SELECT * FROM rows"):
        assert link_after(chain.link, first, holds, kind, body) == link
        chain.link, chain.next_number = link, first + holds
    places = (np.arange(BATCH) % 4).astype("<u2").tobytes()
    db.execute("BEGIN")
    for at in range(0, count, BATCH):
        times = np.arange(at, at + BATCH) / RATE_HZ
        body = times.tobytes() + times.tobytes() + places
        link = link_after(chain.link, chain.next_number, BATCH, READINGS, body)
        made = Row(chain.next_number, BATCH, READINGS, body, link)
        db.execute("INSERT INTO rows VALUES (?, ?, ?, ?, ?)", made)
        chain.link, chain.next_number = link, chain.next_number + BATCH
    db.execute("COMMIT")
    db.close()


def overnight(folder: Path) -> None:
    """Write a simulated night under a leaping clock: 110 000 records, 1000 waited for."""
    clock = LeapingClock()
    made = readings(100_000)

    async def ours() -> float:
        writer = new_writer(folder / "night", clock)
        began = time.perf_counter()
        for place, reading in enumerate(made):
            writer.append(reading)
            if place % 20 == 0:
                writer.append(State(reading.t_s, "capture", "picture", 0.04, {"luma": 91.5}))
                number = writer.append(Mark(reading.t_s, "power", "s", "c", {"on": True}))
            if place % 100 == 0:
                await writer.acknowledged(number)
        await writer.seal("complete", {})
        return time.perf_counter() - began

    ours_s = trio.run(ours, clock=clock)
    with plain(folder / "night.sqlite") as insert:
        began = time.perf_counter()
        for at in range(0, len(made), BATCH):
            insert(made[at : at + BATCH])
        plain_s = time.perf_counter() - began
    row("s for a simulated night", ours_s, plain_s, "{:.2f}")


def row(what: str, ours: float, bare: float, form: str) -> None:
    print(f"{what:38}{form.format(ours):>14}{form.format(bare):>14}{ours / bare:>10.2f}")


def main() -> None:
    base = Path(sys.argv[1]) if len(sys.argv) > 1 else Path.cwd()
    print(f"{'':38}{'journal':>14}{'plain SQLite':>14}{'ratio':>10}")
    with tempfile.TemporaryDirectory(dir=base, prefix=".benchmark-") as folder:
        write_rate(Path(folder), BATCH, 20_000)
        write_rate(Path(folder), 4000, 200_000)
        cpu_share(Path(folder))
        overnight(Path(folder))
        load(Path(folder))


if __name__ == "__main__":
    main()
