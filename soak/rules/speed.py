"""Whether data crosses the unit's port as fast as the port is meant to be."""

from collections.abc import Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.seeing.coverage import coverage
from soak.derive.seen import trace
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.port import PortTerms, on_units_port, over_words
from soak.rules.core.reads import Reads, Side
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.words import Amount, Message, msg

FEWEST = 5
"""So many readings make a median worth stating. Our own choice."""


@on_units_port
def _judge(need: Requirement, terms: PortTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the median speed of reading is at least `limit`, in each soak.

    A link that was slow from the beginning keeps its speed, so only a speed that is stated finds
    it.
    """
    wanted = need.limit or 0.0
    read = []
    covered = []
    for course in soaks:
        one = trace(course, need)
        covered.append(coverage(course, need, one.unseen))
        if len(one.t_s) >= FEWEST:
            read.append((float(np.median(one.value)), course, one))
    if not read:
        return not_shown(need, covered[-1].why or msg("there are too few readings of speed"))
    slowest, course, one = min(read, key=lambda found: found[0])
    speed = Amount(slowest, need.unit)
    because = msg(
        "The median speed was {speed}; at least {wanted} is demanded.",
        speed=speed,
        wanted=Amount(wanted, need.unit),
    )
    what = msg("median speed {speed}", speed=speed)
    pointer = Pointer(course.header.soak_id, float(one.t_s[0]), float(one.t_s[-1]), what)
    value = Value(slowest, margin=slowest - wanted, method=msg("Median of the speeds read"))
    return settle(
        need, slowest >= wanted, because, found=value, covered=covered, pointers=[pointer]
    )


def _is_fast(need: Requirement, terms: PortTerms) -> Message:
    return msg(
        "Data read {over_port} comes at {speed} or faster",
        over_port=over_words(terms),
        speed=Amount(need.limit or 0.0, need.unit),
    )


SPEED_AT_LEAST = Rule(
    name="speed at least",
    terms=PortTerms,
    judge=_judge,
    demands=_is_fast,
    reads=Reads(side=Side.AT_LEAST),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.NONE,
    unit="B/s",
)
