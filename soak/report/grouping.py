"""Findings put together by what is demanded: one line for a buyer instead of one a stretch.

Counts add up; of measurements the one nearest its limit speaks; the worst outcome is the outcome.
A bound stays that of the part that shows most and of each that failed: parts need not share one
chance, so no single bound is made of them.
"""

from collections.abc import Sequence

from soak.report.model import Together
from soak.report.wording import as_tested, bounds, counts_as, is_counted, trials_of, value_words
from soak.rules.core.verdict import Finding, Outcome

_WORST_FIRST = (Outcome.NOT_MET, Outcome.NOT_SHOWN, Outcome.MET)
_COUNTS = frozenset(
    {
        "no dropout",
        "hours by plan",
        "no restart",
        "off proved",
        "no trip",
        "stick stayed",
        "link stayed",
        "link events",
        "no wrong data",
    }
)


def together(findings: Sequence[Finding]) -> tuple[Together, ...]:
    """Return what was tested, a line for each demand, those not met first."""
    groups: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in findings:
        if finding.outcome is not Outcome.NOT_TESTED:
            need = finding.requirement
            groups.setdefault((need.check, need.rule, need.text or need.id), []).append(finding)
    told = [(_outcome(parts), parts) for parts in groups.values()]
    return tuple(
        _line(parts) for outcome in _WORST_FIRST for worst, parts in told if worst is outcome
    )


def _outcome(parts: Sequence[Finding]) -> Outcome:
    found = {part.outcome for part in parts}
    return next(outcome for outcome in _WORST_FIRST if outcome in found)


def _line(parts: Sequence[Finding]) -> Together:
    speaks = _nearest(parts)
    one, outcome = as_tested(speaks), _outcome(parts)
    because = [part.because for part in parts if part.outcome is outcome]
    return Together(
        check=one.check,
        text=one.text,
        outcome=outcome.value,
        found=_found(parts, one.found),
        limit=one.limit,
        margin=one.margin,
        bound="" if is_counted(speaks.requirement.rule) else _bound(parts, one.bound),
        because="" if outcome is Outcome.MET else " ".join(dict.fromkeys(because)),
        parts=tuple(dict.fromkeys(part.requirement.stretch for part in parts)),
    )


def _nearest(parts: Sequence[Finding]) -> Finding:
    """Return the part nearest its limit or furthest beyond it, of those with the worst outcome."""
    outcome = _outcome(parts)
    worst = [part for part in parts if part.outcome is outcome]
    told = [part for part in worst if part.margin is not None]
    return min(told or worst, key=lambda part: part.margin or 0.0)


def _bound(parts: Sequence[Finding], alone: str) -> str:
    return bounds(parts) if len(parts) > 1 else alone


def _found(parts: Sequence[Finding], alone: str) -> str:
    """Add up what was counted; else what the part that speaks has found."""
    need, told = parts[0].requirement, [part for part in parts if part.value is not None]
    total = sum(part.value or 0.0 for part in told)
    if counts_as(need.rule) == "starts" and told:
        starts = sum(trials_of(part) for part in told)
        return f"{starts - round(total)} of {starts} worked" if starts else alone
    if need.rule in _COUNTS and len(told) > 1:
        return value_words(total, need)
    return alone
