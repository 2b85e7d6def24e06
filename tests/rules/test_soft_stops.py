"""Soft stops: a unit that its button switches off in order, and one that must be cut off."""

import pytest
from headers import fixture_of, sheet_of
from made_up_soak import clean_night, demand

from soak.derive.electric.power import awake_windows
from soak.judge.judging import judge_requirement
from soak.records import Mark
from soak.rules.core.verdict import Verdict


def judged(ended, promised=4, needs=frozenset(), blind=None):
    """Judge a night with soft stops that ended so."""
    soak = clean_night()
    for at, how in enumerate(ended):
        told = {"ended": how, "by": "capture", "after_s": 9.0, "limit_s": 30.0, "why": ""}
        soak.mark(100.0 + 10 * at, "soft stop", "starts", "power_cycles", **told)
    requirement = demand(
        "soft stops",
        stretch="starts",
        check="power_cycles",
        limit=0.0,
        needs=needs,
        params={"promised": promised},
    )
    return judge_requirement(requirement, [soak.demanding(requirement)])


@pytest.mark.parametrize(
    ("ended", "wanted"),
    [
        ([True, True, True], Verdict.MET),  # of four cycles the first finds the unit off
        ([True, False, True], Verdict.NOT_MET),
        ([True, None, True], Verdict.NOT_SHOWN),
        ([True], Verdict.NOT_SHOWN),
        ([], Verdict.NOT_SHOWN),
    ],
)
def test_only_a_unit_that_went_off_by_itself_each_time_is_met(ended, wanted):
    """One that had to be cut is not met; one that nobody saw go is no evidence either way."""
    found = judged(ended)
    assert found.verdict is wanted
    assert bool(found.pointers) == (wanted is Verdict.NOT_MET)


def test_a_stop_in_which_the_presser_was_lost_is_not_charged_to_the_unit():
    """Pressed once or twice, nobody knows; that it was still on then is the bench's."""
    soak = clean_night()
    soak.mark(103.0, "bench fault", instrument="button")
    soak.mark(106.0, "bench well", instrument="button")
    told = {"ended": False, "by": "", "after_s": 30.0, "limit_s": 30.0, "why": ""}
    soak.mark(130.0, "soft stop", "starts", "power_cycles", **told)
    requirement = demand("soft stops", stretch="starts", check="power_cycles", limit=0.0)
    found = judge_requirement(requirement, [soak.demanding(requirement)])
    assert found.verdict is Verdict.NOT_SHOWN


def test_without_a_presser_nothing_was_tested():
    """The bench lacks the finger, so nothing is said of the unit."""
    found = judged([], needs=frozenset({"button"}))
    assert found.verdict is Verdict.NOT_TESTED
    assert "presser of its power button" in found.because


def press(t_s, does, tried_s=None):
    """Return a press, or one that was in doubt since `tried_s`."""
    told = {"does": does, "from_s": t_s if tried_s is None else tried_s}
    return Mark(t_s, "button", detail={**told, "doubtful": tried_s is not None})


PRESSED = fixture_of({"button": {"driver": "test"}, "switch": {"driver": "test"}})


@pytest.mark.parametrize(
    ("stays_off", "marks", "shown", "awake"),
    [
        (False, [], [], [(10.0, 100.0)]),
        (False, [press(80.0, "stop")], [(20.0, 81.0)], [(10.0, 80.0)]),
        (True, [], [], []),
        (True, [press(15.0, "start")], [], [(15.0, 100.0)]),
        (True, [press(70.0, "start", 15.0)], [], [(70.0, 100.0)]),  # the presser was lost
        (True, [press(15.0, "start"), press(80.0, "stop")], [(30.0, 81.0)], [(15.0, 80.0)]),
        (True, [], [(5.0, 60.0)], [(10.0, 100.0)]),  # it ran on through a knocked plug
    ],
)
def test_a_unit_is_charged_from_its_start_to_its_press(stays_off, marks, shown, awake):
    """By hand, power from 10 to 100 s: before a start and after a stop nothing is its own."""
    sheet = sheet_of({"button": {"stays_off": stays_off}})
    assert awake_windows([(10.0, 100.0)], marks, shown, sheet, PRESSED) == awake


def test_where_nothing_can_press_a_unit_that_stays_off_is_taken_as_it_is_fed():
    """Without a presser or a switch the operator starts it, and power is all that is known."""
    sheet = sheet_of({"button": {"stays_off": True}})
    unpressed = fixture_of({"switch": {"driver": "test"}})
    assert awake_windows([(10.0, 100.0)], [], [], sheet, unpressed) == [(10.0, 100.0)]
