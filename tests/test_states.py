"""What a state means: no state is two things at once, and start limits agree with one another."""

import pytest

from soak import states
from soak.derive import starts

SHEETS = [
    {"start_s": 20.0},
    {"start_s": 20.0, "start_limit_s": 45.0},
    {"start_s": 90.0, "start_limit_s": 100.0},
    {},
]
every_sheet = pytest.mark.parametrize("sheet", SHEETS)


def test_no_state_shows_a_unit_off_and_alive():
    """Blind and stalled show neither, protected output only what runs, black only what does not."""
    assert not states.DARK & states.ALIVE
    told = {state: states.shows_off(state) for state in (*states.DISTURBED, *states.UNSEEN)}
    assert {state for state, off in told.items() if off is None} == {states.BLIND, states.STALLED}
    assert told[states.PROTECTED] is False
    assert told[states.BLACK] is True


@pytest.mark.parametrize("source", [*states.LOSABLE, "probe.heatsink", "switch"])
@pytest.mark.parametrize("promise", ["moving", "still", "may blank"])
def test_what_shows_contact_or_cannot_be_seen_is_no_loss(source, promise):
    """A state is not good and lost, but for a picture that should move."""
    lost = states.lost(source, {"picture_when_on": promise})
    assert not lost & states.UNSEEN
    assert lost & states.works(source) <= ({states.FROZEN} if promise == "moving" else set())
    assert bool(lost) == (source in states.LOSABLE)


@every_sheet
def test_before_a_soak_has_starts_the_judgement_waits_as_long_as_the_runner(sheet):
    """By the sheet's limit, or twice its usual start and a margin; 20 s where it says nothing."""
    assert starts.start_limit_s([], sheet) == states.start_limit_s(sheet)
    expected = sheet.get("start_limit_s") or 2 * sheet.get("start_s", 20.0) + 10.0
    assert states.start_limit_s(sheet) == expected


@every_sheet
def test_where_a_start_is_not_judged_it_is_waited_for_longer(sheet):
    """A slow unit is not a blind bench."""
    assert states.patient_start_limit_s(sheet) > states.start_limit_s(sheet)


def test_what_a_script_states_goes_before_the_model_sheet():
    """A start limit in the script is meant for just this soak."""
    assert states.start_limit_s(SHEETS[1], 30.0) == 30.0
