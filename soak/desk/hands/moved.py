"""What moving a plug showed, as a small table: episodes by movement, cold and hot."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from soak.derive.course import course_of
from soak.derive.events.moved import REST, Moved, movements
from soak.evidence import Evidence
from soak.frozen.shape import read_as
from soak.judge.judging import judge_requirement
from soak.quantities import show_duration, show_value
from soak.rules.by_eye import MOVED_BY_EYE
from soak.rules.core.moved_detail import MovedDetail
from soak.rules.core.verdict import Finding
from soak.rules.wiggle import NO_EPISODE_WHEN_MOVED, force_words, smallest_break
from soak.terms import MovedTerms
from soak.words import joined, sentence

_WIDEST = 24


def by_movement(evidence: Evidence) -> list[str]:
    """Return the lines; none where no plug was moved."""
    course = course_of(evidence)
    lines = []
    for need, _ in MOVED_BY_EYE.legible(course.header.requirements):
        finding = judge_requirement(need, [course])
        lines.append(str(joined(" ", [finding.because, sentence(finding.judged_by)])))
    for need, terms in NO_EPISODE_WHEN_MOVED.legible(course.header.requirements):
        found = movements(need, terms, course)
        if found and terms.sources:
            lines += _table(judge_requirement(need, [course]), terms, found)
            smallest = smallest_break(terms, course)
            lines.append(f"  not seen: breaks shorter than {smallest}")
    return lines


def by_movement_as_data(evidence: Evidence) -> list[dict[str, Any]]:
    """Return each movement with what began in it."""
    course = course_of(evidence)
    return [
        {"port": terms.port, "heat": terms.heat, **_as_data(moved)}
        for need, terms in NO_EPISODE_WHEN_MOVED.legible(course.header.requirements)
        if terms.sources
        for moved in movements(need, terms, course)
    ]


def _as_data(moved: Moved) -> dict[str, Any]:
    events = [(one.from_s, one.to_s, str(one.text)) for one in moved.events]
    return {**asdict(moved), "events": events}


def _table(finding: Finding, terms: MovedTerms, found: Sequence[Moved]) -> list[str]:
    force = force_words(terms.moved_by, terms.force_n)
    lines = [f"port {terms.port}, {terms.heat}{_spots(finding)}; {force}"]
    for name in (REST, *terms.movements):
        own = [one for one in found if one.movement == name]
        lengths = [event.to_s - event.from_s for one in own for event in one.events]
        seen = show_duration(sum(one.seen_s for one in own))
        longest = f", longest {show_duration(max(lengths))}" if lengths else ""
        bar = "*" * min(_WIDEST, len(lengths))
        lines.append(f"  {name:<6} {len(lengths):>3} in {seen:<8} {bar}{longest}".rstrip())
    compared = read_as(MovedDetail, finding.detail).rest_against_moving
    if compared and any(one.events for one in found):
        lines.append(
            f"  moving against rest: chance of so quiet a rest {compared.chance:.2g} "
            "(exact conditional test of two Poisson counts)"
        )
    return lines


def _spots(finding: Finding) -> str:
    spots = read_as(MovedDetail, finding.detail).spots_degc
    told = ", ".join(f"{name} {show_value(degc, 'degC')}" for name, degc in spots.items())
    return f" ({told})" if told else ""
