"""Reads that came late, and speed that went slowly: what retries hide from the data itself."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from soak.derive.course import Course
from soak.derive.events.bouts import placed
from soak.derive.seeing.coverage import Coverage, coverage
from soak.derive.seen import trace, uninterrupted
from soak.derive.spans import Span, minus, total_s
from soak.evidence import Floats
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.bouts import by_bouts, how_often
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.port import PortTerms, on_units_port, over_words
from soak.rules.core.reads import Reads, rate
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.statistics.bounds import rate_at_least
from soak.statistics.trend import theil_sen
from soak.words import (
    NOTHING_SAID,
    Amount,
    Message,
    Number,
    Percent,
    Stated,
    counted,
    joined,
    msg,
    paragraph,
    sentence,
)

_MAD_TO_SIGMA = 1.4826
"""A median absolute deviation times this is a standard deviation of normal errors: 1 / 0.6745, by
definition."""
LATE_DEVIATIONS, LATE_LEAST_S = 10.0, 0.1
"""A read is late from so many robust standard deviations above the median, and at least so much: a
retry on USB costs a reset of the port, of which the specification gives the hub alone 10 ms to
20 ms (USB 2.0, 7.1.7.5), and a host waits longer. Both figures are our own choice."""

MOST_BINS, FEWEST_BINS = 300, 10
"""The slope is taken over medians of so many equal parts of the readings: all pairs of a night's 30
000 readings would be 450 million. Our own choice."""


@on_units_port
def _few_late_reads(need: Requirement, terms: PortTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` reads an hour were late.

    Not met where even the lower bound of the rate lies above the limit: one hiccup of the bench's
    computer in a short stretch is no rate. The margin is that of this bound. A read that was late
    only by what this computer may have waited for a processor is in doubt: where it matters whose
    those are, nothing is shown.
    """
    allowed_per_h = need.limit or 0.0
    reads = _Reads()
    for course in soaks:
        reads.take(need, course)
    number = sum(map(len, reads.late_s))
    seen_h = sum(map(total_s, reads.watched)) / 3600
    if not reads.number or seen_h <= 0:
        return not_shown(need, reads.covered[-1].why or msg("no data was read"))
    confidence = need.confidence or 0.95
    surely_per_h = rate_at_least(number, seen_h, confidence)
    per_h = number / seen_h
    method = msg(
        "Late: over median + 10 * 1.4826 * MAD; judged by the one-sided lower bound of the rate, "
        "the upper one stated, both after NIST/SEMATECH e-Handbook 8.4.5.1"
    )
    often = how_often(need, placed(zip(reads.watched, reads.late_s, strict=True)))
    margin = allowed_per_h - surely_per_h
    value = Value(per_h, bound_high=often.most_per_h, margin=margin, method=by_bouts(method))
    text = msg(
        "{counted} in {time}, surely {surely} an hour; usual is {usual}, late from {late}",
        counted=_late(number),
        time=Amount(seen_h * 3600, "s"),
        surely=Number(surely_per_h, ".3g"),
        usual=Amount(reads.usual_s, "s"),
        late=Amount(reads.from_s, "s"),
    )
    doubtful = reads.doubtful
    detail = {
        "late": number,
        "doubtful": doubtful,
        "readings": reads.number,
        "late_from_s": reads.from_s,
    }
    good = surely_per_h <= allowed_per_h
    if good and rate_at_least(number + doubtful, seen_h, confidence) > allowed_per_h:
        why = joined("; ", [text, _in_doubt(doubtful)])
        return not_shown(need, why, value, reads.pointers, detail=detail)
    doubt = sentence(_in_doubt(doubtful)) if doubtful else None
    because = paragraph(sentence(text), doubt, often.told)
    detail.update(often.detail)
    return settle(
        need,
        good,
        because,
        value,
        covered=reads.covered,
        pointers=reads.pointers,
        detail=detail,
    )


@dataclass(slots=True)
class _Reads:
    """The reads of all soaks, and those of them that came late.

    Attributes
    ----------
    number, doubtful : int
        Reads, and late ones that may only have waited for this computer.
    usual_s, from_s : float
        Usual duration of the newest soak's, and from which on one was late, s.
    watched, late_s : list
        Spans watched and late reads, s, one list each a soak.
    """

    number: int = 0
    doubtful: int = 0
    usual_s: float = 0.0
    from_s: float = 0.0
    covered: list[Coverage] = field(default_factory=list)
    pointers: list[Pointer] = field(default_factory=list)
    watched: list[list[Span]] = field(default_factory=list)
    late_s: list[list[Span]] = field(default_factory=list)

    def take(self, need: Requirement, course: Course) -> None:
        """Add those of a soak."""
        seen = uninterrupted(course, trace(course, need))
        self.covered.append(coverage(course, need, seen.unseen))
        if not len(seen.t_s):
            return
        self.usual_s, self.from_s = usual_and_late_s(seen.value)
        own = seen.value - _waited_s(course, need, seen.t_s) > self.from_s
        late = np.flatnonzero(own)
        self.doubtful += int(np.count_nonzero((seen.value > self.from_s) & ~own))
        self.number += len(seen.t_s)
        self.watched.append(minus(course.windows(need.stretch), seen.unseen))
        self.late_s.append([(float(t_s), float(t_s)) for t_s in seen.t_s[late]])
        for at in late:
            when_s = float(seen.t_s[at])
            took_s = float(seen.value[at])
            what = msg("late read ({time})", time=Amount(took_s, "s"))
            self.pointers.append(Pointer(course.header.soak_id, when_s - took_s, when_s, what))


