"""What the judge makes of the stored journals is what it made of them when they were frozen."""

from collections import Counter

import freeze
import pytest
from adapter import rule_names
from stored import EXPECTED, families, jobs_of

MOST_TOLD = 60
OUTCOMES = ("met", "not met", "not shown")
NEVER_AGAINST = {"heat cycles", "off proved"}
"""Rules about the bench, which never speak against a unit."""


def every_result():
    """Return all expected grades and findings."""
    return [one for family in families() for one in freeze.expected(family).items()]


@pytest.mark.parametrize("family", families())
def test_what_the_judge_makes_of_it_is_unchanged(family):
    """Grade, outcome, figures and places of each finding are those that are written down."""
    told = list(freeze.differences(freeze.expected(family), freeze.found(jobs_of(family))))
    lines = [str(one) for one in told[:MOST_TOLD]]
    assert not told, "\n".join([f"{len(told)} differences", *lines, freeze.HOW])


def test_each_expected_file_belongs_to_a_family():
    """No expectation is left behind that nothing is compared with."""
    assert sorted(path.stem for path in EXPECTED.glob("*.jsonl")) == families()


def test_every_judging_rule_is_judged_both_ways():
    """Each rule there is has findings for and against a unit, and some that show nothing."""
    seen = Counter((one["rule"], one["outcome"]) for _, one in every_result() if "outcome" in one)
    bare = {rule for rule in rule_names() for outcome in OUTCOMES if not seen[rule, outcome]}
    assert sorted(bare - NEVER_AGAINST) == []
