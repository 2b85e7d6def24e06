"""A start that was cut off: late it had failed, early it tells nothing."""

import pytest
from made_up_soak import TOOK_S, clean_night

from soak.derive.course import course_of
from soak.records import Seal, State


def cut_off(after_s, blind=False, ran_again=True):
    """Return the start 99 of a night, cut off without a picture so long after power on."""
    soak = clean_night()
    on_s = soak.ends_s + 100.0
    soak.mark(on_s, "power", on=True, channel="1", why="start")
    soak.mark(on_s, "start", "starts", "power_cycles", kind="warm", number=99, off_s=30.0)
    soak.mark(on_s + after_s, "power", on=False, channel="1", why="stopped")
    if blind:
        soak.state_list.append(State(on_s + 1.0, "capture", "blind"))
    soak.ends_s = on_s + after_s + 1.0
    if ran_again:
        on_s = soak.ends_s + 30.0
        soak.mark(on_s, "power", on=True, channel="1", why="start")
        soak.state_list.append(State(on_s + TOOK_S, "capture", "picture"))
        soak.ends_s = on_s + 100.0
    soak.seal = Seal(soak.ends_s, "stopped")
    return next(one for one in course_of(soak).starts if one.number == 99)


@pytest.mark.parametrize(
    ("after_s", "blind", "failed"),
    [(TOOK_S / 2, False, False), (TOOK_S + 1, False, True), (TOOK_S + 1, True, False)],
)
def test_only_a_start_cut_off_later_than_any_good_one_has_failed(after_s, blind, failed):
    """Before that nobody can know; later it was late; where nobody saw it, it is a hole."""
    start = cut_off(after_s, blind)
    assert bool(start.failure(60.0)) is failed
    assert bool(start.hole) is not failed


def test_of_the_last_one_nobody_knows_whether_its_power_came():
    """Nothing ran again on that channel, and no meter saw that it closed."""
    assert cut_off(TOOK_S + 1, ran_again=False).hole
    assert not cut_off(TOOK_S + 1, ran_again=False).failure(60.0)
