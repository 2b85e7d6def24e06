"""Observed time: holes do not count; a stretch goes on until the judge's own rule is content."""

import sys
from pathlib import Path

import pytest
import trio
from hypothesis import example, given, settings
from hypothesis import strategies as st
from made_up_soak import SHEET, clean_night

sys.path.insert(0, str(Path(__file__).parent))
from small_bench import Faults, run_small_soak

from soak.clock import LeapingClock
from soak.derive.course import course_of
from soak.derive.seeing.observed import observed_s
from soak.journal.memory import MemoryJournal
from soak.judge.judging import judge_requirement
from soak.records import Mark, State
from soak.run.hub import Hub
from soak.run.observed import ObservedTime
from soak.run.so_far import SoFar

LASTS_S = 300.0
STEADY = {
    "name": "steady",
    "not_after": "3 h",
    "stretch": [{"name": "run", "lasts": f"{LASTS_S:g} s", "spots": {}, "picture": {}}],
}


def time_of(sources, says, lasts_s):
    """Return when a stretch of so many observed s is over, told (when, source, state) in turn."""
    clock = LeapingClock()

    async def main() -> float:
        header = clean_night().with_header(model_sheet=SHEET).header
        hub, so_far = Hub(MemoryJournal(header), print), SoFar(header)
        observed = ObservedTime("run", sources, so_far, hub, clock)
        hub.listeners += [so_far.keep, lambda r: isinstance(r, State) and observed.notice(r)]
        now_s = trio.current_time()
        hub.publish(Mark(now_s, "stretch begins", "run", detail={}))

        async def say() -> None:
            for at_s, source, state in says:
                await trio.sleep_until(at_s)
                hub.publish(State(at_s, source, state))

        async with trio.open_nursery() as nursery:
            nursery.start_soon(say)
            await observed.reached(lasts_s)
            nursery.cancel_scope.cancel()
        return trio.current_time()

    return trio.run(main, clock=clock)


def test_a_stretch_is_extended_by_exactly_the_time_the_bench_was_blind():
    """100 s of observation with 30 s of blindness in it take 130 s."""
    says = [(0, "capture", "picture"), (20, "capture", "blind"), (50, "capture", "picture")]
    assert time_of(["capture"], says, 100) == pytest.approx(130, abs=0.01)


def test_time_before_the_first_state_is_not_observed():
    """A source that has said nothing yet is not seeing."""
    assert time_of(["capture"], [(7, "capture", "black")], 10) == pytest.approx(17, abs=0.01)


def test_sources_that_do_not_belong_to_the_stretch_make_no_hole():
    """Blindness of another instrument does not stop the time."""
    says = [(0, "stick", "seen"), (1, "capture", "blind")]
    assert time_of(["stick"], says, 60) == pytest.approx(60, abs=0.01)


def spans(most: int, longest_s: int):
    return st.lists(st.tuples(st.integers(0, 700), st.integers(1, longest_s)), max_size=most)


@settings(max_examples=40)
@given(st.builds(Faults, deaf=spans(1, 60), silent=spans(3, 200)))
# The guard holds the power off for the silence of a guarding probe: that time was no soak.
@example(Faults(silent=[(100, 60)]))
def test_a_stretch_that_is_done_was_observed_by_the_judges_own_rule(faults):
    """Whatever befell the bench: nobody has to run it again for what the runner counted."""
    course = course_of(run_small_soak(faults, STEADY).journal.evidence)
    ends = [mark for mark in course.marks("stretch ends") if mark.detail["because"] == "done"]
    for mark in ends:
        sources = ["capture", "probe.hot"]
        assert observed_s(course, mark.stretch, sources) >= LASTS_S - 0.1
        for need in course.header.requirements:
            for covered in judge_requirement(need, [course]).covered:
                assert covered.observed_s >= LASTS_S - 0.1
