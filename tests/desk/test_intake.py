"""The verb `intake`: what it saw before the repair, and what becomes of it afterwards."""

import tomllib
from datetime import UTC, datetime
from pathlib import Path

import pytest
from wiggled_bench import make_bench

from soak.checks.base import all_checks
from soak.derive.jobs_before import FailureKind, jobs_before
from soak.desk.bench_folder import BenchFolder
from soak.desk.hands.intake import Intake, intake
from soak.desk.hands.proposals import kinds, proposal
from soak.desk.hands.wiggle import Wiggling, wiggle
from soak.desk.orders import prepare, read_order
from soak.desk.units import open_ledger
from soak.errors import LedgerError, UsageError
from soak.journal import open_evidence
from soak.judge.before.words import to_outlive
from soak.judge.grade import judge
from soak.run.script import find_script, read_script, script_from


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """Make a bench folder with one unit and fixtures for it."""
    return make_bench(tmp_path)


def taken_in(bench: Path, fixture: str, hours: float = 1.0) -> str:
    lines: list[str] = []
    what = Intake("picture goes when warm", ["video"], hours)
    assert intake(bench, f"S1@{fixture}", what, lines.append, seed=3) == 0
    return "\n".join(lines)


def prepared(bench: Path, script: str):
    folder, ledger = BenchFolder(bench), open_ledger(bench)
    read = read_script(find_script(script, bench))
    return prepare(folder, ledger, read, read_order("S1@good.toml"), datetime.now(UTC), 1)


def mended(bench: Path) -> None:
    open_ledger(bench).record_repair(
        "S1", what="video socket re-soldered", function="video", kind="repair"
    )


def test_an_intake_says_how_often_the_fault_came_and_keeps_the_complaint(bench):
    """Hands off and moved are counted apart; the complaint stands in the header."""
    told = taken_in(bench, "drops.toml", hours=2.0)
    header = open_evidence(BenchFolder(bench).find_soak("last")).header
    assert header.references.complaint == "picture goes when warm"
    assert header.references.intake is True
    assert "of the picture with hands off" in told
    assert "moved hot for 3 min 30 s" in told


def test_what_the_intake_saw_does_not_count_against_the_repaired_unit(bench):
    """A repair may be recorded after it, and begins a job that holds none of its evidence."""
    taken_in(bench, "drops.toml", hours=2.0)
    assert not judge([open_evidence(BenchFolder(bench).find_soak("last"))]).ready
    ledger = open_ledger(bench)
    first = ledger.current_job("S1").job_id
    mended(bench)
    second, described, references = ledger.for_header("S1")
    assert second != first
    assert references.earlier_soaks == ()
    assert [repair.job_id for repair in described.repairs] == [second]


def test_a_repair_after_any_other_soak_is_still_refused(bench):
    """Only an intake is known to have been made before the repair."""
    wiggle(bench, "S1@good.toml", Wiggling("video", repeats=1), print, seed=1)
    with pytest.raises(LedgerError, match="opened"):
        mended(bench)


def test_a_later_night_must_show_that_what_the_intake_saw_is_gone(bench):
    """The count and the hours are frozen into the header; no repair's word stands in for quiet."""
    taken_in(bench, "drops.toml", hours=3.0)
    mended(bench)
    night = prepared(bench, "overnight")
    header = night.plan(night.fixture).header
    (job,) = jobs_before(header)
    (intake_soak,) = job.soaks
    (picture,) = [one for one in intake_soak.failures if one.kind is FailureKind.PICTURE]
    assert intake_soak.intake
    assert picture.events >= 2
    assert 3.0 < picture.over / 3600 < 3.6
    (point, *_) = to_outlive(header)
    assert f"The jobs before saw {picture.events} losses of the picture" in point
    assert "An intake saw it, so that the repair can be measured by its quiet." in point


def test_without_a_job_before_nothing_is_to_be_outlived(bench):
    """A script says by itself what it demands."""
    night = prepared(bench, "overnight")
    header = night.plan(night.fixture).header
    assert jobs_before(header) == ()
    assert to_outlive(header) == []


def test_a_wiggle_after_the_repair_says_how_likely_its_quiet_is_by_luck(bench):
    """Chance (T0 / (T0 + T1))^n of Przyborowski and Wilenski 1940, hot against hot."""
    taken_in(bench, "left.toml")
    mended(bench)
    wiggle(bench, "S1@good.toml", Wiggling("video", hot=True), print, seed=4)
    findings = judge([open_evidence(BenchFolder(bench).find_soak("last"))]).findings
    (finding,) = [one for one in findings if one.requirement.rule == "no episode when moved"]
    assert finding.verdict.value == "met"
    before = finding.detail["before"]
    share = before["hours"] / (before["hours"] + finding.detail["moved_s"] / 3600)
    assert abs(before["quiet_by_luck"] - share ** before["events"]) < 1e-6
    assert "Before the repair" in finding.because
    more_s = 70.0 * before["more_rounds"] + finding.detail["moved_s"]
    enough = before["hours"] / (before["hours"] + more_s / 3600)
    assert enough ** before["events"] <= 0.05


@pytest.mark.parametrize("kind", kinds())
def test_each_proposed_script_can_be_run_as_it_is_printed(kind):
    """It is TOML that a script file may hold, unchanged."""
    script = script_from(tomllib.loads(proposal(kind)), f"{kind}.toml", all_checks())
    assert script.stretches


def test_after_a_sound_repair_somebody_listens_also_while_the_plug_is_moved():
    """A card on the function of that name, and wiggles by eye and ear, all attended."""
    stretches = tomllib.loads(proposal("sound", "headphones"))["stretch"]
    (card,) = [one["by_hand"]["cards"]["headphones"] for one in stretches if "by_hand" in one]
    assert card["function"] == "headphones"
    assert [one["wiggle"]["by_eye"] for one in stretches if "wiggle" in one] == [True, True]
    assert all(one["attended"] for one in stretches)


def test_the_script_after_a_video_repair_holds_what_shows_it():
    """Reseat 20 times, wiggle cold and hot, 6 heat cycles, and a night of picture."""
    stretches = tomllib.loads(proposal("video", "video"))["stretch"]
    named = {one["name"]: one for one in stretches}
    assert named["reseat"]["reseat"]["times"] == 20
    heats = [one["wiggle"]["heat"] for one in stretches if "wiggle" in one]
    assert heats == ["cold", "hot"]
    assert named["heat cycles"]["power_cycles"]["cold"] == 6
    assert "picture" in named["night"]


@pytest.mark.parametrize(
    ("what", "says"),
    [
        (Intake("  "), "--complaint is empty"),
        (Intake("x", ["vidoe"]), "did you mean video?"),
        (Intake("x", ["usb2"]), "nothing watches"),
    ],
)
def test_what_cannot_be_taken_in_is_refused_in_one_sentence(bench, what, says):
    """Before anything is opened."""
    with pytest.raises(UsageError, match=says):
        intake(bench, "S1@good.toml", what, print)


def test_an_intake_after_the_repair_comes_too_late(bench):
    """It would measure the repaired unit and call it the broken one."""
    mended(bench)
    with pytest.raises(UsageError, match="comes before the repair"):
        intake(bench, "S1@good.toml", Intake("x"), print)


def test_a_misspelt_repair_names_the_nearest():
    """One sentence, with the word that was meant."""
    with pytest.raises(UsageError, match="did you mean storage"):
        proposal("storrage")
