"""A rate at its limit: so many as were fixed before, over all stretches, and not one more."""

import tomllib
from dataclasses import replace

import pytest
from headers import fixture_of, sheet_of
from made_up_soak import STARTS_S, clean_night, demand

from soak.checks.base import all_checks
from soak.judge.judging import judge_requirement
from soak.report.contents.wording import as_tested
from soak.rules.core.verdict import Verdict
from soak.run.script import all_requirements, script_from

HOT = STARTS_S + 3600.0
CAPTURE = {"needs": frozenset({"capture"}), "confidence": 0.95, "unit": "1/h"}
RATE = demand("dropouts per hour", "capture", 1.0, **CAPTURE)
IN_FOUR_HOURS = replace(RATE, params={**RATE.params, "over_s": 4 * 3600.0})
STRETCH = """
[[stretch]]
name = "part {number}"
lasts = "48 min"
[stretch.picture]
"""


def with_short_dropouts(number, need=IN_FOUR_HOURS):
    """Return a made-up night of four hot hours with so many short dropouts in them."""
    soak = clean_night().demanding(need)
    for at in range(number):
        soak.spell("capture", HOT + 600 * at, HOT + 600 * at + 0.1, "black")
    return soak


@pytest.mark.parametrize(("number", "verdict"), [(0, "met"), (5, "met"), (6, "not met")])
def test_as_many_may_come_as_were_fixed_before(number, verdict):
    """One an hour over four hours is five: half that rate keeps it in 98.3 % (Poisson table)."""
    found = judge_requirement(IN_FOUR_HOURS, [with_short_dropouts(number)])
    assert found.verdict == Verdict(verdict)
    assert f"{number} came; 5 were allowed in 4 h, as was fixed before." in found.because


def test_a_few_seconds_less_than_four_hours_change_nothing():
    """Four in 3.9997 h were 1.00007 an hour and not met; the count does not look at the clock."""
    soak = with_short_dropouts(4)
    soak.spell("capture", HOT + 7000.0, HOT + 7001.1, "blind")
    found = judge_requirement(IN_FOUR_HOURS, [soak])
    assert found.verdict is Verdict.MET
    said = as_tested(found)
    assert (said.found, said.limit, said.margin) == ("4 in 4 h", "at most 5 in 4 h", "1 to spare")


def test_all_stretches_that_demand_it_count_together():
    """What came in another stretch counts here, and the count is that of both."""
    other = replace(IN_FOUR_HOURS, id="starts/picture/shorter dropouts", stretch="starts")
    found = judge_requirement(other, [with_short_dropouts(6).demanding(other, IN_FOUR_HOURS)])
    assert found.verdict is Verdict.NOT_MET
    assert found.detail["together"] == 6
    assert found.detail["count"] == 0


def test_an_old_header_is_judged_by_what_its_script_demands():
    """Without the time in the demand it is the script's own: 2 h allow three."""
    soak = with_short_dropouts(4, RATE)
    script = {"stretches": [{"name": RATE.stretch, "lasts_s": 7200.0, "checks": {"picture": {}}}]}
    found = judge_requirement(RATE, [soak.with_header(script=script)])
    assert (found.detail["allowed"], found.verdict) == (3, Verdict.NOT_MET)


def test_the_count_stands_in_the_demand_before_the_soak():
    """Five stretches of 48 min demand four hours together: each says five in four hours."""
    parts = "".join(STRETCH.format(number=number) for number in range(5))
    text = f'name = "parts"\nnot_after = "9 h"\n{parts}'
    script = script_from(tomllib.loads(text), "parts.toml", all_checks())
    needs = all_requirements(
        script,
        fixture_of({"capture": {"port": "video"}}),
        sheet_of({"picture_when_on": "still", "start_s": 20.0}),
    )
    told = [need.text for need in needs if need.rule == "dropouts per hour"]
    assert (
        told == ["The picture is lost for less than 0.20 s at most 5 times in 4 h (1 an hour)"] * 5
    )
