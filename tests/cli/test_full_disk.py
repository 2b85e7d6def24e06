"""The disk gets full while a soak runs: off, sealed, told with the free bytes, exit code 3."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from guarded_bench import GuardedBench
from one_unit_bench import bench_with_k1
from patience import LIMIT_S
from small_disk import fill, small_disk, why_not
from terminal_bench import Terminal
from typed_bench import typed

from soak.errors import ExitCode
from soak.journal import open_evidence
from soak.journal.reserve import FILE
from soak.report.output.files import USUAL

NEEDS_DISK = pytest.mark.skipif(why_not() != "", reason=why_not() or "possible")
PLAYED = """
import errno, os
from pathlib import Path
from soak.journal import faults, store
usual = store.Store.write

def write(self, entries):
    # Full from a word on, until what was kept back is given back.
    if Path({word!r}).exists() and {spent}:
        raise faults.writing_fault(self.path, OSError(errno.ENOSPC, "No space left on device"))
    usual(self, entries)

store.Store.write = write
from soak.cli.main import main
main()
"""
NO_PICTURE = """\
name = "few"
simulated = "good"
[switch]
driver = "simulated"
[probe.outside]
driver = "simulated"
spot = "outside"
accuracy = 1.0
"""
WITH_RESERVE = "(self.path.parent / 'reserve').exists()"


@contextmanager
def soaking(bench: GuardedBench, program: str = "") -> Iterator["subprocess.Popen[bytes]"]:
    """Soak K1 until its unit is on."""
    command = [sys.executable, "-c", program or "from soak.cli.main import main; main()"]
    log = (bench.folder.parent / "said.txt").open("wb")
    with log:
        runner = subprocess.Popen(
            [*command, "run", "long", "--unit", "K1@f1", "--may-sleep"],
            cwd=bench.folder,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
        )
    bench.runners.append(runner)
    bench.until(bench.relays.is_on)
    yield runner


def found(bench: GuardedBench, runner: "subprocess.Popen[bytes]") -> tuple[int, str, Path]:
    """Return exit code, what was said, and the soak's folder."""
    code = runner.wait(LIMIT_S)
    return code, (bench.folder.parent / "said.txt").read_text(), bench.soak_folder()


def check_ended_well(bench: GuardedBench, runner: "subprocess.Popen[bytes]") -> str:
    """Look for off, the seal, grade and report, and exit code 3; return what was said."""
    code, said, folder = found(bench, runner)
    assert code == ExitCode.BENCH_FAULT, said
    assert not bench.relays.is_on()
    evidence = open_evidence(folder)
    assert evidence.seal is not None, said
    assert evidence.seal.ended == "bench fault"
    assert evidence.file_sha256
    told = evidence.marks("stopped")[0].detail["why"]
    assert told.startswith("the disk is full, "), told
    assert told in said
    assert evidence.marks("power")[-1].detail["on"] is False
    assert all((folder / name).is_file() for name in USUAL), said
    assert not (folder / FILE).exists()
    assert "Traceback" not in said
    return said


@NEEDS_DISK
def test_a_disk_that_gets_full_in_mid_soak_ends_it_off_sealed_and_told(tmp_path):
    """A real disk, filled to its last byte by somebody else while the unit runs."""
    with (
        small_disk(tmp_path, 60) as disk,
        GuardedBench(disk / "bench") as bench,
        soaking(bench) as runner,
    ):
        fill(disk)
        said = check_ended_well(bench, runner)
        assert "the disk is full, 0 B free" in said


def test_what_waited_when_the_disk_got_full_is_written_into_the_room_kept_back(tmp_path):
    """The same with a disk that is played: nothing is lost that was to be written."""
    word = tmp_path / "full"
    program = PLAYED.format(word=str(word), spent=WITH_RESERVE)
    with GuardedBench(tmp_path / "bench") as bench, soaking(bench, program) as runner:
        word.touch()
        check_ended_well(bench, runner)


def test_a_disk_that_takes_not_even_the_end_leaves_the_unit_off_and_the_soak_to_be_resumed(
    tmp_path,
):
    """Nothing can be sealed: off all the same, exit code 3, and the word that goes on."""
    word = tmp_path / "full"
    program = PLAYED.format(word=str(word), spent=True)
    with GuardedBench(tmp_path / "bench") as bench, soaking(bench, program) as runner:
        word.touch()
        code, said, folder = found(bench, runner)
        assert code == ExitCode.BENCH_FAULT, said
        assert not bench.relays.is_on()
        assert open_evidence(folder).seal is None
        assert "the disk is full, " in said
        assert "soak resume" in said


@pytest.mark.parametrize(("free", "told"), [(17_000_000, True), (30_000_000, False)])
def test_a_disk_that_would_get_full_in_the_night_is_told_before_it(
    tmp_path, monkeypatch, free, told
):
    """Two hours of one thermometer take 2.3 MB beside the 17 MB for the end: said, and how much."""
    bench = bench_with_k1(tmp_path, NO_PICTURE)
    monkeypatch.setattr("soak.desk.soaking.before_night.free_bytes", lambda _: free)
    said = typed("--bench", str(bench), "run", "evening", "--unit", "K1@left.toml")
    assert ("has 17.00 MB free, and by its latest end this may write" in said.err) is told


def test_it_is_asked_whether_to_begin_on_a_disk_that_would_get_full(tmp_path):
    """At a terminal; no begins nothing."""
    bench = bench_with_k1(tmp_path)
    program = (
        "import soak.desk.soaking.before_night as r; r.free_bytes = lambda _: 20_000_000\n"
        "from soak.cli.main import main; main()"
    )
    words = ("run", "evening", "--unit", "K1@left.toml")
    with Terminal(bench, *words, program=program) as terminal:
        terminal.until("has 20.00 MB free")
        terminal.until("make room there")
        terminal.until("Go on as it is? (yes or no)")
        terminal.type("no")
        assert terminal.ended() == ExitCode.STOPPED
    assert not list((bench / "reports").glob("K1-*"))


@NEEDS_DISK
def test_a_disk_without_room_for_the_end_begins_no_soak(tmp_path):
    """What is kept back does not fit: nothing is switched on, and exit code 3 says whose fault."""
    with small_disk(tmp_path, 60) as disk, GuardedBench(disk / "bench") as bench:
        fill(disk)
        runner = bench.run()
        assert runner.wait(LIMIT_S) == ExitCode.BENCH_FAULT
        assert not bench.relays.told or not bench.relays.is_on()
