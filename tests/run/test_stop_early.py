"""A stretch that its sequential plan ends: frozen first, followed live, recomputed afterwards."""

import subprocess
import sys
import tomllib

import planned_bench
import pytest
from planned_bench import GOOD, SCRIPT, soak_planned
from typed_bench import typed

from soak.checks.base import all_checks
from soak.derive.course import course_of
from soak.derive.sequential import decide
from soak.desk.bench_folder import BenchFolder
from soak.errors import ScriptError
from soak.journal import open_evidence
from soak.judge.grade import judge
from soak.judge.planning import hours_plan, starts_plan
from soak.run.script import script_again, script_from
from soak.statistics.frozen import thawed

STARTS = starts_plan(0.01, 0.20, 0.1, 0.1)
HOURS = hours_plan(20 * 3600.0, 3600.0, 0.1, 0.1)
FAILS = GOOD + "[start]\nfails_warm = 0.6\nfails_cold = 0.6\n"
DROPS = GOOD + (
    '[contacts.video]\nlooks = "no signal"\n[contacts.video.opens]\n'
    "per_hour = 12.0\nlasts_s = [1.0, 3.0]\n"
)


def read(text: str):
    return script_from(tomllib.loads(text), "planned.toml", all_checks())


def ends(evidence) -> dict:
    return {mark.stretch: mark.detail for mark in evidence.marks("stretch ends")}


def verdicts(evidence) -> dict:
    found = judge([evidence]).findings
    return {one.requirement.rule: one.verdict.value for one in found}


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    """Soak a good unit by the plans."""
    return soak_planned(planned_bench.planned_bench(tmp_path_factory.mktemp("good")))


def test_a_good_unit_is_accepted_as_early_as_the_plan_allows(good):
    """As many starts and hours as the shortest course of each plan, and not one start more."""
    ended = ends(good)
    assert ended["starts"]["because"] == ended["run"]["because"] == "accepted by plan"
    assert len(good.marks("start ended")) == STARTS.shortest
    assert ended["run"]["observed_s"] == pytest.approx(HOURS.shortest, abs=120)
    assert ended["run"]["observed_s"] >= HOURS.shortest


def test_the_judgement_recomputes_the_stop_from_the_journal(good):
    """The same decision at the same start, by the plan as it stands in the header."""
    need = {one.rule: one for one in good.header.requirements if "plan" in one.params}
    found = decide(need["starts by plan"], course_of(good))
    assert (found.decided, found.at) == ("accepted", STARTS.shortest)
    judgement = judge([good])
    assert judgement.ready, judgement.reason


def test_the_plan_is_frozen_in_the_header_before_the_first_start(good):
    """Every line of it, in script and requirement; the header is the chain's first record."""
    (stretch, _) = good.header.script.stretches
    need = next(one for one in good.header.requirements if one.rule == "starts by plan")
    assert need.params["plan"] == stretch.plan
    assert list(thawed(stretch.plan).accept_up_to) == list(STARTS.accept_up_to)


def test_a_unit_that_fails_its_starts_is_rejected_early(tmp_path):
    """The stretch ends as soon as the plan rejects; the next one still runs."""
    evidence = soak_planned(planned_bench.planned_bench(tmp_path, FAILS))
    assert ends(evidence)["starts"]["because"] == "rejected by plan"
    assert len(evidence.marks("start ended")) < STARTS.shortest
    assert "run" in ends(evidence)
    assert verdicts(evidence)["starts by plan"] == "not met"


def test_after_a_rejected_start_the_next_stretch_begins_with_a_new_one(tmp_path):
    """The start that was one too many shows no picture: off for 30 s, then on again."""
    evidence = soak_planned(planned_bench.planned_bench(tmp_path, FAILS))
    marks = [mark for mark in evidence.marks("power") if mark.detail.get("why")]
    at = next(n for n, mark in enumerate(marks) if mark.detail["why"] == "rejected by plan")
    off, on = marks[at], marks[at + 1]
    assert (off.detail["on"], on.detail["on"]) == (False, True)
    assert on.detail["why"] == "stretch run"
    assert on.t_s - off.t_s >= 30


def test_a_unit_that_drops_its_picture_is_rejected_early(tmp_path):
    """Twelve losses an hour: rejected long before the plan could have accepted."""
    evidence = soak_planned(planned_bench.planned_bench(tmp_path, DROPS))
    ended = ends(evidence)["run"]
    assert ended["because"] == "rejected by plan"
    assert ended["observed_s"] < HOURS.shortest
    assert verdicts(evidence)["hours by plan"] == "not met"


