"""What a unit draws in each of its states, and whether it grows."""

import numpy as np
import pytest
from made_up_soak import FIXTURE, QUANTITIES, clean_night, demand
from scipy.stats import theilslopes

from soak.derive.course import course_of
from soak.derive.electric.currents import BLOCK_S, creep_of, currents, working_spans
from soak.judge.judging import judge_requirement
from soak.quantities import Quantity
from soak.rules.core.verdict import Verdict

EVERY_S = 5.0
SUPPLY = {"spot": "", "unit": "A", "accuracy": 0.02}


def night(current_a):
    """Return a clean night on which a probe reads a function of soak time, 0 while it is off."""
    soak = clean_night()
    fixture = {**FIXTURE, "probe": {**FIXTURE["probe"], "supply": SUPPLY}}
    quantity = Quantity("probe.supply", "A", "probe.supply", 0.001, 0.02)
    soak = soak.with_header(fixture=fixture, quantities=(*QUANTITIES, quantity))
    t_s = np.arange(0.0, soak.ends_s, EVERY_S)
    on = np.zeros(len(t_s), bool)
    for begin_s, end_s in course_of(soak).power:
        on |= (t_s > begin_s) & (t_s < end_s)
    soak.readings["probe.supply"] = (t_s, np.where(on, current_a(t_s), 0.0))
    return soak


def at_most(limit: float, working: str = "running"):
    return demand(
        "drawn",
        "probe.supply",
        limit,
        unit="A",
        guarded=True,
        check="current_draw",
        stretch="hot run",
        confidence=0.95,
        params={"working_state": working},
    )


def steady(t_s):
    return np.full(len(t_s), 0.85)


def growing(t_s):
    return 0.85 + 0.05 * t_s / 3600


@pytest.mark.parametrize(
    ("limit", "wanted"),
    [(0.90, Verdict.MET), (0.86, Verdict.NOT_SHOWN), (0.80, Verdict.NOT_MET)],
)
def test_a_current_is_held_to_its_limit_with_the_accuracy_kept_clear(limit, wanted):
    """0.85 A within 0.02 A against three limits (guard band of JCGM 106:2012, by hand)."""
    soak = night(steady)
    begin_s, end_s = soak.windows("hot run")[0]
    detail = {"working_state": "running", "from_s": begin_s + 300.0}
    soak.mark(begin_s + 900.0, "working state", "hot run", "current_draw", **detail)
    demanded = at_most(limit)
    found = judge_requirement(demanded, [soak.demanding(demanded)])
    assert found.verdict is wanted
    assert end_s > begin_s + 900.0


def test_a_working_state_that_was_never_reached_shows_nothing():
    """No standby was read: neither for the unit nor against it."""
    demanded = at_most(0.1, "standby")
    found = judge_requirement(demanded, [night(steady).demanding(demanded)])
    assert found.verdict is Verdict.NOT_SHOWN
    assert "standby" in found.because


def test_states_are_kept_apart():
    """Off reads nothing; running and starting are what the probe read then (made so)."""
    states = {one.state: one for one in currents(course_of(night(steady)))}
    assert set(states) == {"running", "starting", "off"}
    assert (states["off"].median, states["running"].median) == (0.0, 0.85)


def test_a_current_that_grows_is_told_with_its_slope():
    """0.05 A an hour as made; the slope over block medians is that of scipy.stats.theilslopes."""
    course = course_of(night(growing))
    creep = creep_of(course, "probe.supply")
    assert creep is not None
    assert creep.sure
    t_s, value = course.series("probe.supply")
    kept = [(t_s >= begin_s + 2.0) & (t_s <= end_s) for begin_s, end_s in course.started]
    here = np.any(kept, axis=0)
    number = np.floor_divide(t_s[here], BLOCK_S)
    blocks = [number == one for one in np.unique(number)]
    when = [np.median(t_s[here][one]) / 3600 for one in blocks]
    middle = [np.median(value[here][one]) for one in blocks]
    assert creep.per_h == pytest.approx(theilslopes(middle, when)[0], rel=1e-9)
    assert creep.per_h == pytest.approx(0.05, rel=0.02)


def test_what_is_close_to_the_limit_is_what_was_drawn_and_not_its_growth():
    """Medians lie within 0.02 A of a limit; that they grow is a sentence of its own."""
    soak = night(growing)
    begin_s, end_s = soak.windows("hot run")[0]
    detail = {"working_state": "running", "from_s": begin_s + 300.0}
    soak.mark(end_s - 300.0, "working state", "hot run", "current_draw", **detail)
    drew = judge_requirement(at_most(9.0), [soak.demanding(at_most(9.0))]).value
    demanded = at_most(round(drew, 3) + 0.01)
    found = judge_requirement(demanded, [soak.demanding(demanded)])
    assert found.verdict is Verdict.NOT_SHOWN
    assert found.why.endswith("which is closer than the accuracy of 0.020 A")
    assert "an hour" not in found.why
    assert found.because.endswith(". At work it grew by 0.050 A an hour.")


def test_noise_is_no_trend():
    """Of 40 nights of even current with noise none is said to grow: both sure and a fiftieth."""
    chance = np.random.default_rng(7)
    for _ in range(40):
        found = creep_of(
            course_of(night(lambda t: 0.85 + chance.normal(0, 0.02, len(t)))), "probe.supply"
        )
        assert found is not None
        assert not found.sure


def test_a_working_state_in_which_the_power_was_cut_is_none():
    """The guard cut it, and on again the unit was at work: no reading of its standby."""
    soak = clean_night()
    before, after = course_of(soak).power[:2]
    whole = (before[0] + 1.0, before[1] - 1.0)
    for from_s, to_s in (whole, (before[1] - 5.0, after[0] + 5.0)):
        soak.mark(
            to_s, "working state", "starts", "current_draw", working_state="standby", from_s=from_s
        )
    assert working_spans(course_of(soak), "standby") == [whole]
