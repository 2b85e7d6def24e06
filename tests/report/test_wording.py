"""Findings in words."""

import pytest

from soak.records import Requirement
from soak.report.contents.wording import as_tested, counts_of
from soak.rules.core.verdict import Finding, Verdict
from soak.words import just


def finding(rule: str, **given) -> Finding:
    """Return a finding of a rule with the given numbers."""
    need = Requirement(
        id="s/c/x",
        check="c",
        stretch="s",
        text="t",
        quantity=given.pop("quantity", "capture"),
        rule=rule,
        limit=given.pop("limit", 0.0),
        unit=given.pop("unit", "1"),
        confidence=given.pop("confidence", 0.95),
        params=given.pop("params", {}),
    )
    plain = {"value": 0.0, "bound_low": None, "bound_high": None, "margin": 0.0, "detail": {}}
    numbers = {**plain, **given}
    return Finding(
        need,
        numbers.pop("verdict", Verdict.MET),
        numbers["value"],
        numbers["bound_low"],
        numbers["bound_high"],
        numbers["margin"],
        just("m"),
        just("b"),
        over=numbers.get("over"),
        detail=numbers["detail"],
    )


def test_no_break_in_four_hours_is_counted_and_bounded_as_a_rate():
    """0 in 4 h at 95 %: rate below 3.00/4 h = 0.749 per h, that is 1 in 1 h 20 min."""
    # chi-square bound -ln(0.05)/T: NIST/SEMATECH e-Handbook 8.4.5.1, zero-failure case.
    (count,) = counts_of([finding("no dropout", bound_high=0.7489, over=4 * 3600.0)])
    assert count.large == "0 breaks in the picture in 4 h"
    assert "less often than 1 bout in 1 h 20 min" in count.small


def test_a_rate_has_one_bound_with_a_break_seen_as_with_none():
    """Which side is stated was chosen before anything was counted: the upper one."""
    said = as_tested(finding("no restart", value=1.0, bound_high=1.0, margin=-1.0))
    assert said.bound == "Less often than 1 bout in 1 h of such running (95 % confidence)"


@pytest.mark.parametrize(
    ("rule", "given", "found", "limit", "margin"),
    [
        ("at most", {"unit": "degC", "value": 71.5, "limit": 70.0, "margin": -1.5},
         "71.5 °C", "at most 70.0 °C", "1.5 K over"),
        ("at least", {"unit": "V", "value": 4.9, "limit": 4.75, "margin": 0.15},
         "4.90 V", "at least 4.75 V", "0.15 V to spare"),
        ("speed kept", {"value": 0.97, "limit": 0.6, "margin": 0.37},
         "97 %", "at least 60 %", "37 % to spare"),
        ("no stall", {"unit": "s", "value": 1.25, "limit": 5.0, "margin": 3.75},
         "1.25 s", "at most 5 s", "3.75 s to spare"),
        ("starts", {"value": 2.0, "margin": -2.0, "over": 60.0},
         "58 of 60 worked", "none may fail", "2 over"),
        ("answered", {"value": None, "params": {"wanted": "yes"}, "detail": {"answer": "no"}},
         "no", "yes", "–"),
        ("at most", {"verdict": Verdict.NOT_TESTED, "value": None, "limit": 1.0},
         "not measured", "at most 1", "–"),
    ],
)  # fmt: skip
def test_found_limit_and_margin_read_plainly(rule, given, found, limit, margin):
    """Each kind of requirement is printed with its measurement unit and side of the limit."""
    said = as_tested(finding(rule, **given))
    assert (said.found, said.limit, said.margin) == (found, limit, margin)


@pytest.mark.parametrize(
    ("rule", "given", "limit"),
    [
        ("at least speed", {"unit": "Mb/s", "limit": 480.0}, "at least 480 Mb/s"),
        ("at least", {"unit": "V", "limit": 4.75}, "at least 4.75 V"),
        ("speed kept", {"limit": 0.6}, "at least 60 %"),
        ("starts", {"limit": 2.0}, "at most 2 failed"),
        ("port voltage", {"unit": "V", "limit": 4.75}, "–"),
        ("answered", {"limit": None}, "–"),
    ],
)
def test_a_limit_keeps_its_side_where_the_terms_cannot_be_read(rule, given, limit):
    """The side is the rule's own; what only the terms would tell is not guessed."""
    unreadable = {"params": {"of another version": 1}}
    said = as_tested(finding(rule, verdict=Verdict.NOT_SHOWN, value=None, **given, **unreadable))
    assert said.limit == limit


def test_a_limit_of_an_unknown_rule_is_said_without_a_side():
    """Nobody here knows on which side of it a value would be good."""
    given = {"verdict": Verdict.NOT_SHOWN, "value": None, "unit": "V"}
    assert as_tested(finding("of a later version", limit=4.75, **given)).limit == "4.75 V"
    assert as_tested(finding("of a later version", limit=None, **given)).limit == "–"


def test_data_is_counted_in_what_was_written():
    """No wrong byte of 8 GB is a count to be read large."""
    (count,) = counts_of([finding("no wrong data", unit="B", over=8e9)])
    assert count.large == "all of 8.00 GB written came back right"


def test_wrong_bytes_are_counted_though_nothing_was_written():
    """A check that only reads writes nothing; what came back wrong is read large all the same."""
    bad = {"verdict": Verdict.NOT_MET, "value": 512.0, "margin": -512.0}
    (count,) = counts_of([finding("no wrong data", unit="B", over=0.0, **bad)])
    assert count.large == "512 B did not come back right"
    assert counts_of([finding("no wrong data", unit="B", over=0.0)]) == ()


def test_parts_are_counted_together_and_bounded_apart():
    """60 warm and 3 cold starts are 63 starts, but each part keeps the bound of its own chance."""
    # 1 - 0.05^(1/60) = 4.87 %, 1 - 0.05^(1/3) = 63.2 %: success-run theorem, 1 - C = R^n.
    warm = finding("starts", bound_high=0.0487, over=60.0)
    cold = finding("starts", bound_high=0.632, over=3.0)
    (count,) = counts_of([warm, cold])
    assert count.large == "63 of 63 starts worked"
    assert "below 4.9 %" in count.small
    assert as_tested(cold).bound == "Share of failed starts below 63.2 % (95 % confidence)"
    assert count.small == "s: share of failed starts below 4.9 % (95 % confidence)"


def test_a_rate_is_never_called_the_instruments_accuracy():
    """A stick that stayed has a rate's bound even where no confidence was asked for."""
    said = as_tested(finding("stick stayed", bound_high=0.75, confidence=None))
    assert said.bound == "Less often than 1 bout in 1 h 20 min of such running (95 % confidence)"


def test_the_bound_of_a_part_that_failed_is_beside_the_count():
    """A part with failures is not hidden behind the one that shows most."""
    good = finding("starts", bound_high=0.0487, over=60.0)
    bad = finding("starts", value=2.0, bound_high=0.99, over=3.0)
    (count,) = counts_of([good, bad])
    assert count.large == "61 of 63 starts worked"
    assert "share of failed starts below 99.0 %" in count.small
