"""Short breaks of the supply, in the four degrees of IEC 61000-4-11."""

import pytest
from made_up_soak import clean_night, demand

from soak.judge.judging import judge_requirement
from soak.rules.core.verdict import Verdict


@pytest.mark.parametrize(
    ("degrees", "wanted"),
    [
        (["no effect", "recovers by itself"], Verdict.MET),
        (["no effect", "needs a hand"], Verdict.NOT_MET),
        (["does not recover"], Verdict.NOT_MET),
        ([], Verdict.NOT_SHOWN),
    ],
)
def test_only_what_the_unit_mends_by_itself_is_met(degrees, wanted):
    """Degrees A and B are met, C and D not (IEC 61000-4-11); without a break nothing is shown."""
    soak = clean_night()
    for at, degree in enumerate(degrees):
        told = {"number": at + 1, "off_s": 0.5, "degree": degree}
        soak.mark(100.0 + at, "short break", "starts", "power_cycles", **told)
    requirement = demand("short breaks", stretch="starts", check="power_cycles")
    found = judge_requirement(requirement, [soak.demanding(requirement)])
    assert found.verdict is wanted
    assert bool(found.pointers) == (wanted is Verdict.NOT_MET)


@pytest.mark.parametrize(
    ("upto_s", "wanted"), [(None, Verdict.MET), (0.2, Verdict.NOT_MET), (0.05, Verdict.MET)]
)
def test_a_promise_to_ride_through_allows_no_effect_at_all(upto_s, wanted):
    """Degree A only, and only of breaks as short as stated: 0.05 s bridged, 0.1 s a restart."""
    soak = clean_night()
    for at, (asked_s, degree) in enumerate([(0.05, "no effect"), (0.1, "recovers by itself")]):
        told = {"number": at + 1, "off_s": asked_s, "asked_s": asked_s, "degree": degree}
        soak.mark(100.0 + at, "short break", "starts", "supply_margin", **told)
    params = {} if upto_s is None else {"no_effect_up_to_s": upto_s}
    requirement = demand("short breaks", stretch="starts", check="supply_margin", params=params)
    found = judge_requirement(requirement, [soak.demanding(requirement)])
    assert found.verdict is wanted


def test_fewer_breaks_than_promised_show_nothing():
    """One of six was made: good, and not enough."""
    soak = clean_night()
    told = {"number": 1, "off_s": 0.1, "asked_s": 0.1, "degree": "no effect"}
    soak.mark(100.0, "short break", "starts", "supply_margin", **told)
    params = {"promised": 6}
    requirement = demand("short breaks", stretch="starts", check="supply_margin", params=params)
    found = judge_requirement(requirement, [soak.demanding(requirement)])
    assert found.verdict is Verdict.NOT_SHOWN
    assert "1 of 6" in found.because
