"""The demo's table: what is really wrong beside what the soak found."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from soak.desk.soaking.grading import Graded
from soak.judge.explain.timeline import first_event
from soak.judge.judging import rule_of
from soak.names import named
from soak.reader import spoken
from soak.rules.starts import STARTS
from soak.sim.scene import Scene
from soak.words import NOTHING_SAID, Amount, Data, Message, Said, joined, msg, paragraph, sentence

_WIDTHS = (4, 24, 22, 25, 37)


@dataclass(frozen=True, slots=True)
class Row:
    """One unit.

    Attributes
    ----------
    truth, truth_grade : str
        From the scene.
    grade, reason : str and Message
        From the judgement.
    first : Message
        The first event against the unit.
    shows : Message
        What the evidence shows of starts.
    """

    tag: str
    truth: str
    truth_grade: str
    grade: str
    reason: Message
    first: Message
    shows: Message


def row_of(tag: str, scene: Scene, graded: Graded) -> Row:
    """Return the row of one unit."""
    first = first_event(graded.soaks)
    when = msg("none")
    if first:
        when = joined(": ", [Amount(first[1].from_s, "s"), first[1].text])
    return Row(
        tag=tag,
        truth=scene.truth,
        truth_grade=scene.truth_grade,
        grade=graded.judgement.grade,
        reason=graded.judgement.reason,
        first=when,
        shows=_shows(graded),
    )


def table(rows: Sequence[Row]) -> Data:
    """Return the table as text, at most 120 columns."""
    head = (
        msg("unit"),
        msg("what is really wrong"),
        msg("grade"),
        msg("first event"),
        msg("what the evidence shows"),
    )
    cells = [
        (row.tag, row.truth, named(row.grade), row.first, paragraph(row.shows, row.reason))
        for row in rows
    ]
    lines = [*_wrapped(head), "  ".join("-" * width for width in _WIDTHS)]
    for entry in cells:
        lines += _wrapped(entry)
    return Data("\n".join(lines))


def _wrapped(cells: Sequence[Said]) -> list[str]:
    columns = [
        textwrap.wrap(spoken(cell), width) or [""]
        for cell, width in zip(cells, _WIDTHS, strict=True)
    ]
    height = max(map(len, columns))
    padded = [column + [""] * (height - len(column)) for column in columns]
    return [
        "  ".join(part.ljust(width) for part, width in zip(line, _WIDTHS, strict=True)).rstrip()
        for line in zip(*padded, strict=True)
    ]


def _shows(graded: Graded) -> Message:
    """Return the counts of starts in one sentence."""
    findings = graded.judgement.findings
    parts = [finding for finding in findings if rule_of(finding.requirement) is STARTS]
    return sentence(words) if (words := STARTS.reads.large(parts)) else NOTHING_SAID
