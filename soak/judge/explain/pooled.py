"""A soak's counts beside those of earlier units of the same model and repair: shown, never graded.

The counts of the others are frozen in the header (`references.pool`) before anything is
measured; they are references to look at, and no judging rule reads them.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from soak.derive.course import Course
from soak.derive.events.faults import picture_faults, terms_of
from soak.derive.spans import minus, total_s
from soak.derive.starting.starts import undecided
from soak.derive.strata import kind_of
from soak.frozen.references import Counts
from soak.judge.explain.pooling import (
    Shrunk,
    shrunk_rate,
    shrunk_share,
    usual_rate,
    usual_share,
)
from soak.words import Amount, Message, Number, Percent, counted, msg

CONFIDENCE = 0.90
"""What is stated of the interval beside like units. Our own choice."""
MASS = 0.93
"""How much of what is likely the interval takes in, so that it holds what is stated: beside five
units, or where they differ much, one of 0.90 held in 0.85 (`benchmarks/like_units.py`). Our own
choice."""

SHORTEST_H = 1 / 60
"""A unit watched for less says nothing of losses an hour (our own choice)."""


@dataclass(frozen=True, slots=True)
class Beside:
    """One figure of this unit beside what is usual.

    Attributes
    ----------
    of_starts : bool
        Whether it is of warm starts; else of losses of the picture.
    units : int
        From how many earlier units.
    found : Shrunk
        Failed share, or losses of the picture per hour.
    own : Message
        This unit's own count in words.
    """

    of_starts: bool
    units: int
    found: Shrunk
    own: Message


def counts_of(course: Course) -> Counts:
    """Return what a soak adds to a pool: warm starts and failed ones, hours and picture faults."""
    limit_s = course.start_limit().limit_s
    unseen = course.holes("capture")
    warm = [
        start
        for start in course.starts
        if kind_of(start) == "warm" and not start.hole and not undecided(start, limit_s, unseen)
    ]
    terms = terms_of(None, course.header)
    watched = minus(course.started, course.unseen("capture", terms.bad))
    return Counts(
        starts=len(warm),
        failed=sum(bool(start.failure(limit_s)) for start in warm),
        hours=round(total_s(watched) / 3600, 6),
        faults=len(picture_faults(course, terms)),
    )


def beside(pool: Sequence[Counts], soaks: Sequence[Course]) -> list[Beside]:
    """Set the counts of one job beside a pool; empty where the pool is too small to say anything.

    Parameters
    ----------
    pool : sequence of Counts
        One entry a unit, as `counts_of` gives them.
    soaks : sequence of Course
        The soaks of this job.
    """
    if not pool:
        return []
    own = _summed([counts_of(course) for course in soaks])
    besides = []
    tried = [entry for entry in pool if entry.starts]
    usual = usual_share([entry.failed for entry in tried], [entry.starts for entry in tried])
    if usual and own.starts:
        shrunk = shrunk_share(own.failed, own.starts, usual, MASS)
        words = msg("{failed} of {starts} failed", failed=own.failed, starts=own.starts)
        besides.append(Beside(True, usual.units, shrunk, words))
    watched = [entry for entry in pool if entry.hours >= SHORTEST_H]
    often = usual_rate([entry.faults for entry in watched], [entry.hours for entry in watched])
    if often and own.hours > 0:
        shrunk = shrunk_rate(own.faults, own.hours, often, MASS)
        words = counted(
            own.faults,
            "1 loss in {time}",
            "{count} losses in {time}",
            none=msg("no loss in {time}", time=Amount(own.hours * 3600, "s")),
            time=Amount(own.hours * 3600, "s"),
        )
        besides.append(Beside(False, often.units, shrunk, words))
    return besides


def in_words(one: Beside) -> Message:
    """Say it in one line: own count, what is usual, in between, and how far it was pulled."""
    shrunk = one.found
    share = one.of_starts

    def figure(value: float) -> Message:
        if share:
            return msg("{share} %", share=Number(100 * value))
        return msg("{rate} an hour", rate=Number(value))

    return msg(
        "{what}: {own}; usual over {units} earlier units of this model and repair is {usual}; both "
        "together {mean} ({low} to {high}, {level}), the others count {weight}",
        what=msg("warm starts") if share else msg("picture"),
        own=one.own,
        units=one.units,
        usual=figure(shrunk.pooled),
        mean=figure(shrunk.mean),
        low=figure(shrunk.bound_low),
        high=figure(shrunk.bound_high),
        level=Percent(CONFIDENCE),
        weight=Percent(shrunk.weight),
    )


def _summed(counts: Sequence[Counts]) -> Counts:
    return Counts(
        starts=sum(unit.starts for unit in counts),
        failed=sum(unit.failed for unit in counts),
        hours=sum(unit.hours for unit in counts),
        faults=sum(unit.faults for unit in counts),
    )
