"""Findings put together by what is demanded: one line for a buyer instead of one a stretch.

Counts add up, and what is allowed is said of each part; of measurements the one nearest its limit
speaks; the worst verdict is the verdict.
A bound stays that of the part that shows most and of each that failed: parts need not share one
chance, so no single bound is made of them.
"""

from collections.abc import Sequence
from dataclasses import replace

from soak.judge.judging import demanded
from soak.judge.worst import rank
from soak.names import named
from soak.records import Requirement
from soak.report.contents.wording import as_tested, bounds, place_of, reads_of
from soak.report.model import Together
from soak.rules.core.verdict import Finding, Verdict
from soak.words import NOTHING_SAID, Message, joined, msg, paragraph

_WORST_FIRST = (Verdict.NOT_MET, Verdict.NOT_SHOWN, Verdict.MET)


def together(findings: Sequence[Finding]) -> tuple[Together, ...]:
    """Return what was tested, a line for each demand: by verdict, the worst first, and section."""
    groups: list[list[Finding]] = []
    for finding in findings:
        if finding.verdict is not Verdict.NOT_TESTED:
            same = (group for group in groups if _alike(group[0].requirement, finding.requirement))
            group = next(same, None)
            if group is None:
                groups.append([finding])
            else:
                group.append(finding)
    groups_ = [(_verdict(parts), parts) for parts in groups]
    groups_.sort(key=lambda one: _place(*one))
    return tuple(_line(parts) for _, parts in groups_)


def _place(verdict: Verdict, parts: Sequence[Finding]) -> tuple[object, ...]:
    """Return the place of a line: by verdict, of what failed the worst first, then by section."""
    harm = rank(parts[0]) if verdict is Verdict.NOT_MET else (False, 0)
    return _WORST_FIRST.index(verdict), harm, place_of(parts[0].requirement)


def _alike(one: Requirement, other: Requirement) -> bool:
    """Tell whether two requirements demand the same, each of its own part of the script."""
    return _demand(one) == _demand(other)


def _demand(need: Requirement) -> tuple[object, ...]:
    # By what is said with its values, not by terms: the number of starts differs between parts.
    said = demanded(need).saying
    return need.check, need.quantity, need.unit, need.limit, said


def _verdict(parts: Sequence[Finding]) -> Verdict:
    verdicts = {part.verdict for part in parts}
    return next(verdict for verdict in _WORST_FIRST if verdict in verdicts)


def _line(parts: Sequence[Finding]) -> Together:
    speaks = _nearest(parts)
    verdict = _verdict(parts)
    tested = as_tested(speaks)
    reads = reads_of(speaks.requirement)
    because = [part.because for part in parts if part.verdict is verdict]
    # What is counted is read large elsewhere, with its bound beside it.
    each = len(parts) > 1 and reads.adds_up and bool(speaks.requirement.limit)
    bound = (
        NOTHING_SAID if reads.large(parts) else bounds(parts) if len(parts) > 1 else tested.bound
    )
    return Together(
        check=tested.check,
        text=tested.text,
        verdict=verdict.value,
        found=joined(", ", [reads.together(parts, speaks), *_judges(parts)]),
        limit=msg("{limit} in each part", limit=tested.limit) if each else tested.limit,
        margin=tested.margin if each else reads.margin(_summed(speaks, parts)),
        bound=bound,
        because=NOTHING_SAID if verdict is Verdict.MET else paragraph(*dict.fromkeys(because)),
        parts=tuple(map(named, dict.fromkeys(part.requirement.stretch for part in parts))),
    )


def _summed(speaks: Finding, parts: Sequence[Finding]) -> Finding:
    """Return the finding that speaks with the margin of all: where none may occur, all count."""
    margins = [part.margin for part in parts if part.margin is not None]
    if not reads_of(speaks.requirement).adds_up or not margins:
        return speaks
    return replace(speaks, margin=sum(margins))


def _judges(parts: Sequence[Finding]) -> list[Message]:
    return list(dict.fromkeys(part.judged_by for part in parts))


def _nearest(parts: Sequence[Finding]) -> Finding:
    """Return the part nearest its limit or furthest beyond it, of those with the worst verdict."""
    verdict = _verdict(parts)
    worst = [part for part in parts if part.verdict is verdict]
    findings = [part for part in worst if part.margin is not None]
    return min(findings or worst, key=lambda part: part.margin or 0.0)
