"""Whether the unit took in a stick that a small computer played, and read from it."""

from collections.abc import Callable, Sequence

from soak.derive.course import Course
from soak.derive.seeing.coverage import coverage
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.finding import Value, conclude, not_shown, not_tested
from soak.rules.core.port import PortTerms
from soak.rules.core.reads import Reads, Side
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.words import Amount, Message, Number, counted, msg

_STANDING = ("stood_in", "simulated")
_METHOD = msg("Counted on the device's side of the port")


def _taken_in(need: Requirement, terms: PortTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the unit configured the stick at least `limit` times."""
    return _at_least(need, soaks, _took)


def _read(need: Requirement, terms: PortTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the unit read at least `limit` bytes of the stick."""
    return _at_least(need, soaks, _came)


def _at_least(
    need: Requirement, soaks: Sequence[Course], told: Callable[[float, float], Message]
) -> Finding:
    """Judge by the soak with most; a count that is too small counts only without holes."""
    standing = [
        soak
        for soak in soaks
        if (link := soak.header.fixture.link) is not None and link.driver in _STANDING
    ]
    if not standing:
        return not_tested(need, msg("no stand-in was wired"))
    least = need.limit or 1.0
    summed = [_sum(need, course) for course in standing]
    known = [
        (total, course) for total, course in zip(summed, standing, strict=True) if total is not None
    ]
    if not known:
        why = coverage(standing[-1], need, standing[-1].blind("link")).why
        return not_shown(need, why or msg("the stand-in's kernel does not count it"))
    total, course = max(known, key=lambda pair: pair[0])
    covered = coverage(course, need, course.blind("link"))
    value = Value(total, margin=total - least, method=_METHOD)
    windows = course.windows(need.stretch)
    pointers = [
        Pointer(course.header.soak_id, begin_s, windows[-1][1], msg("stand-in"))
        for begin_s, _ in windows[:1]
    ]
    if not covered.enough:
        return not_shown(need, covered.why, value, pointers, covered=[covered])
    verdict = Verdict.MET if total >= least else Verdict.NOT_MET
    return conclude(
        need, verdict, told(total, least), found=value, pointers=pointers, covered=[covered]
    )


def _sum(need: Requirement, course: Course) -> float | None:
    _, values = course.series(need.quantity, need.stretch)
    return float(values.sum()) if len(values) else None


def _took(total: float, least: float) -> Message:
    return counted(
        total,
        "The unit took in the stick once; at least {least} demanded.",
        "The unit took in the stick {count} times; at least {least} demanded.",
        least=Number(least, "g"),
    )


def _came(total: float, least: float) -> Message:
    return msg(
        "The unit read {size} of the stick; at least {least} demanded.",
        size=Amount(total, "B"),
        least=Amount(least, "B"),
    )


def _at(terms: PortTerms) -> Message:
    """Say where the stick is taken in, to stand within a sentence."""
    return msg("at the {port}", port=terms.called) if terms.over else msg("at the USB port")


def _takes_in(need: Requirement, terms: PortTerms) -> Message:
    at_port = _at(terms)
    return counted(
        need.limit or 1.0,
        "The unit takes in a stick {at_port}",
        "The unit takes in a stick {at_port} at least {count} times",
        at_port=at_port,
    )


def _reads(need: Requirement, terms: PortTerms) -> Message:
    return msg(
        "The unit reads at least {size} of a stick {at_port}",
        size=Amount(need.limit or 1.0, "B"),
        at_port=_at(terms),
    )


TAKEN_IN = Rule(
    name="taken in",
    terms=PortTerms,
    judge=_taken_in,
    demands=_takes_in,
    reads=Reads(side=Side.AT_LEAST),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.NONE,
)

READ_BY_THE_UNIT = Rule(
    name="read by the unit",
    terms=PortTerms,
    judge=_read,
    demands=_reads,
    reads=Reads(side=Side.AT_LEAST),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.NONE,
    unit="B",
)
