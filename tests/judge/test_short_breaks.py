"""Short breaks of the supply, in the four degrees of IEC 61000-4-11."""

import pytest
from made_up_soak import clean_night, demand

from soak.judge.judging import judge_requirement
from soak.judge.verdict import Outcome


@pytest.mark.parametrize(
    ("outcomes", "wanted"),
    [
        (["no effect", "recovers by itself"], Outcome.MET),
        (["no effect", "needs a hand"], Outcome.NOT_MET),
        (["does not recover"], Outcome.NOT_MET),
        ([], Outcome.NOT_SHOWN),
    ],
)
def test_only_what_the_unit_mends_by_itself_is_met(outcomes, wanted):
    """Degrees A and B are met, C and D not (IEC 61000-4-11); without a break nothing is shown."""
    soak = clean_night()
    for at, outcome in enumerate(outcomes):
        told = {"number": at + 1, "off_s": 0.5, "outcome": outcome}
        soak.mark(100.0 + at, "short break", "starts", "power_cycles", **told)
    requirement = demand("short breaks", stretch="starts", check="power_cycles")
    found = judge_requirement(requirement, [soak.demanding(requirement)])
    assert found.outcome is wanted
    assert bool(found.pointers) == (wanted is Outcome.NOT_MET)
