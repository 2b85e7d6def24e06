"""Killed after the seal: the evidence is whole, and `soak resume` makes grade and report."""

import subprocess
import sys

import pytest
from patience import LIMIT_S
from typed_bench import typed

from soak.errors import ExitCode
from soak.journal import open_evidence
from soak.ledger.ledger import Ledger
from soak.report.output.files import USUAL

DIES = """
import os
import {module} as dying
dying.{name} = lambda *given, **more: os._exit(9)
from soak.cli.main import main
main()
"""
POINTS = {
    "while the seal is written beside the journal": ("soak.journal.writer", "make_final"),
    "before the grade": ("soak.desk.soaking.concluding", "grade_job"),
    "before the report": ("soak.desk.soaking.concluding", "write_reports"),
    "between two files of the report": ("soak.report.output.files", "as_json"),
}


def killed(bench, module: str, name: str) -> str:
    """Soak K4 and die at a function; return the soak's id."""
    known = bench.soaks()
    program = DIES.format(module=module, name=name)
    words = ("--bench", str(bench.path), "run", "brief", "--unit", "K4@sim", "--seed", "1")
    died = subprocess.run([sys.executable, "-c", program, *words], check=False, timeout=LIMIT_S)
    assert died.returncode == 9
    [new] = set(bench.soaks()) - set(known)
    return new


def grade_of(bench, soak_id: str) -> str:
    lines = Ledger(bench.path / "ledger.sqlite").soaks()
    return next((line.grade for line in lines if line.soak_id == soak_id), "")


@pytest.mark.parametrize("point", POINTS)
def test_a_soak_that_was_killed_past_its_seal_is_graded_and_reported_by_resume(bench, point):
    """Wherever it died: the grade is in the ledger, every file of the report is there, once."""
    soak_id = killed(bench, *POINTS[point])
    folder = bench.path / "reports" / soak_id
    assert not all((folder / name).is_file() for name in USUAL)
    said = typed("--bench", str(bench.path), "resume", soak_id)
    assert said.code == ExitCode.INCOMPLETE, said.err
    assert "not ready: incomplete" in said.err
    assert open_evidence(folder).file_sha256
    assert all((folder / name).is_file() for name in USUAL)
    assert grade_of(bench, soak_id) == "not ready: incomplete"


def test_what_is_finished_is_not_finished_again(bench):
    """A soak that has its grade and report has ended: the next one is a new one."""
    soak_id = killed(bench, *POINTS["before the grade"])
    typed("--bench", str(bench.path), "resume", soak_id)
    said = typed("--bench", str(bench.path), "resume", soak_id)
    assert said.code == ExitCode.USAGE
    assert said.sentence == f"soak: {soak_id}: has ended; begin a new one with `soak run`"


def test_a_report_that_cannot_be_written_says_that_resume_makes_it(bench):
    """The disk is full when the report is due: exit code 3, and the word that closes it."""
    known = bench.soaks()
    program = (
        "import soak.desk.soaking.concluding as c\n"
        "from soak.errors import UsageError\n"
        "def full(*given, **more):\n"
        "    raise UsageError('the report cannot be written (No space left on device)')\n"
        "c.write_reports = full\n"
        "from soak.cli.main import main\nmain()\n"
    )
    words = ("--bench", str(bench.path), "run", "brief", "--unit", "K4@sim", "--seed", "1")
    ended = subprocess.run(
        [sys.executable, "-c", program, *words],
        check=False,
        timeout=LIMIT_S,
        capture_output=True,
        text=True,
    )
    [soak_id] = set(bench.soaks()) - set(known)
    assert ended.returncode == ExitCode.BENCH_FAULT, ended.stderr
    assert f"`soak resume {soak_id}` tries again" in ended.stderr
    assert typed("--bench", str(bench.path), "resume", soak_id).code == ExitCode.INCOMPLETE
