"""Whether a fault that was seen before the repair is gone."""

from collections.abc import Sequence
from dataclasses import dataclass

from soak.derive.course import Course
from soak.derive.events.faults import UnitFault, terms_of, unit_faults
from soak.derive.jobs_before import FailureKind
from soak.derive.seeing.coverage import coverage
from soak.derive.spans import common, holds, minus, total_s
from soak.frozen.shape import as_json, kept, read_as
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.allowed import Decided
from soak.rules.core.finding import Value, conclude, not_shown, point_at, settle
from soak.rules.core.lacks import Lack
from soak.rules.core.reads import Reads
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Verdict
from soak.statistics.compare import LUCK, chance_by_luck, quiet_needed
from soak.terms import LossTerms, terms
from soak.words import Amount, Message, Percent, begin, counted, joined, msg, paragraph, sentence

_METHOD = msg(
    "Chance of such a quiet time if the fault were as frequent as before, (T0/(T0+T1))^n: exact "
    "comparison of two Poisson counts (Przyborowski & Wilenski 1940)"
)


@terms
class GoneTerms(LossTerms):
    """A fault that was seen before.

    Attributes
    ----------
    seen, seen_in_s : int and float
        How often, and in how many s of watching.
    bouts : int or None
        In so many bouts; None: nobody said, so they count as one.
    kinds : tuple of str
        Kinds of fault of the unit that are the same one come again.
    """

    seen: int
    seen_in_s: float
    bouts: int | None = None
    kinds: tuple[str, ...] = ("dropout", "restart", "hang")

    @property
    def told(self) -> int:
        """Bouts that count: faults of which nobody said how they came may be one bout."""
        return 1 if self.bouts is None else self.bouts


@kept
class _Detail:
    """What a finding says of a fault: how often and in how many s it was seen, and came again."""

    seen: int = 0
    bouts: int = 0
    seen_in_s: float = 0.0
    again: int = 0
    quiet_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gone(Decided[GoneTerms]):
    """A chance of luck; where the fault came again, how often."""

    def found(self, finding: Finding) -> Message:
        again = read_as(_Detail, finding.detail).again
        if finding.value is None and again:
            return counted(again, "came again once", "came again {count} times")
        return Reads.found(self, finding)


def _judge(need: Requirement, terms: GoneTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that a fault seen `terms.seen` times in `terms.seen_in_s` s is gone.

    Met if it never came again and the quiet time is luck with a chance of `limit` at most; what
    counts is in how many bouts it was seen. Quiet time adds up over the soaks of the job; one
    recurrence is enough against it.
    """
    allowed = _allowed(need)
    again = [_again(need, terms, course) for course in soaks]
    number = sum(map(len, again))
    quiet_s = sum(_watched_s(need, course) for course in soaks)
    chance = chance_by_luck(terms.told, terms.seen_in_s, quiet_s)
    before = _before(terms)
    detail = as_json(
        _Detail(
            seen=terms.seen,
            bouts=terms.told,
            seen_in_s=terms.seen_in_s,
            again=number,
            quiet_s=round(quiet_s, 3),
        )
    )
    if number:
        pointers = [p for c, faults in zip(soaks, again, strict=True) for p in point_at(c, faults)]
        because = paragraph(sentence(before), _came_again(number, quiet_s))
        value = Value(method=msg("Recurrences counted"), over=quiet_s)
        return conclude(
            need, Verdict.NOT_MET, because, found=value, pointers=pointers, detail=detail
        )
    value = Value(chance, margin=allowed - chance, method=_METHOD, over=quiet_s)
    quiet = msg(
        "since then {quiet} were quiet: with the fault still there the chance of that is {chance}; "
        "{allowed} is allowed",
        quiet=Amount(quiet_s, "s"),
        chance=Percent(chance, 1),
        allowed=Percent(allowed, 1),
    )
    if chance > allowed and allowed <= 0:
        why = msg(
            "no quiet time rules luck out altogether; demand more than {allowed}",
            allowed=Percent(allowed, 1),
        )
        return not_shown(need, why, value, pointers=(), detail=detail)
    if chance > allowed:
        lacking = Amount(quiet_needed(terms.told, terms.seen_in_s, allowed) - quiet_s, "s")
        more = msg("{quiet}: {time} more are needed", quiet=begin(quiet), time=lacking)
        return not_shown(need, joined(". ", [before, more]), value, pointers=(), detail=detail)
    covered = [coverage(course, need, course.unseen(_source(need))) for course in soaks]
    because = paragraph(sentence(before), sentence(quiet))
    return settle(need, True, because, found=value, covered=covered, pointers=(), detail=detail)


def _allowed(need: Requirement) -> float:
    return LUCK if need.limit is None else need.limit


def _before(terms: GoneTerms) -> Message:
    time = Amount(terms.seen_in_s, "s")
    often = counted(
        terms.seen, "before: 1 time in {time}", "before: {count} times in {time}", time=time
    )
    if terms.told >= terms.seen:
        return often
    return counted(
        terms.told,
        "{often}, which may have been 1 bout",
        "{often}, in {count} bouts",
        often=often,
    )


def _came_again(number: int, quiet_s: float) -> Message:
    return counted(
        number,
        "It came again 1 time in {time}.",
        "It came again {count} times in {time}.",
        time=Amount(quiet_s, "s"),
    )


def _source(need: Requirement) -> str:
    return need.quantity or "capture"


def _again(need: Requirement, terms: GoneTerms, course: Course) -> list[UnitFault]:
    windows = course.windows(need.stretch)
    faults = unit_faults(course, terms_of(need, course.header))
    return [fault for fault in faults if fault.kind in terms.kinds and holds(fault.from_s, windows)]


def _watched_s(need: Requirement, course: Course) -> float:
    bad = terms_of(need, course.header).bad
    started = common(course.windows(need.stretch), course.started)
    return total_s(minus(started, course.unseen(_source(need), bad)))


def _lacks(finding: Finding, terms: GoneTerms, lasts_s: float | None) -> Lack | None:
    """Say how much quiet time is lacking; that of any soak of the job counts."""
    if finding.over is None:
        return lacks.time(finding, terms, lasts_s)
    if _allowed(finding.requirement) <= 0:
        return None
    needed_s = quiet_needed(terms.told, terms.seen_in_s, _allowed(finding.requirement))
    return Lack(lacks_s=max(0.0, needed_s - finding.over), adds_up=True)


def _is_gone(need: Requirement, terms: GoneTerms) -> Message:
    return counted(
        terms.seen,
        "The loss of the picture, once in {time} before, is gone: a quiet of luck has a chance of "
        "{allowed} at most",
        "The loss of the picture, {count} times in {time} before, is gone: a quiet of luck has a "
        "chance of {allowed} at most",
        time=Amount(terms.seen_in_s, "s"),
        allowed=Percent(_allowed(need)),
    )


FAULT_GONE = Rule(
    name="fault gone",
    terms=GoneTerms,
    judge=_judge,
    demands=_is_gone,
    reads=Gone(as_share=True, decides=lambda need, terms: _allowed(need)),
    lacks=_lacks,
    section=Section.PICTURE,
    bounds=Bounds.NONE,
    failures=FailureKind.PICTURE,
)
