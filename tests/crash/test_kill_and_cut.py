"""Kill the writer, cut its power, fill its disk: what was acknowledged is there afterwards."""

import os
import random
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from fuse_disk import FuseDisk
from fuse_kernel import why_not
from journal_writer import EACH, file_of
from recorded import expected, kept_file, said, stream

import soak
from soak.errors import JournalError
from soak.evidence import Evidence
from soak.journal import open_evidence
from soak.records import Observed

WRITER = Path(__file__).parents[1] / "support" / "journal_writer.py"
COUNT = 20_000  # more than is ever written before the end comes

needs_fuse = pytest.mark.skipif(why_not() != "", reason=why_not() or "possible")


def start(folder: Path, seed: int, synchronous: str = "FULL") -> subprocess.Popen[str]:
    """Start a writer in a process of its own."""
    return subprocess.Popen(
        [sys.executable, str(WRITER), str(folder), str(seed), str(COUNT), synchronous],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "PYTHONPATH": str(Path(soak.__file__).parents[1])},
    )


def read_acknowledged(writer: subprocess.Popen[str], lines: int) -> int:
    """Return the last acknowledged number after so many lines."""
    assert writer.stdout is not None
    return [int(writer.stdout.readline()) for _ in range(lines)][-1]


def end(writer: subprocess.Popen[str]) -> int:
    """Kill the writer; return the last number it still told of, 0 if none."""
    assert writer.stdout is not None
    writer.send_signal(signal.SIGKILL)
    rest = writer.stdout.read().split("\n")[:-1]
    writer.stdout.close()
    writer.wait()
    return int(rest[-1]) if rest else 0


def written(seed: int) -> list[Observed]:
    """Return what the writer appends, in order, files included."""
    records: list[Observed] = []
    for place, record in enumerate(stream(seed, COUNT)):
        records.append(record)
        if place % EACH == 0:
            records.append(kept_file(record.t_s, f"{place}.jpg"))
    return records


def check_prefix(evidence: Evidence, number: int, records: Sequence[Observed]) -> None:
    """Check that the evidence is the first records, all of those up to `number` among them."""
    found = evidence.contents().next_number - 1  # type: ignore[attr-defined]  # the protocol hides the row count
    assert found >= number
    assert said(evidence) == expected(records[: found - 2])  # header and session come before
    for entry in evidence.kept_files():
        place = int(entry.name.removesuffix(".jpg"))
        assert evidence.kept_bytes(entry) == file_of(place)


@pytest.mark.parametrize("seed", range(20))
def test_nothing_acknowledged_is_lost_when_the_writer_is_killed(tmp_path: Path, seed: int) -> None:
    """A writer killed at any instant leaves everything it acknowledged."""
    writer = start(tmp_path / "soak", seed)
    acknowledged = read_acknowledged(writer, random.Random(seed).randrange(1, 120))
    acknowledged = max(acknowledged, end(writer))
    check_prefix(open_evidence(tmp_path / "soak"), acknowledged, written(seed))


@needs_fuse
@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("mixed", [False, True], ids=["nothing unsynced", "a mixture"])
def test_nothing_acknowledged_is_lost_when_the_power_is_cut(
    tmp_path: Path, seed: int, mixed: bool
) -> None:
    """A medium that keeps nothing, or any mixture, of what was not synced keeps what was told."""
    with FuseDisk(tmp_path) as disk:
        writer = start(disk.folder / "soak", seed)
        acknowledged = read_acknowledged(writer, random.Random(seed).randrange(1, 60))
        disk.cut(tmp_path / "survivors", seed if mixed else None)
        end(writer)
    check_prefix(open_evidence(tmp_path / "survivors" / "soak"), acknowledged, written(seed))


@needs_fuse
def test_without_syncing_a_power_cut_loses_acknowledged_records(tmp_path: Path) -> None:
    """The cut is able to lose: with synchronous=OFF the same test finds records missing."""
    with FuseDisk(tmp_path) as disk:
        writer = start(disk.folder / "soak", 0, "OFF")
        acknowledged = read_acknowledged(writer, 30)
        disk.cut(tmp_path / "survivors")
        end(writer)
    try:
        found = open_evidence(tmp_path / "survivors" / "soak").contents().next_number - 1
    except JournalError:
        found = 0
    assert found < acknowledged


def test_the_stream_holds_readings_and_events() -> None:
    """The prefix that the tests compare is made of every kind of record."""
    kinds = {type(record).__name__ for record in written(0)[:200]}
    assert kinds == {"Reading", "State", "Mark", "KeptFile"}
