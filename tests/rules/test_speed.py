"""Whether data crosses a port as fast as is stated: a slow link keeps its speed all night."""

import numpy as np
import pytest
from made_up_soak import HOT_S, STARTS_S, clean_night, demand

from soak.judge.grade import judge
from soak.language import language
from soak.rules.core.verdict import Verdict
from soak.rules.speed import FEWEST, SPEED_AT_LEAST

SPEED = "transfer.stick.speed"
T_S = np.arange(STARTS_S + 10.0, STARTS_S + HOT_S, 60.0)


def night(speeds):
    """Return a clean night in which reading came at these speeds, B/s."""
    soak = clean_night()
    soak.readings[SPEED] = (T_S[: len(speeds)], np.asarray(speeds, dtype=float))
    return soak


def at_least(limit, **more):
    """Return the demand of a speed in B/s."""
    needs = frozenset({"stick"})
    return demand("speed at least", SPEED, limit, unit="B/s", check="transfer", needs=needs, **more)


def judged(speeds, limit=25e6, **more):
    """Return the finding on one night."""
    [finding] = judge([night(speeds).demanding(at_least(limit, **more))]).findings
    return finding


def test_the_median_counts_and_not_the_slowest_reading():
    """One slow piece among fast ones is no slow port: the median of 30, ..., 30, 1 MB/s is 30."""
    finding = judged([30e6] * (len(T_S) - 1) + [1e6])
    assert (finding.verdict, finding.value) == (Verdict.MET, pytest.approx(30e6))


def test_a_link_that_was_slow_from_the_beginning_is_not_met():
    """20 MB/s all night keeps its speed and is 5 MB/s short of 25 MB/s."""
    finding = judged([20e6] * len(T_S))
    assert finding.verdict == Verdict.NOT_MET
    assert SPEED_AT_LEAST.reads.margin(finding) == "5.00 MB/s short"
    told = language("de").say(finding.because)
    assert told == "Im Median kamen 20,00 MB/s; mindestens 25,00 MB/s sind verlangt."


@pytest.mark.parametrize("number", [0, 1, FEWEST - 1])
def test_a_few_readings_make_no_median(number):
    """Too few readings show nothing, whichever way they point."""
    assert judged([1e6] * number).verdict == Verdict.NOT_SHOWN
    assert judged([90e6] * number).verdict == Verdict.NOT_SHOWN


def test_a_stick_on_the_bench_says_nothing_of_the_units_port():
    """Only data that crosses the unit's own port is judged."""
    finding = judged([30e6] * len(T_S), params={"path": "bench_only"})
    assert finding.verdict == Verdict.NOT_TESTED


def test_the_limit_is_printed_in_its_own_direction():
    """A speed has to be at least what is stated."""
    need = at_least(25e6, params={"over": "front USB port"})
    terms = SPEED_AT_LEAST.terms_of(need)
    assert SPEED_AT_LEAST.reads.limit(need, terms) == "at least 25.00 MB/s"
    said = "Data read over the front USB port comes at 25.00 MB/s or faster"
    assert SPEED_AT_LEAST.demands(need, terms) == said
