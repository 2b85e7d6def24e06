"""How long a transfer took that was under way while the bench or the power went."""

import numpy as np
import pytest
from made_up_soak import HOT_S, STARTS_S, clean_night, demand

from soak.derive.course import course_of
from soak.judge.grade import judge
from soak.records import State
from soak.rules.core.verdict import Verdict

NO_STALL = demand("no stall", "transfer.stick.chunk_s", 5.0, check="transfer", unit="s")
ENDS_S = STARTS_S + HOT_S


def night(begun_s, told_s):
    """Return a night in which no transfer ended from `begun_s` to `told_s`, and then one did."""
    soak = clean_night()
    t_s, took_s = soak.readings["transfer.stick.chunk_s"]
    for quantity in [name for name in soak.readings if name.startswith("transfer.")]:
        own_s, value = soak.readings[quantity]
        keep = (own_s <= begun_s) | (own_s > told_s)
        soak.readings[quantity] = (own_s[keep], value[keep])
    keep = (t_s <= begun_s) | (t_s > told_s)
    at = np.searchsorted(t_s[keep], told_s)
    times = np.insert(t_s[keep], at, told_s)
    values = np.insert(took_s[keep], at, told_s - begun_s)
    soak.readings["transfer.stick.chunk_s"] = (times, values)
    soak.state_list.append(State(begun_s + 5.0, "stick", "stalled", 5.0))
    if told_s < ENDS_S - 1.0:
        soak.state_list.append(State(told_s, "stick", "seen"))
    soak.state_list.sort(key=lambda one: one.t_s)
    return soak


def found(soak):
    return judge([soak.demanding(NO_STALL)]).findings[0]


@pytest.mark.parametrize("hung_s", [8.0, 290.0, 310.0, 3600.0])
def test_a_transfer_that_hung_took_that_long_however_long_it_was(hung_s):
    """A stick that says nothing for over five minutes is one that hangs, not one unseen."""
    finding = found(night(6000.0, 6000.0 + hung_s))
    assert finding.verdict is Verdict.NOT_MET
    assert finding.value == pytest.approx(hung_s)


def test_one_that_hung_when_its_stretch_was_over_is_charged():
    """It is told as the last thing of the stretch."""
    assert found(night(ENDS_S - 8.0, ENDS_S)).value == pytest.approx(8.0)


@pytest.mark.parametrize(("before_s", "verdict"), [(8.0, Verdict.NOT_MET), (2.0, Verdict.MET)])
def test_one_during_which_the_power_went_took_what_it_took_until_then(before_s, verdict):
    """Hung for eight seconds already, it had stalled; two seconds are none."""
    soak = night(6000.0, 6030.0)
    soak.mark(6000.0 + before_s, "power", on=False, channel="1", why="")
    soak.mark(6040.0, "power", on=True, channel="1", why="")
    soak.mark_list.sort(key=lambda one: one.t_s)
    assert found(soak).verdict is verdict


@pytest.mark.parametrize("reads_well_s", [6000.0, 6006.0])
def test_a_stall_that_turns_out_to_be_the_readers_own_standing_still_was_not_seen(reads_well_s):
    """The hole begins at the last sight, though a stall was said before it was understood."""
    soak = clean_night()
    stalled = State(6005.0, "stick", "stalled", 5.0)
    after = [State(6006.0, "stick", "seen")] if reads_well_s > 6000.0 else []
    blind = State(6015.0, "stick", "blind", 6015.0 - reads_well_s, {"why": "it was stopped"})
    soak.state_list += [stalled, *after, blind, State(6016.0, "stick", "seen")]
    soak.state_list.sort(key=lambda one: one.t_s)
    assert (reads_well_s, 6016.0) in course_of(soak).blind("stick")
