"""What breaks in soak itself: code 5, one sentence, and the trace kept in a file that may be sent.

Exit code 1 means "mend the unit", and nobody mends a unit for a fault of a program.
"""

import os
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from soak_process import SOAK

from soak.errors import ExitCode

BROKEN = """\
import os, sys
from soak.desk import units

def breaks(bench, *, as_json):
    at_home = os.path.expanduser("~/bench/serials.txt")
    raise LookupError(f"{at_home} by {os.environ['LOGNAME']}, {bench}")

units.listing = breaks
from soak.cli.main import main
main()
"""
"""The program with one verb that breaks."""


@pytest.fixture
def broken(tmp_path):
    """Give the bench of somebody, at home."""
    bench = tmp_path / "home" / "jane.doe" / "bench"
    bench.mkdir(parents=True)
    return bench


def explained(bench: Path, *words: str, **more: str) -> "subprocess.CompletedProcess[str]":
    env = {**os.environ, "HOME": str(bench.parent), "LOGNAME": "jane.doe", **more}
    env.pop("XDG_STATE_HOME", None)
    typed = [sys.executable, "-c", BROKEN, *words, "unit", "list"]
    return subprocess.run(typed, cwd=bench, env=env, capture_output=True, text=True, check=False)


def test_a_crash_is_code_5_and_one_sentence_with_a_file(broken):
    """It says that the unit is not to blame, and where the trace is kept."""
    done = explained(broken)
    assert done.returncode == ExitCode.BROKE == 5
    assert "Traceback" not in done.stderr
    assert done.stderr.count("\n") == 1
    assert "a fault of soak, not of the unit" in done.stderr
    [kept] = (broken.parent / ".local" / "state" / "soak").glob("crash-*.txt")
    assert str(kept) in done.stderr


def test_the_kept_trace_holds_no_personal_path(broken):
    """Home and bench folder are left out of it; what broke is in it."""
    explained(broken)
    [kept] = (broken.parent / ".local" / "state" / "soak").glob("crash-*.txt")
    text = kept.read_text()
    assert "LookupError" in text
    assert "soak unit" in text
    assert "jane.doe" not in text
    assert str(broken) not in text


def test_a_bench_folder_elsewhere_is_left_out_too(broken, tmp_path):
    """However it is typed: it is somebody's name for a place."""
    for at, typed in enumerate(([f"--bench={tmp_path}/yard"], ["--bench", "../../jane.doe/yard"])):
        explained(broken, *typed)
        kept = sorted((broken.parent / ".local" / "state" / "soak").glob("crash-*.txt"))
        assert len(kept) == at + 1
        assert not any("yard" in file.read_text() for file in kept)


def test_a_home_that_takes_no_file_loses_no_sentence(broken, tmp_path):
    """The trace goes where passing files go."""
    (broken.parent / ".local").write_text("in the way")
    done = explained(broken, TMPDIR=str(tmp_path))
    assert done.returncode == ExitCode.BROKE
    [kept] = tmp_path.glob("crash-*.txt")
    assert str(kept) in done.stderr


def test_no_home_and_no_folder_lose_no_sentence(broken):
    """Where nothing takes the file, the sentence says so."""
    nowhere = {"TMPDIR": "/proc/self/nowhere", "HOME": "/proc/self/nowhere"}
    done = explained(broken, **nowhere)
    assert done.returncode == ExitCode.BROKE
    assert done.stderr.count("\n") == 1
    assert "a fault of soak" in done.stderr


def test_trace_shows_it_at_once(broken):
    """Asked for, the trace is on the screen; the code stays."""
    done = explained(broken, "--trace")
    assert done.returncode == ExitCode.BROKE
    assert "LookupError" in done.stderr


def test_an_end_of_input_is_no_verdict_on_the_unit(tmp_path):
    """A question that nobody can answer ends as stopped, in one sentence, and keeps nothing."""
    clip = tmp_path / "clip.avi"
    writer = cv2.VideoWriter(str(clip), cv2.VideoWriter.fourcc(*"MJPG"), 30.0, (64, 48))
    for level in range(60):
        writer.write(np.full((48, 64, 3), 100 + level, np.uint8))
    writer.release()
    entry = f'[capture]\ndriver = "opencv"\nsource = "{clip}"\nport = "video"\n'
    (tmp_path / "left.toml").write_text(f'name = "left"\n{entry}')
    words = [*SOAK, "teach", "left.toml"]
    nobody = {"stdin": subprocess.DEVNULL, "capture_output": True, "text": True}
    done = subprocess.run(words, cwd=tmp_path, check=False, **nobody)
    assert done.returncode == ExitCode.STOPPED, done.stderr
    assert done.stderr.endswith("soak: stopped: nobody answered, and nothing was kept\n")
    assert {*tmp_path.iterdir()} == {clip, tmp_path / "left.toml"}
