"""Whether the picture keeps its colours, its pixels and its lines."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.events.bouts import placed
from soak.derive.events.faults import UnitFault
from soak.derive.said import state_words
from soak.derive.seeing import holes
from soak.derive.seeing.coverage import coverage_besides
from soak.derive.seeing.holes import Period
from soak.derive.spans import Span, common, holds, merged, minus, total_s
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.bouts import by_bouts, how_often
from soak.rules.core.finding import Value, not_shown, point_at, settle
from soak.rules.core.hourly import (
    Hourly,
    HourlyReads,
    HourlyTerms,
    allowed_by,
    at_that_rate,
    by_the_hour,
    hourly,
)
from soak.rules.core.reads import Counted, rate
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding
from soak.states import EPISODE_GAP_S, UNSEEN
from soak.terms import LossTerms
from soak.words import Amount, Message, counted, msg, paragraph, sentence

CLEAN = "clean"
_METHOD = msg(
    "Counted; one-sided upper bound of the rate per hour after "
    "NIST/SEMATECH e-Handbook 8.4.5.1 (chi-square)"
)
_NOT_LOOKED = msg("the picture was not looked at closely enough to see it")


def _no_tint(need: Requirement, terms: LossTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that no colour lane is lost or stuck more often than `limit`."""
    return _settled(need, soaks)


def _no_torn(need: Requirement, terms: LossTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that lines are torn or shifted no more often than `limit`."""
    return _settled(need, soaks)


def _seldom_sparkles(need: Requirement, terms: HourlyTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that sparkle comes no more often than was allowed before, over all stretches."""
    return _settled(need, soaks, hourly(need, terms, soaks, _here))


def _here(need: Requirement, course: Course) -> list[UnitFault]:
    windows = course.windows(need.stretch)
    return [
        fine_fault
        for fine_fault in _fine_faults(course, need.quantity)
        if holds(fine_fault.from_s, windows)
    ]


def _periods(course: Course, source: str) -> list[Period]:
    return holes.periods(course.states(source), course.session_spans, None)


def _fine_faults(course: Course, source: str) -> list[UnitFault]:
    """Return the fine faults of one kind while the unit was started, close ones joined."""
    faults: list[UnitFault] = []
    for period in _periods(course, source):
        if period.state == CLEAN or period.state in UNSEEN:
            continue
        if not common([(period.from_s, period.to_s)], course.started):
            continue
        from_s = period.from_s
        if faults and from_s - faults[-1].to_s <= EPISODE_GAP_S:
            from_s = faults.pop().from_s
        text = msg(
            "{state} ({time})",
            state=state_words(period.state),
            time=Amount(period.to_s - from_s, "s"),
        )
        faults.append(UnitFault(from_s, period.to_s, period.state, text=text, source=source))
    return faults


def _not_looked(course: Course, source: str) -> list[Span]:
    """Return when the unit was started and nobody looked at its picture closely."""
    blind = [(p.from_s, p.to_s) for p in _periods(course, source) if p.state in UNSEEN]
    return common(blind, course.started)


def _settled(
    need: Requirement, soaks: Sequence[Course], together: Hourly[UnitFault] | None = None
) -> Finding:
    allowed = need.limit or 0.0
    pointers = []
    covered = []
    watched = []
    times = []
    for course in soaks:
        windows = course.windows(need.stretch)
        here = _here(need, course)
        times.append([(fault.from_s, fault.to_s) for fault in here])
        pointers += point_at(course, here)
        unseen = course.unseen("capture")
        hidden = _not_looked(course, need.quantity)
        covered.append(coverage_besides(course, need, unseen, hidden=hidden, why=_NOT_LOOKED))
        watched.append(minus(common(windows, course.started), merged([*unseen, *hidden])))
    number = sum(map(len, times))
    seen_s = sum(map(total_s, watched))
    if seen_s <= 0:
        return not_shown(need, covered[-1].why or _NOT_LOOKED)
    often = how_often(need, placed(zip(watched, times, strict=True)))
    time = Amount(seen_s, "s")
    fault = state_words(need.quantity.rpartition(".")[2])
    text = counted(
        number,
        "{fault} once in {time}",
        "{fault} {count} times in {time}",
        none=msg("no {fault} in {time}", fault=fault, time=time),
        fault=fault,
        time=time,
    )
    margin = allowed - number
    value = Value(
        number, bound_high=often.most_per_h, margin=margin, method=by_bouts(_METHOD), over=seen_s
    )
    if together is None:
        because = paragraph(sentence(text), often.told)
        return settle(
            need,
            number <= allowed,
            because,
            found=value,
            covered=covered,
            pointers=pointers,
            detail=often.detail,
        )
    because = paragraph(sentence(text), together.words, often.told)
    detail = {**often.detail, **together.detail}
    value = by_the_hour(value, together)
    return settle(
        need, together.good, because, found=value, covered=covered, pointers=pointers, detail=detail
    )


def _keeps_colours(need: Requirement, terms: LossTerms) -> Message:
    return counted(
        need.limit or 0.0,
        "No colour of the picture is lost or stuck more than once",
        "No colour of the picture is lost or stuck more than {count} times",
        none=msg("No colour of the picture is lost or stuck"),
    )


def _keeps_lines(need: Requirement, terms: LossTerms) -> Message:
    return counted(
        need.limit or 0.0,
        "No lines of the picture are torn or shifted more than once",
        "No lines of the picture are torn or shifted more than {count} times",
        none=msg("No lines of the picture are torn or shifted"),
    )


def _keeps_pixels(need: Requirement, terms: HourlyTerms) -> Message:
    allowed = allowed_by(need, terms)
    if allowed is not None and need.limit:
        return counted(
            allowed,
            "The picture does not sparkle more than once in {time} ({rate} an hour)",
            "The picture does not sparkle more than {count} times in {time} ({rate} an hour)",
            none=msg("The picture does not sparkle"),
            time=Amount(terms.over_s or 0.0, "s"),
            rate=at_that_rate(need),
        )
    return counted(
        need.limit or 0.0,
        "The picture does not sparkle more than once an hour",
        "The picture does not sparkle more than {count} times an hour",
        none=msg("The picture does not sparkle"),
    )


NO_TINT = Rule(
    name="no tint",
    terms=LossTerms,
    judge=_no_tint,
    demands=_keeps_colours,
    reads=Counted(bound_words=rate),
    lacks=lacks.time,
    section=Section.PICTURE,
    bounds=Bounds.RATE,
    anywhere=True,
)

NO_TORN = Rule(
    name="no torn",
    terms=LossTerms,
    judge=_no_torn,
    demands=_keeps_lines,
    reads=Counted(bound_words=rate),
    lacks=lacks.time,
    section=Section.PICTURE,
    bounds=Bounds.RATE,
    anywhere=True,
)

SPARKLE_PER_HOUR = Rule(
    name="sparkle per hour",
    terms=HourlyTerms,
    judge=_seldom_sparkles,
    demands=_keeps_pixels,
    reads=HourlyReads(bound_words=rate),
    lacks=lacks.time,
    section=Section.PICTURE,
    bounds=Bounds.RATE,
    unit="1/h",
    anywhere=True,
)
