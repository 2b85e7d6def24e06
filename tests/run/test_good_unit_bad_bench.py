"""Nothing that befalls the bench, in whatever order, makes a good unit not met."""

import sys
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))
from small_bench import FIXTURE, Faults, run_small_soak

from soak.derive.course import course_of
from soak.frozen.sheet import PowerButton
from soak.judge.judging import judge_requirement

PRESSED = {**FIXTURE, "button": {"driver": "test"}}
STOPS = PowerButton(stops=True).model_dump(mode="json")
STAYS_OFF = PowerButton(stops=True, stays_off=True).model_dump(mode="json")
STARTS = {"warm": 3, "off_s": 20, "on_s": 40, "give_up_s": 100}


def judged(faults: Faults, button: dict, **cycles: int) -> dict[str, str]:
    """Return the verdict on each demand on a unit that does all it should."""
    starts = {"name": "starts", "power_cycles": {**STARTS, **cycles}, "spots": {}, "picture": {}}
    run = {"name": "run", "lasts": "5 min", "spots": {}, "picture": {}}
    script = {"name": "small", "not_after": "3 h", "stretch": [starts, run]}
    ran = run_small_soak(faults, script, PRESSED, button=button)
    course = course_of(ran.journal.evidence)
    return {
        one.id: judge_requirement(one, [course]).verdict.value for one in course.header.requirements
    }


def spans(most: int, longest_s: int):
    return st.lists(st.tuples(st.integers(0, 700), st.integers(1, longest_s)), max_size=most)


bad_benches = st.builds(
    Faults,
    deaf=spans(1, 60),
    silent=spans(2, 200),
    presser_deaf=spans(2, 100),
    skip_at_s=st.one_of(st.just(1e9), st.floats(0, 500)),
)


@settings(max_examples=60)
@given(bad_benches)
# The presser is lost while it should start the unit, and comes back after the start was given up.
@example(Faults(presser_deaf=[(146, 92)], deaf=[(290, 39)]))
# The operator goes on amid a soft stop; amid the press that starts it.
@example(Faults(skip_at_s=63.0))
@example(Faults(skip_at_s=22.4))
def test_a_unit_that_stays_off_is_charged_with_nothing_of_the_benchs(faults):
    """Switch deaf, probe silent, presser lost, stretch left early: not shown, never not met."""
    assert "not met" not in judged(faults, STAYS_OFF).values()


@settings(max_examples=60)
@given(bad_benches)
# The guard cuts the power for longer than a start is waited for after a knocked plug.
@example(Faults(silent=[(250, 200)]))
# It gives power anew just before the start is given up: no press may stop what is coming up.
@example(Faults(silent=[(226, 25)], presser_deaf=[(0, 61)]))
def test_a_unit_whose_plug_is_knocked_is_charged_with_nothing_of_the_benchs(faults):
    """As above, with breaks of the supply that a silent probe may make long."""
    assert "not met" not in judged(faults, STOPS, quick=2).values()


@pytest.mark.parametrize("button", [STOPS, STAYS_OFF])
def test_on_a_good_bench_all_is_met(button):
    """Else the two above would say nothing."""
    assert set(judged(Faults(), button).values()) == {"met"}
