"""What the unit draws from its supply in one of its working states."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from soak.derive.course import Course
from soak.derive.electric.currents import creep_of, working_spans
from soak.derive.seeing.coverage import coverage
from soak.derive.seen import trace
from soak.derive.spans import inside
from soak.records import Json, Requirement
from soak.rules.core import lacks
from soak.rules.core.bands import accuracy_of, guarded
from soak.rules.core.finding import not_shown
from soak.rules.core.reads import Reads, accuracy
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.terms import terms
from soak.words import NOTHING_SAID, Amount, Message, Stated, just, msg, paragraph

_FEWEST = 5
"""Fewer readings of a working state show nothing. Our own choice."""

Working = Literal["running", "idle", "standby"]
"""The working states that a unit is read in."""


@terms
class DrawnTerms:
    """In which working state the unit is read."""

    working_state: Working


def _judge(need: Requirement, terms: DrawnTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the median of a working state's readings is not above `limit`; the highest counts.

    Whether it grew while the unit was at work is told beside it.
    """
    working = terms.working_state
    pointers: list[tuple[float, Course, Pointer, int]] = []
    covered = []
    for course in soaks:
        one = trace(course, need)
        covered.append(coverage(course, need, one.unseen))
        spans = working_spans(course, working, need.stretch)
        value = one.value[inside(one.t_s, spans)]
        if len(value) >= _FEWEST:
            middle = float(np.median(value))
            where = (course.header.soak_id, spans[0][0], spans[-1][1])
            pointer = Pointer(*where, just(Amount(middle, need.unit)))
            pointers.append((middle, course, pointer, len(value)))
    if not pointers:
        return not_shown(need, covered[-1].why or _too_short(working))
    middle, course, pointer, readings = max(pointers, key=lambda one: one[0])
    limit = need.limit or 0.0
    sentence = _told(working, Amount(middle, need.unit), readings, Amount(limit, need.unit))
    detail: Json = {"working_state": working, "readings": readings}
    known = accuracy_of(course, need.quantity)
    judged = guarded(
        need,
        middle,
        limit - middle,
        accuracy=known,
        told=sentence,
        covered=covered,
        pointers=[pointer],
        detail=detail,
    )
    grew = _grew(course, need) if working == "running" else NOTHING_SAID
    return replace(judged, because=paragraph(judged.because, grew))


def _too_short(working: Working) -> Message:
    if working == "running":
        return msg("it was not read long enough at work")
    if working == "idle":
        return msg("it was not read long enough doing nothing")
    return msg("it was not read long enough in its own standby")


def _told(working: Working, value: Amount, readings: int, limit: Amount) -> Message:
    if working == "running":
        return msg(
            "it drew {value} at work (median of {readings} readings); the limit is {limit}",
            value=value,
            readings=readings,
            limit=limit,
        )
    if working == "idle":
        return msg(
            "it drew {value} doing nothing (median of {readings} readings); the limit is {limit}",
            value=value,
            readings=readings,
            limit=limit,
        )
    return msg(
        "it drew {value} in its own standby (median of {readings} readings); the limit is {limit}",
        value=value,
        readings=readings,
        limit=limit,
    )


def _grew(course: Course, need: Requirement) -> Message:
    creep = creep_of(course, need.quantity, need.confidence or 0.95)
    if creep is None or not creep.sure:
        return NOTHING_SAID
    change = Amount(abs(creep.per_h), need.unit)
    if creep.per_h > 0:
        return msg("At work it grew by {change} an hour.", change=change)
    return msg("At work it fell by {change} an hour.", change=change)


def _demands(need: Requirement, terms: DrawnTerms) -> Message:
    limit = Stated(need.limit or 0.0, need.unit)
    amount = msg("at most {limit}", limit=limit) if need.limit else msg("nothing")
    if terms.working_state == "running":
        return msg("At work it draws {amount} from its supply", amount=amount)
    if terms.working_state == "idle":
        return msg("Doing nothing it draws {amount} from its supply", amount=amount)
    return msg("In its own standby it draws {amount} from its supply", amount=amount)


DRAWN = Rule(
    name="drawn",
    terms=DrawnTerms,
    judge=_judge,
    demands=_demands,
    reads=Reads(bound_words=accuracy),
    lacks=lacks.time,
    section=Section.SUPPLY,
    bounds=Bounds.ACCURACY,
    unit=None,
)
