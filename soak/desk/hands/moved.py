"""What moving a plug showed, as a small table: episodes by movement, cold and hot."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from soak.derive.course import course_of
from soak.derive.events.moved import REST, Moved, movements
from soak.evidence import Evidence
from soak.frozen.shape import read_as
from soak.judge.judging import judge_requirement
from soak.reader import spoken
from soak.rules.by_eye import MOVED_BY_EYE
from soak.rules.core.moved_detail import MovedDetail
from soak.rules.core.verdict import Finding
from soak.rules.wiggle import (
    NO_EPISODE_WHEN_MOVED,
    force_words,
    heat_words,
    movement_words,
    smallest_break,
)
from soak.terms import MovedTerms
from soak.words import (
    Amount,
    Message,
    Number,
    in_brackets,
    indented,
    joined,
    just,
    msg,
    sentence,
)

_WIDEST = 24


def by_movement(evidence: Evidence) -> list[Message]:
    """Return the lines; none where no plug was moved."""
    course = course_of(evidence)
    lines: list[Message] = []
    for need, _ in MOVED_BY_EYE.legible(course.header.requirements):
        finding = judge_requirement(need, [course])
        lines.append(joined(" ", [finding.because, sentence(finding.judged_by)]))
    for need, terms in NO_EPISODE_WHEN_MOVED.legible(course.header.requirements):
        moves = movements(need, terms, course)
        if moves and terms.sources:
            lines += _table(judge_requirement(need, [course]), terms, moves)
            smallest = smallest_break(terms, course)
            unseen = msg("not seen: breaks shorter than {smallest}", smallest=smallest)
            lines.append(indented(unseen))
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
    events = [(event.from_s, event.to_s, str(event.text)) for event in moved.events]
    return {**asdict(moved), "events": events}


def _table(finding: Finding, terms: MovedTerms, found: Sequence[Moved]) -> list[Message]:
    force = force_words(terms.moved_by, terms.force_n)
    at = msg("port {port}, {heat}", port=terms.port, heat=heat_words(terms.heat))
    lines = [joined("; ", [joined(" ", [at, _spots(finding)]), force])]
    for name in (REST, *terms.movements):
        own = [moved for moved in found if moved.movement == name]
        lengths = [event.to_s - event.from_s for move in own for event in move.events]
        lines.append(_line(name, lengths, sum(move.seen_s for move in own)))
    compared = read_as(MovedDetail, finding.detail).rest_against_moving
    if compared and any(move.events for move in found):
        quiet = msg(
            "moving against rest: chance of so quiet a rest {chance} (exact conditional test of "
            "two Poisson counts)",
            chance=Number(compared.chance, ".2g"),
        )
        lines.append(indented(quiet))
    return lines


def _line(name: str, lengths: Sequence[float], seen_s: float) -> Message:
    """Return a row of the table, its columns as wide as the reader's words need."""
    movement = spoken(movement_words(name))
    counted_in = spoken(msg("{count} in {time}", count=len(lengths), time=Amount(seen_s, "s")))
    bar = "*" * min(_WIDEST, len(lengths))
    row = f"  {movement:<8} {counted_in:<14} {bar}".rstrip()
    if not lengths:
        return just(row)
    return joined(", ", [row, msg("longest {time}", time=Amount(max(lengths), "s"))])


def _spots(finding: Finding) -> Message | None:
    spots = read_as(MovedDetail, finding.detail).spots_degc
    sentences = [joined(" ", [name, Amount(degc, "degC")]) for name, degc in spots.items()]
    return in_brackets(joined(", ", sentences)) if sentences else None
