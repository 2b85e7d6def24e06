"""A real soak in real time, and backups made meanwhile: each is whole, and the soak goes on."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest
from guarded_bench import SOAK, GuardedBench
from patience import LIMIT_S
from typed_bench import typed

from soak.errors import ExitCode
from soak.journal import open_evidence

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo terminals")


def records_of(folder: Path) -> int:
    """Return how many records a journal holds so far."""
    return open_evidence(folder).contents().next_number - 1


def test_backups_of_a_bench_that_soaks_are_whole_and_do_not_disturb_it(tmp_path):
    """Five while records are written: no journal is torn, each holds more than the one before."""
    records = [0]
    with GuardedBench(tmp_path / "bench") as bench:
        runner = subprocess.Popen(
            [*SOAK, "run", "long", "--unit", "K1@f1", "--may-sleep"],
            cwd=bench.folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        bench.runners.append(runner)
        bench.until(bench.relays.is_on)
        soak = bench.soak_folder().name
        for number in range(5):
            said = typed("--bench", str(bench.folder), "backup", str(tmp_path / f"{number}.zip"))
            assert said.code == ExitCode.DONE, said
            assert f"{soak} runs" in said.out
            again = tmp_path / f"back{number}"
            said = typed("restore", str(tmp_path / f"{number}.zip"), str(again))
            assert said.code == ExitCode.DONE, said
            copy = open_evidence(again / "reports" / soak)
            assert copy.seal is None
            records.append(records_of(again / "reports" / soak))
            assert typed("--bench", str(again), "show", soak).code == 0
            assert "was cut off" in typed("--bench", str(again), "show").out
            bench.until(lambda: records_of(bench.soak_folder()) > records[-1])
        runner.send_signal(signal.SIGINT)
        runner.wait(LIMIT_S)
        evidence = open_evidence(bench.soak_folder())
        assert evidence.seal is not None
        assert not bench.relays.is_on()
    assert len(set(records)) == len(records)
    assert records == sorted(records)
