"""Whether a file that the unit serves over its network socket comes whole, and how fast."""

from collections.abc import Mapping, Sequence
from typing import Literal

import numpy as np

from soak.derive.course import Course
from soak.derive.seeing.coverage import coverage
from soak.derive.seen import trace
from soak.derive.spans import holds, touching
from soak.instruments import watchers_at
from soak.marks import FileFetched, facts
from soak.records import Mark, Requirement
from soak.rules.core import lacks
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.pointed_at import pointed_at
from soak.rules.core.reads import Reads, Side, Tried
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.states import lost
from soak.terms import terms
from soak.words import Amount, Message, counted, msg

SOURCE, RATE = "network", "network.rate"
"""Where files come from, and the quantity of how fast."""

Came = Literal["whole", "wrong", "broke off", "hung"]
"""What came of a fetch."""

FEWEST = 5
"""So many fetches make a median worth stating. Our own choice."""

_TOLD: Mapping[str, Message] = {
    "wrong": msg("the file that came differs from what was stored"),
    "broke off": msg("the fetch broke off though the network link stayed"),
    "hung": msg("the fetch hung though the network link stayed"),
}


@terms
class FetchTerms:
    """How long a fetch may take, s."""

    limit_s: float = 0.0


def _fetches(course: Course, need: Requirement) -> list[tuple[Mark, FileFetched]]:
    """Return the fetches that speak of the unit.

    Those in which the link was not seen all the time speak of the link, and count there; a unit may
    show its picture before it serves anything, so that none counts before the first that came whole
    since it has power.
    """
    windows = course.windows(need.stretch)
    unseen = course.unseen(SOURCE, lost(SOURCE, course.header.model_sheet))
    away = [(p.from_s, p.to_s) for p in course.periods(SOURCE) if p.state != "seen"]
    fetches = list[tuple[Mark, FileFetched]]()
    serves = -1
    for mark, fetched in facts(course, FileFetched):
        from_s = fetched.from_s
        powered = holding(from_s, mark.t_s, course.started)
        if powered is None or not holds(mark.t_s, windows):
            continue
        if touching(from_s, mark.t_s, [*unseen, *away]) is not None:
            continue
        serves = powered if fetched.came == "whole" else serves
        if serves == powered:
            fetches.append((mark, fetched))
    return fetches


def holding(from_s: float, to_s: float, spans: Sequence[tuple[float, float]]) -> int | None:
    """Return the number of the span that holds all of another; None if none does."""
    return next((at for at, (a, b) in enumerate(spans) if a <= from_s and to_s <= b), None)


def _judge(need: Requirement, terms: FetchTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that at most `limit` fetches came wrong, broke off or hung while the link stayed."""
    allowed = need.limit or 0.0
    tried = 0
    covered = []
    pointers: list[Pointer] = []
    for course in soaks:
        if SOURCE not in watchers_at(course.header.fixture):
            continue
        covered.append(coverage(course, need, course.blind(SOURCE)))
        own = _fetches(course, need)
        tried += len(own)
        pointers += [
            Pointer(course.header.soak_id, fetched.from_s, mark.t_s, _TOLD[fetched.came])
            for mark, fetched in own
            if fetched.came != "whole"
        ]
    if not tried:
        why = covered[-1].why if covered else None
        return not_shown(need, why or msg("nothing that the unit serves ever came"))
    failed = len(pointers)
    value = Value(failed, margin=allowed - failed, method=msg("Fetches counted"), over=tried)
    because = counted(
        tried,
        "{good} of 1 fetch came whole.",
        "{good} of {count} fetches came whole.",
        good=tried - failed,
    )
    return settle(need, failed <= allowed, because, found=value, covered=covered, pointers=pointers)


def _come_whole(need: Requirement, terms: FetchTerms) -> Message:
    return counted(
        need.limit or 0.0,
        "What the unit serves comes whole and within {time}, but for 1 time",
        "What the unit serves comes whole and within {time}, but for {count} times",
        none=msg(
            "What the unit serves comes whole and within {time}", time=Amount(terms.limit_s, "s")
        ),
        time=Amount(terms.limit_s, "s"),
    )


FETCHED_WHOLE = Rule(
    name="fetched whole",
    terms=FetchTerms,
    judge=_judge,
    demands=_come_whole,
    reads=Tried(),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.NONE,
    beyond=pointed_at(_judge, "failed fetch", SOURCE),
)


def _fast(need: Requirement, terms: FetchTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the median rate of the fetches that came whole is at least `limit`."""
    wanted = need.limit or 0.0
    covered = []
    slowest: tuple[float, Pointer] | None = None
    for course in soaks:
        one = trace(course, need)
        covered.append(coverage(course, need, course.blind(SOURCE)))
        if len(one.t_s) >= FEWEST:
            rate = float(np.median(one.value))
            what = msg("median rate {rate}", rate=Amount(rate, need.unit))
            at = Pointer(course.header.soak_id, float(one.t_s[0]), float(one.t_s[-1]), what)
            slowest = min(slowest or (rate, at), (rate, at), key=lambda found: found[0])
    if slowest is None:
        return not_shown(need, covered[-1].why or msg("too few fetches came whole"))
    rate, at = slowest
    because = msg(
        "The median rate of a fetch was {rate}; at least {wanted} is demanded.",
        rate=Amount(rate, need.unit),
        wanted=Amount(wanted, need.unit),
    )
    value = Value(rate, margin=rate - wanted, method=msg("Median of the rates of all fetches"))
    return settle(need, rate >= wanted, because, found=value, covered=covered, pointers=[at])


def _is_fast(need: Requirement, terms: FetchTerms) -> Message:
    return msg(
        "What the unit serves comes at {rate} or faster", rate=Amount(need.limit or 0.0, need.unit)
    )


FETCH_RATE = Rule(
    name="fetch rate at least",
    terms=FetchTerms,
    judge=_fast,
    demands=_is_fast,
    reads=Reads(side=Side.AT_LEAST),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.NONE,
    unit="B/s",
)