@pytest.mark.parametrize("dies_at_s", [100.0, 3000.0])
def test_a_resumed_soak_carries_on_the_count(tmp_path, dies_at_s):
    """Killed among the starts, or in the hours: the plan goes on from what it had."""
    bench = planned_bench.planned_bench(tmp_path)
    command = [sys.executable, planned_bench.__file__, str(dies_at_s)]
    subprocess.run(command, check=False, cwd=bench)
    cut = open_evidence(BenchFolder(bench).find_soak("last"))
    before = len(cut.marks("start ended"))
    said = typed("--bench", str(bench), "resume", "last", "--may-sleep")
    evidence = open_evidence(BenchFolder(bench).find_soak("last"))
    assert len(evidence.sessions()) == 2, said.err
    numbers = [mark.detail["number"] for mark in evidence.marks("start ended")]
    lost = sum(start.hole != "" for start in course_of(evidence).starts)
    assert 0 < before <= len(numbers)
    assert len(numbers) - lost <= STARTS.shortest <= len(numbers) + lost
    assert ends(evidence)["run"]["because"] == "accepted by plan"
    assert ends(evidence)["run"]["observed_s"] == pytest.approx(HOURS.shortest, abs=200)
    assert set(verdicts(evidence).values()) == {"met"}, said.out


def test_a_script_again_from_its_header_is_the_same(good):
    """A resumed soak follows the frozen lines and does not make the plan anew."""
    again = script_again(good.header.script)
    assert again.planned() == good.header.script


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('of = "warm starts"', 'of = "starts"', "stretch[1].plan.of"),
        ("good = 0.01", "good = 0.3", "below the bad one"),
        ("good = 0.01", "good = 1", "lies above 0 and below the bad one"),
        ("bad = 0.20", "bad = 0.0101", "no plan of 5000 starts"),
        ("bad = 0.20", "bad = 0.2\nbad_accepted = 10", "bad_accepted"),
        ("bad = 0.20", "bad = 0.2\nbadd = 1", "did you mean bad?"),
        ("off_s = 5", "off_s = 5\nwarm = 60", "the plan counts warm starts, at most"),
        ("off_s = 5", "off_s = 5\nfailed_allowed = 1", "leave it out"),
        ("off_s = 5", "off_s = 5\nquick = 3", "leave it out"),
        ("[stretch.power_cycles]\noff_s = 5\non_s = 30", "[stretch.picture]", "add [stretch.power"),
        ('name = "run"', 'name = "run"\nlasts = "3 h"', "stretch[2].lasts"),
        ('good = "20 h"', 'good = "30 min"', "below the good one"),
        ("[stretch.picture]", "[stretch.spots]", "add [stretch.picture]"),
        ("[stretch.picture]", '[stretch.picture]\nfailure_free_s = "1 h"', "a stretch of its own"),
        ("[stretch.picture]", "[stretch.picture]\n[stretch.look]", "put it into another stretch"),
        (
            'name = "run"\n[stretch.plan]',
            'name = "run"\nplan = 3\n[stretch.spots]',
            "plan: is a table",
        ),
    ],
)
def test_a_mistake_in_a_plan_is_one_sentence_with_its_key(old, new, says):
    """What contradicts a plan is found before anything starts."""
    assert old in SCRIPT
    with pytest.raises(ScriptError) as refused:
        read(SCRIPT.replace(old, new, 1))
    assert says in str(refused.value)
    assert all(line.startswith("planned.toml: ") for line in str(refused.value).splitlines())


def test_explain_says_longest_and_usual_time_and_true_risks(tmp_path):
    """Figures of the plan's own outlook; no bound of a fixed count beside them."""
    bench = planned_bench.planned_bench(tmp_path)
    said = typed("--bench", str(bench), "script", "explain", "planned").out
    assert f"at most {STARTS.longest} warm starts" in said
    at_good, at_bad = STARTS.outlook(0.01), STARTS.outlook(0.2)
    assert f"turned away in {100 * (1 - at_good.accepted):.1f} %" in said
    assert f"accepted in {100 * at_bad.accepted:.1f} %" in said
    assert f"on average {at_good.expected:.0f} (" in said
    assert "warm starts worked" not in said


def test_a_new_soak_goes_on_where_a_stopped_one_left_the_plan(tmp_path):
    """Killed and never resumed: the next soak's plan begins with the starts of that try."""
    bench = planned_bench.planned_bench(tmp_path)
    command = [sys.executable, planned_bench.__file__, "200.0"]
    subprocess.run(command, check=False, cwd=bench)
    typed("--bench", str(bench), "judge", "last")
    typed("--bench", str(bench), "run", "planned", "--unit", "K1@left.toml", "--seed", "1")
    evidence = open_evidence(BenchFolder(bench).find_soak("last"))
    need = next(one for one in evidence.header.requirements if one.stretch == "starts")
    before = len(evidence.header.references.carried[need.id].failed)
    end = ends(evidence)["starts"]
    assert before > 0
    assert end["because"] == "accepted by plan"
    assert end["at"] == STARTS.shortest
    made = [one for one in evidence.marks("start ended") if one.stretch == "starts"]
    assert len(made) == STARTS.shortest - before
