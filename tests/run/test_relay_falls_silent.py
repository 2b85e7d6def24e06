"""A relay that does not answer an off: held, said aloud, tried again; then the soak goes on."""

import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))
from small_bench import SCRIPT, Faults, Ran, run_small_soak

GOOD_AGAIN_S = 60.0
"""docs/explanation/the-guard.md: so long must readings be good again."""
OFF_OF_SECOND_START_S = 60.0
"""Off for 20 s and on for 40 s make one start of the small bench's script."""


def what(ran: Ran) -> list[str]:
    return [mark.what for mark in ran.marks]


def ons_s(ran: Ran) -> list[float]:
    return [t_s for t_s, on in ran.world.told if on]


@pytest.mark.parametrize("away_s", [3, 30, 500])
def test_a_soak_goes_on_to_its_end_after_an_off_that_came_late(away_s):
    """A probe fell silent and the relay was away, too: off, a minute of good readings, on again."""
    ran = run_small_soak(Faults(silent=[(300, 2)], deaf=[(299, away_s)]))
    assert (ran.ended.how, ran.ended.why) == ("complete", "")
    told = what(ran)
    assert [told.count(one) for one in ("power unanswered", "alarm", "rearmed")] == [1, 1, 1]
    assert told[-1] == "off proved"
    off_s = next(t_s for t_s, on in ran.world.told if t_s >= 300 and not on)
    on_s = next(t_s for t_s in ons_s(ran) if t_s >= 300)
    assert off_s >= 299 + away_s
    assert on_s - off_s >= GOOD_AGAIN_S
    sources = {mark.detail["source"] for mark in ran.marks if mark.what == "silence"}
    assert "switch" in sources


def test_a_start_whose_off_came_late_waits_and_the_starts_go_on():
    """The relay does not answer for half a minute amid the power cycles."""
    ran = run_small_soak(Faults(deaf=[(OFF_OF_SECOND_START_S - 5, 30)]))
    assert ran.ended.how == "complete"
    assert what(ran).count("start ended") == 3
    assert what(ran).count("rearmed") == 1


def test_a_relay_that_never_answers_ends_the_soak_and_calls_a_person():
    """Ten minutes are enough: nothing more is to be seen of a unit nobody can switch."""
    ran = run_small_soak(Faults(deaf=[(OFF_OF_SECOND_START_S - 5, 1e6)]))
    assert ran.ended.how == "bench fault"
    assert "could not be switched off" in ran.ended.why
    assert ran.journal.evidence.ends_s < 1000
    assert what(ran)[-1] == "alarm"


def test_a_trip_is_said_while_the_relay_does_not_answer_and_latches():
    """It gets hot while nobody can switch it off: on record at once, and never on again."""
    ran = run_small_soak(Faults(silent=[(300, 2)], deaf=[(299, 100)], hot_from_s=350))
    trip = next(mark for mark in ran.marks if mark.what == "trip")
    assert trip.t_s <= 360
    assert what(ran).index("trip") < what(ran).index("bench well")
    assert all(t_s < 300 for t_s in ons_s(ran))
    assert "tripped" in ran.ended.why


def test_the_fourth_time_is_for_good():
    """Three are forgiven, as of a probe's silence; the fourth ends the soak."""
    spans = [(300 + 200 * number, 10) for number in range(4)]
    silent = [(at_s, 6) for at_s, _ in spans]
    script = {**SCRIPT, "stretch": [{"name": "run", "lasts": "20 min", "spots": {}}]}
    ran = run_small_soak(Faults(silent=silent, deaf=spans), script)
    assert ran.ended.how == "bench fault"
    assert "for the 4th time" in ran.ended.why
    assert what(ran).count("rearmed") == 3
    assert all(t_s < spans[-1][0] for t_s in ons_s(ran))


spans = st.lists(st.tuples(st.integers(0, 900), st.integers(1, 900)), max_size=5)


@settings(max_examples=100)
@given(st.builds(Faults, deaf=spans, silent=spans))
def test_nothing_is_switched_on_within_a_minute_of_an_off_that_was_not_answered(found):
    """Whatever order they come in: after an unanswered off nothing goes on before it is proved."""
    ran = run_small_soak(found)
    for mark in ran.marks:
        if mark.what != "power unanswered" or mark.detail["on"]:
            continue
        later = [(t_s, on) for t_s, on in ran.world.told if t_s > mark.t_s]
        on_s = next((t_s for t_s, on in later if on), None)
        if on_s is not None:
            assert not later[0][1]
            assert on_s - later[0][0] >= GOOD_AGAIN_S - 1e-6
