"""What a state means: no state is two things at once, and start limits agree with one another."""

import pytest
from headers import sheet_of

from soak import states
from soak.frozen.references import StartTimes
from soak.instruments import LOSABLE

SHEETS = [
    sheet_of({"start_s": 20.0}),
    sheet_of({"start_s": 20.0, "start_limit_s": 45.0}),
    sheet_of({"start_s": 90.0, "start_limit_s": 100.0}),
    sheet_of({}),
]
every_sheet = pytest.mark.parametrize("sheet", SHEETS)


def test_no_state_shows_a_unit_off_and_alive():
    """Blind and stalled show neither, protected output only what runs, black only what does not."""
    assert not states.DARK & states.ALIVE
    told = {state: states.shows_off(state) for state in (*states.DISTURBED, *states.UNSEEN)}
    assert {state for state, off in told.items() if off is None} == {states.BLIND, states.STALLED}
    assert told[states.PROTECTED] is False
    assert told[states.BLACK] is True


@pytest.mark.parametrize("source", LOSABLE)
@pytest.mark.parametrize("promise", ["moving", "still", "may blank"])
def test_what_shows_contact_or_cannot_be_seen_is_no_loss(source, promise):
    """A state is not good and lost, but for a picture that should move."""
    lost = states.lost(source, sheet_of({"picture_when_on": promise}))
    assert not lost & states.UNSEEN
    assert lost & states.works(source) <= ({states.FROZEN} if promise == "moving" else set())
    assert lost


@every_sheet
def test_before_a_soak_has_starts_the_sheet_gives_the_limit(sheet):
    """Its own, or once and a half its usual start and a margin; 20 s where it says nothing."""
    expected = sheet.start_limit_s or 1.5 * (sheet.start_s or 20.0) + 10.0
    assert states.start_limit(sheet).limit_s == expected


@every_sheet
def test_where_a_start_is_not_judged_it_is_waited_for_longer(sheet):
    """A slow unit is not a blind bench."""
    assert states.patient_start_limit_s(sheet) > states.start_limit(sheet).limit_s


def test_the_shorter_of_what_script_and_sheet_state_counts():
    """A script is meant for many models: it does not give one more time than its sheet does."""
    for stated_s, limit_s, says in ((30.0, 30.0, "script"), (120.0, 100.0, "model sheet")):
        limit = states.start_limit(SHEETS[2], stated_s)
        assert (limit.limit_s, limit.says, limit.stated) == (limit_s, says, True)
        assert states.stated_start_limit_s(SHEETS[2], stated_s) == limit_s
    assert states.start_limit(SHEETS[0], 120.0).limit_s == 120.0
    assert states.stated_start_limit_s(SHEETS[0], None) is None


@pytest.mark.parametrize(
    ("medians", "limit_s", "says"),
    [
        ([12, 12, 12], 28.0, "units like it"),
        ([12, 12], 40.0, "usual start"),
        ([45, 45, 45], 40.0, "usual start"),
        ([], 40.0, "usual start"),
    ],
)
def test_units_like_it_draw_the_limit_closer_and_never_further(medians, limit_s, says):
    """Or each slow unit that passed would let the next be slower."""
    limit = states.start_limit(SHEETS[0], like=[StartTimes(median_s=one) for one in medians])
    assert (limit.limit_s, limit.says) == (limit_s, says)
    stated = states.start_limit(SHEETS[1], like=[StartTimes(median_s=one) for one in medians])
    assert stated.limit_s == 45.0


def test_a_units_own_starts_draw_it_closer_and_never_further():
    """Twice their median and a margin, where nobody stated a limit (common practice)."""
    limit = states.start_limit(SHEETS[0])
    assert states.drawn_closer(limit, [8.0, 9.0, 30.0]) == states.StartLimit(28.0, "own starts")
    assert states.drawn_closer(limit, [45.0, 45.0, 45.0]) == limit
    assert states.drawn_closer(limit, []) == limit
    stated = states.start_limit(SHEETS[1])
    assert states.drawn_closer(stated, [8.0, 8.0, 8.0]) == stated
