"""Findings put together by what is demanded: one line for a buyer instead of one a stretch.

Counts add up; of measurements the one nearest its limit speaks; the worst verdict is the verdict.
A bound stays that of the part that shows most and of each that failed: parts need not share one
chance, so no single bound is made of them.
"""

from collections.abc import Sequence

from soak.report.model import Together
from soak.report.wording import as_tested, bounds, counts_as, is_counted, trials_of, value_words
from soak.rules.core.verdict import Finding, Verdict

_WORST_FIRST = (Verdict.NOT_MET, Verdict.NOT_SHOWN, Verdict.MET)
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
        if finding.verdict is not Verdict.NOT_TESTED:
            need = finding.requirement
            groups.setdefault((need.check, need.rule, need.text or need.id), []).append(finding)
    told = [(_verdict(parts), parts) for parts in groups.values()]
    return tuple(
        _line(parts) for verdict in _WORST_FIRST for worst, parts in told if worst is verdict
    )


def _verdict(parts: Sequence[Finding]) -> Verdict:
    found = {part.verdict for part in parts}
    return next(verdict for verdict in _WORST_FIRST if verdict in found)


def _line(parts: Sequence[Finding]) -> Together:
    speaks = _nearest(parts)
    one, verdict = as_tested(speaks), _verdict(parts)
    because = [part.because for part in parts if part.verdict is verdict]
    return Together(
        check=one.check,
        text=one.text,
        verdict=verdict.value,
        found=_found(parts, one.found),
        limit=one.limit,
        margin=one.margin,
        bound="" if is_counted(speaks.requirement.rule) else _bound(parts, one.bound),
        because="" if verdict is Verdict.MET else " ".join(dict.fromkeys(because)),
        parts=tuple(dict.fromkeys(part.requirement.stretch for part in parts)),
    )


def _nearest(parts: Sequence[Finding]) -> Finding:
    """Return the part nearest its limit or furthest beyond it, of those with the worst verdict."""
    verdict = _verdict(parts)
    worst = [part for part in parts if part.verdict is verdict]
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
