"""Whether the unit ran without a fault up to the end."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.events.faults import UnitFault, terms_of, unit_faults
from soak.derive.seeing.coverage import coverage
from soak.derive.spans import Span, common, longest_s, merged, minus, total_s
from soak.records import Requirement
from soak.rules.core.finding import Value, conclude, not_shown, point_at
from soak.rules.core.lacks import Lack
from soak.rules.core.reads import Reads, Side
from soak.rules.core.rule import Bounds, Rule, Section, Weight
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.terms import LossTerms
from soak.words import NOTHING_SAID, Amount, Message, Percent, msg

_ROUNDING_S = 2.0
"""So much less still counts as all of it: marks and stretches begin and end between readings. Our
own choice."""

_METHOD = msg(
    "Time with power on since the last fault of the unit or the last resume, blind time left out"
)


def _judge(need: Requirement, terms: LossTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the last `limit` s of observed time hold no fault of the unit.

    Only the newest soak counts, and within it only its last session: a run with a break in it is
    never put together.
    """
    course = soaks[-1]
    wanted_s = need.limit or 0.0
    counts = terms_of(need, course.header)
    faults = unit_faults(course, counts)
    if not course.session_spans:
        return not_shown(need, msg("nothing was recorded"))
    unseen = merged(
        span for source in _watching(course) for span in course.unseen(source, counts.bad)
    )
    begins_s = course.session_spans[-1][0]
    last = max(faults, key=lambda fault: fault.to_s, default=None)
    clean_from_s = max(begins_s, last.to_s if last else begins_s)
    powered = common(course.power, [(begins_s, course.ends_s)])
    clean_s = total_s(minus(common(powered, [(clean_from_s, course.ends_s)]), unseen))
    enough = bool(powered) and clean_s >= wanted_s - _ROUNDING_S
    margin_s = max(0.0, clean_s - wanted_s) if enough else clean_s - wanted_s
    value = Value(clean_s, margin=margin_s, method=_METHOD)
    shown = Amount(clean_s, "s")
    wanted = Amount(wanted_s, "s")
    if enough:
        tail = _tail(powered, unseen, wanted_s)
        why = _holed(need, course, powered, unseen=unseen, tail=tail)
        if why:
            return not_shown(need, why, value)
        because = msg(
            "The last {shown} with power on were without a fault; {wanted} are demanded.",
            shown=shown,
            wanted=wanted,
        )
        pointers = [Pointer(course.header.soak_id, *tail)]
        return conclude(need, Verdict.MET, because, found=value, pointers=pointers)
    if last is not None and last.to_s >= begins_s:
        return conclude(
            need,
            Verdict.NOT_MET,
            _after(last, shown, wanted),
            found=value,
            pointers=point_at(course, [last]),
        )
    why = coverage(course, need, unseen).why or msg(
        "only {shown} with power on were observed at the end; {wanted} are demanded",
        shown=shown,
        wanted=wanted,
    )
    return not_shown(need, why, value)


def _after(last: UnitFault, shown: Amount, wanted: Amount) -> Message:
    return msg(
        "Only {shown} of {wanted} passed without a fault after the last one, at {when}: {what}.",
        shown=shown,
        wanted=wanted,
        when=Amount(last.from_s, "s"),
        what=last.text,
    )


def _watching(course: Course) -> list[str]:
    """Return the source whose sight makes time observed."""
    if "capture" in course.roles:
        return ["capture"]  # a stick is looked at in some stretches only, and judged there
    return ["stick"] if "stick" in course.roles and course.stick_proves_unit else []


def _tail(powered: Sequence[Span], unseen: Sequence[Span], wanted_s: float) -> Span:
    """Return the span, counted back from the end, that holds `wanted_s` of observed time."""
    left_s = wanted_s
    observed = minus(powered, unseen)
    for begin_s, end_s in reversed(observed):
        if end_s - begin_s >= left_s:
            return end_s - left_s, powered[-1][1]
        left_s -= end_s - begin_s
    return observed[0][0] if observed else powered[0][0], powered[-1][1]


def _holed(
    need: Requirement,
    course: Course,
    powered: Sequence[Span],
    unseen: Sequence[Span],
    tail: Span,
) -> Message:
    """Say why the tail has too many holes; empty if it has not."""
    holes = common(common(powered, [tail]), unseen)
    length_s = total_s(common(powered, [tail]))
    allowed_s = need.longest_blind_s
    if allowed_s is not None and longest_s(holes) > allowed_s:
        return msg(
            "the bench was blind for {time} at one time in the end run",
            time=Amount(longest_s(holes), "s"),
        )
    if length_s and total_s(holes) / length_s > need.blind_allowed:
        return msg(
            "the bench was blind for {share} of the end run",
            share=Percent(total_s(holes) / length_s, 1),
        )
    if not _watching(course):
        return msg("no instrument was wired that would have seen a fault")
    return NOTHING_SAID


def _lacks(finding: Finding, terms: LossTerms, lasts_s: float | None) -> Lack:
    """Say what a fault-free end lacks; whatever it is, it is run anew in one piece."""
    wanted_s = finding.requirement.limit or 0.0
    short_s = wanted_s if finding.value is None else -(finding.margin or 0.0)
    return Lack(lacks_s=short_s if short_s > 0 else wanted_s, whole_s=wanted_s, unbroken=True)


def _free_of_faults(need: Requirement, terms: LossTerms) -> Message:
    return msg(
        "The last {time} of the soak are free of any fault of the unit",
        time=Amount(need.limit or 0.0, "s"),
    )


FAILURE_FREE = Rule(
    name="failure free",
    terms=LossTerms,
    judge=_judge,
    demands=_free_of_faults,
    reads=Reads(side=Side.AT_LEAST),
    lacks=_lacks,
    section=Section.PICTURE,
    bounds=Bounds.NONE,
    unit="s",
    weight=Weight.FOLLOWS,
    shortest_s=lambda need, terms: need.limit or 0.0,
)
