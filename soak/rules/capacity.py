"""Whether a stick that was filled once holds what it claims."""

from collections.abc import Sequence
from dataclasses import replace

from soak.derive.course import Course
from soak.derive.seeing.coverage import covered_while_written
from soak.marks import CapacityTried, facts
from soak.records import Mark, Requirement
from soak.rules.core import lacks
from soak.rules.core.finding import Value, not_shown, not_tested, settle
from soak.rules.core.port import BENCH_ONLY, PortTerms
from soak.rules.core.reads import Reads
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.words import Message, Stated, msg, paragraph


def _judge(need: Requirement, terms: PortTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that what was written to all there is room for came back."""
    covered = []
    stated = []
    for course in soaks:
        covered.append(covered_while_written(course, need, course.unseen("stick")))
        tried = [fact for fact in facts(course, CapacityTried) if fact[0].stretch == need.stretch]
        stated += [(course, mark, capacity) for mark, capacity in tried]
    if not stated:
        why = msg("the stick was not filled and read back within the stretch")
        return not_shown(need, covered[-1].why or why)
    course, mark, capacity = max(stated, key=lambda one: _lost_bytes(one[2]))
    lost = _lost_bytes(capacity)
    words = _in_words(capacity)
    if terms.on_the_bench:  # the bench's own stick, not the unit
        untested = not_tested(need, BENCH_ONLY)
        return replace(untested, aside=paragraph(words, _ANOTHER)) if lost else untested
    value = Value(float(lost), margin=-float(lost), method=_METHOD)
    return settle(
        need, lost == 0, words, found=value, covered=covered, pointers=[_pointer(course, mark)]
    )


_METHOD = msg("Bytes that did not come back")
_ANOTHER = msg("Take another stick.")


def _lost_bytes(capacity: CapacityTried) -> int:
    """Return the bytes that are claimed, or were tried, and are not held."""
    wraps = capacity.wraps_bytes is not None
    against_bytes = capacity.claims_bytes if wraps else capacity.tried_bytes
    return max(0, against_bytes - capacity.holds_bytes)


def _in_words(capacity: CapacityTried) -> Message:
    """Say what a stick claims and what it holds."""
    claims = _size(capacity.claims_bytes)
    holds = _size(capacity.holds_bytes)
    tried = _size(capacity.tried_bytes)
    if capacity.wraps_bytes is not None:
        return msg(
            "The stick claims {claims}, holds {holds}: beyond that its addresses begin anew.",
            claims=claims,
            holds=holds,
        )
    if _lost_bytes(capacity):
        return msg(
            "The stick claims {claims}, holds {holds} of {tried} tried: the rest is lost.",
            claims=claims,
            holds=holds,
            tried=tried,
        )
    return msg(
        "The stick claims {claims}; all {tried} tried came back right.", claims=claims, tried=tried
    )


def _size(size_bytes: int) -> Stated:
    """Say a size as sticks are labelled: `64 GB`, not `64.00 GB`."""
    for unit, one in (("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if size_bytes >= one:
            return Stated(round(size_bytes / one, 1), unit)
    return Stated(size_bytes, "B")


def _pointer(course: Course, mark: Mark) -> Pointer:
    what = msg("stick filled and read back")
    return Pointer(course.header.soak_id, mark.t_s, mark.t_s, what)


def _demands(need: Requirement, terms: PortTerms) -> Message:
    return msg("The stick holds what it claims")


HOLDS = Rule(
    name="holds what it claims",
    terms=PortTerms,
    judge=_judge,
    demands=_demands,
    reads=Reads(),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.NONE,
    unit="B",
)
