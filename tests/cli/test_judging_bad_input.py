"""Bad input to the judgement, typed: an honest grade or one sentence, never a crash or a guess."""

import json
import shutil
import sqlite3
from pathlib import Path

import pytest
from typed_bench import BRIEF, SIMULATED, Said, TypedBench, make_bench, soak_brief, typed

from soak.errors import ExitCode

NOTHING = """\
name = "nothing"
not_after = "1 h"
[[stretch]]
name = "run"
lasts = "1 min"
[stretch.spots]
limits = false
"""
OTHER = """\
name = "other"
not_after = "2 h"
[[stretch]]
name = "ports"
lasts = "1 h"
[stretch.picture]
"""


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """Make a bench: K1 soaked twice, K3 cut off as it began; K4 never soaked."""
    path = tmp_path_factory.mktemp("judged")
    made = make_bench(path)
    soak_brief(path, "K1", 1e9)
    made.write("scripts/nothing.toml", NOTHING)
    made.write("scripts/other.toml", OTHER)
    return made


@pytest.fixture
def own(bench, tmp_path):
    """Give one test a copy that it may spoil."""
    copy = tmp_path / "own"
    shutil.copytree(bench.path, copy)
    return TypedBench(copy)


def asked(bench: TypedBench, *words: str) -> Said:
    return typed("--bench", str(bench.path), *words)


def soaks_of(bench: TypedBench, tag: str) -> list[Path]:
    return sorted(bench.path.glob(f"reports/{tag}-*"))


def sentence(said: Said, code: ExitCode = ExitCode.USAGE) -> str:
    assert said.code == code, said.err
    assert "Traceback" not in said.err + said.out
    assert len(said.err.strip().splitlines()) == 1, said.err
    return said.err.strip()


def test_an_empty_journal_is_incomplete_and_says_what_to_run(bench):
    """Cut off before anything was recorded: nothing is met, all of it is to be run."""
    said = asked(bench, "judge", soaks_of(bench, "K3")[0].name)
    assert said.code == ExitCode.INCOMPLETE, said.err
    assert said.out.startswith("not ready: incomplete")
    assert "+ met" not in said.out
    assert "lacking so far: stretch 1, starts: 2 starts more" in said.out
    assert "lacking so far: stretch 2, run: 2 min more" in said.out


def test_a_journal_file_of_no_bytes_is_one_sentence(own):
    """The file is named."""
    folder = soaks_of(own, "K3")[0]
    (folder / "journal.sqlite").write_bytes(b"")
    assert "journal.sqlite" in sentence(asked(own, "judge", folder.name))


def test_a_soak_stopped_in_its_first_stretch_is_incomplete(own):
    """Simulated and stopped by its own time limit after one start: the second stretch is not
    guessed.
    """
    own.write("scripts/brief.toml", BRIEF.replace('not_after = "1 h"', 'not_after = "60 s"')
              .replace('lasts = "2 min"', 'lasts = "20 s"'))  # fmt: skip
    asked(own, "run", "brief", "--unit", "K4@sim", "--seed", "1")
    said = asked(own, "judge", soaks_of(own, "K4")[0].name)
    assert said.code == ExitCode.INCOMPLETE, said.out + said.err
    lines = [line for line in said.out.splitlines() if line.startswith("? not shown")]
    assert len(lines) >= 3
    assert "was never begun" in said.out


def test_a_script_that_demands_nothing_lets_nothing_pass(own):
    """No requirement, no grade: said when explained, and when judged."""
    assert "it demands nothing" in asked(own, "script", "explain", "nothing").out
    own.write("fixtures/blind.toml", SIMULATED.split("[probe")[0])
    asked(own, "run", "nothing", "--unit", "K4@blind", "--seed", "1")
    said = asked(own, "judge", soaks_of(own, "K4")[0].name)
    assert said.code == ExitCode.INCOMPLETE
    assert "demands nothing, so nothing is shown" in said.out


def test_the_bench_reads_how_starts_lie_in_time(bench):
    """Early and late half are for the bench, and the terminal is the bench's."""
    said = asked(bench, "judge", soaks_of(bench, "K1")[0].name, "--whole")
    assert "Early half 1 of 1, late half 1 of 1." in said.out


def test_a_demand_on_a_check_that_never_ran_is_not_shown(own):
    """Judged by a script with another stretch: what nobody gathered is not met by silence."""
    said = asked(own, "judge", soaks_of(own, "K1")[0].name, "--script", "other", "--json")
    assert said.code == ExitCode.INCOMPLETE
    findings = json.loads(said.out)["findings"]
    assert findings
    assert {one["verdict"] for one in findings} == {"not shown"}
    assert all("no soak of this job gathers evidence" in one["because"] for one in findings)


@pytest.mark.parametrize("verb", [("run",), ("judge",), ("explain",)])
def test_contradictory_limits_are_one_sentence(own, verb):
    """Two fault-free hours at the end of one: refused before anything runs or is judged."""
    wrong = own.edit("scripts/wrong.toml", "[stretch.picture]",
                     '[stretch.picture]\nfailure_free_s = "2 h"', BRIEF)  # fmt: skip
    words = {
        "run": ("run", wrong, "--unit", "K4@sim"),
        "judge": ("judge", soaks_of(own, "K1")[0].name, "--script", wrong),
        "explain": ("script", "explain", wrong),
    }[verb[0]]
    said = sentence(asked(own, *words))
    assert "2 h" in said
    assert "make one shorter or the other longer" in said
    assert not soaks_of(own, "K4")


@pytest.mark.parametrize("verb", ["run", "judge", "explain", "starts", "hours"])
def test_a_confidence_in_percent_is_one_sentence(own, verb):
    """95 instead of 0.95, wherever it may be typed."""
    wrong = own.edit("scripts/wrong.toml", 'not_after = "1 h"',
                     'not_after = "1 h"\nconfidence = 95', BRIEF)  # fmt: skip
    words = {
        "run": ("run", wrong, "--unit", "K4@sim"),
        "judge": ("judge", soaks_of(own, "K1")[0].name, "--script", wrong),
        "explain": ("script", "explain", wrong),
        "starts": ("evidence", "starts", "--good", "120", "--confidence", "95"),
        "hours": ("evidence", "hours", "--clean", "8 h", "--confidence", "95"),
    }[verb]
    said = sentence(asked(own, *words))
    assert "confidence" in said
    assert "95" in said


@pytest.mark.parametrize("verb", ["judge", "show", "report", "resume", "causes"])
def test_a_journal_of_another_format_is_one_sentence(own, verb):
    """File and format are named; nothing is read as if it were known."""
    folder = soaks_of(own, "K3")[0]
    with sqlite3.connect(folder / "journal.sqlite") as connection:
        connection.execute("PRAGMA user_version = 99")
    connection.close()
    said = sentence(asked(own, verb, folder.name))
    assert "journal.sqlite" in said
    assert "format 99" in said


def test_two_jobs_mixed_are_one_sentence(own):
    """Another unit's journal in the place of an earlier soak: evidence of two jobs is not added."""
    first, second = soaks_of(own, "K1")
    asked(own, "judge", first.name)
    soak_brief(own.path, "K4", 1e9)
    (other,) = soaks_of(own, "K4")
    shutil.rmtree(first)
    shutil.copytree(other, first)
    said = sentence(asked(own, "judge", second.name))
    assert f"{first.name}: holds the journal of soak {other.name}" in said