def _waited_s(course: Course, need: Requirement, t_s: Floats) -> Floats:
    """Return how long this computer waited for a processor in each read, s; most say nothing."""
    told_s, waited_s = course.series(f"{need.quantity.removesuffix('_s')}_wait_s", need.stretch)
    if not len(told_s):
        return np.zeros(len(t_s))
    at = np.minimum(np.searchsorted(told_s, t_s), len(told_s) - 1)
    return np.where(told_s[at] == t_s, waited_s[at], 0.0)


def _in_doubt(number: int) -> Message:
    return counted(
        number,
        "1 late read may only have waited for this computer, which was busy",
        "{count} late reads may only have waited for this computer, which was busy",
        none=NOTHING_SAID,
    )


def _late(number: int) -> Message:
    return counted(number, "1 late read", "{count} late reads", none=msg("no late read"))


def usual_and_late_s(took_s: Floats) -> tuple[float, float]:
    """Return the usual duration of reads, and from which on one is late, both in s.

    References
    ----------
    Median and median absolute deviation, scaled by 1.4826 to a standard deviation: Rousseeuw and
    Croux, "Alternatives to the median absolute deviation", JASA 88 (1993) 1273-1283.
    """
    usual_s = float(np.median(took_s))
    spread_s = _MAD_TO_SIGMA * float(np.median(np.abs(took_s - usual_s)))
    return usual_s, usual_s + max(LATE_DEVIATIONS * spread_s, LATE_LEAST_S)


def _seldom_late(need: Requirement, terms: PortTerms) -> Message:
    return msg(
        "Of the reads {over_port} surely no more than {number} an hour come late (lower bound at "
        "{level} confidence)",
        over_port=over_words(terms),
        number=Number(need.limit or 0.0, "g"),
        level=Percent(need.confidence or 0.95),
    )


FEW_LATE_READS = Rule(
    name="few late reads",
    terms=PortTerms,
    judge=_few_late_reads,
    demands=_seldom_late,
    reads=Reads(bound_words=rate),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.RATE,
    unit="1/h",
)


@on_units_port
def _no_slow_drift(need: Requirement, terms: PortTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the speed does not surely fall by more than the share `limit`."""
    allowed = need.limit or 0.0
    worst: tuple[Drift, Course] | None = None
    covered = []
    for course in soaks:
        one = trace(course, need)
        covered.append(coverage(course, need, one.unseen))
        drift = drift_of(one.t_s, one.value, need.confidence or 0.95)
        if drift is not None and (worst is None or drift.least > worst[0].least):
            worst = drift, course
    if worst is None:
        why = covered[-1].why or msg("there are too few readings of speed to see a drift")
        return not_shown(need, why)
    drift, course = worst
    method = msg("Theil-Sen slope over medians of equal parts, with its confidence interval")
    value = Value(drift.lost, drift.least, drift.most, allowed - drift.least, method=method)
    what = msg("transfer speed")
    pointer = Pointer(course.header.soak_id, drift.from_s, drift.to_s, what)
    return settle(
        need, drift.least <= allowed, _drifted(drift), value, covered=covered, pointers=[pointer]
    )


class Drift(NamedTuple):
    """How a speed fell: at first in B/s, the share lost, and the bounds of that share."""

    began: float
    lost: float
    least: float
    most: float
    from_s: float
    to_s: float


def _drifted(drift: Drift) -> Message:
    began = Amount(drift.began, "B/s")
    time = Amount(drift.to_s - drift.from_s, "s")
    surely = Percent(max(0.0, drift.least), 1)
    if drift.lost >= 0:
        return msg(
            "The speed began at {began} and lost {share} over {time}; surely lost: {surely}.",
            began=began,
            share=Percent(drift.lost, 1),
            time=time,
            surely=surely,
        )
    return msg(
        "The speed began at {began} and gained {share} over {time}; surely lost: {surely}.",
        began=began,
        share=Percent(-drift.lost, 1),
        time=time,
        surely=surely,
    )


def drift_of(t_s: Floats, speed: Floats, confidence: float) -> Drift | None:
    """Return how the speed fell; None if there are too few readings.

    References
    ----------
    Theil (1950) and Sen, "Estimates of the regression coefficient based on Kendall's tau", JASA 63
    (1968) 1379-1389.
    """
    bins = min(MOST_BINS, len(t_s))
    if bins < FEWEST_BINS:
        return None
    when = np.array([np.median(part) for part in np.array_split(t_s, bins)])
    value = np.array([np.median(part) for part in np.array_split(speed, bins)])
    span_s = float(when[-1] - when[0])
    if span_s <= 0:
        return None
    slope = theil_sen(when - when[0], value, confidence)
    began = slope.intercept
    if began <= 0:
        return None
    lost, least, most = (
        -change * span_s / began for change in (slope.slope, slope.bound_high, slope.bound_low)
    )
    return Drift(began, lost, least, most, from_s=float(t_s[0]), to_s=float(t_s[-1]))


def _holds_speed(need: Requirement, terms: PortTerms) -> Message:
    return msg(
        "Reading {over_port} does not slowly lose more than {share} of its speed for sure",
        over_port=over_words(terms),
        share=Stated((need.limit or 0.0) * 100, "%"),
    )


NO_SLOW_DRIFT = Rule(
    name="no slow drift",
    terms=PortTerms,
    judge=_no_slow_drift,
    demands=_holds_speed,
    reads=Reads(as_share=True),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.OTHER,
)
