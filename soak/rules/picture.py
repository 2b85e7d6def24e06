"""Whether the picture stays."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.dropouts import Episode
from soak.derive.early import early_of
from soak.derive.faults import UnitFault, terms_of
from soak.derive.losses import losses_of
from soak.derive.spans import total_s
from soak.quantities import show_duration
from soak.records import Requirement
from soak.rules.core.finding import Value, counted, not_shown, point_at, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding
from soak.statistics import bounds as statistics

_METHOD = (
    "Episodes counted while the unit had power and was started; bounds of the rate per hour after "
    "NIST/SEMATECH e-Handbook 8.4.5.1 (chi-square)"
)


def _faults(found: Sequence[Episode], source: str) -> list[UnitFault]:
    return [
        UnitFault(
            episode.from_s,
            episode.to_s,
            episode.kind,
            f"{episode.kind} ({episode.dropouts[0].state}, {show_duration(episode.longest_s)})",
            source,
        )
        for episode in found
    ]


def _settled(
    requirement: Requirement,
    soaks: Sequence[Course],
    chosen: Sequence[Sequence[Episode]],
    word: str,
    per_hour: bool = False,
) -> Finding:
    """Settle the requirement that the chosen episodes of each soak are no more than `limit`."""
    source = requirement.quantity or "capture"
    watched = [losses_of(requirement, course).watched for course in soaks]
    hours = sum(total_s(spans) for spans in watched) / 3600
    number = sum(map(len, chosen))
    early = early_of(watched, [[one.from_s for one in found] for found in chosen])
    pointers = [
        pointer
        for course, found in zip(soaks, chosen, strict=True)
        for pointer in point_at(course, _faults(found, source))
    ]
    unseen = [course.unseen(source, terms_of(requirement, course.header).bad) for course in soaks]
    covered = [
        coverage(course, requirement, holes) for course, holes in zip(soaks, unseen, strict=True)
    ]
    because = f"{counted(number, word)} in {show_duration(hours * 3600)} with power on."
    if pointers:
        because += f" First: {pointers[0].what}. Early half {early}, late half {number - early}."
    detail = {
        "count": number,
        "early": early,
        "late": number - early,
        "dropouts": sum(len(episode.dropouts) for found in chosen for episode in found),
        "hours": round(hours, 6),
        "longest_s": max((e.longest_s for found in chosen for e in found), default=0.0),
    }
    if hours <= 0 and not number:
        why = "the unit was never seen with power on and started"
        return not_shown(requirement, covered[-1].why or why, detail=detail)
    # One short loss in ten minutes is not "six an hour": the first is allowed in any hour begun.
    value = number / max(hours, 1.0) if per_hour else float(number)
    low, high = (
        statistics.rate(number, hours, requirement.confidence or 0.95)
        if hours > 0
        else (None, None)
    )
    allowed = requirement.limit or 0.0
    found_value = Value(value, low, high, allowed - value, _METHOD)
    because = because[0].upper() + because[1:]
    return settle(requirement, value <= allowed, because, found_value, covered, pointers, detail)


@rule("no dropout")
def no_dropout(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` losses were as long as `at_least_s`."""
    chosen = [losses_of(requirement, course).long for course in soaks]
    return _settled(requirement, soaks, chosen, "dropout")


@rule("no restart")
def no_restart(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the unit neither restarted nor hung by itself."""
    chosen = [
        [e for e in losses_of(requirement, course).long if e.kind in ("restart", "hang")]
        for course in soaks
    ]
    return _settled(requirement, soaks, chosen, "restart")


@rule("dropouts per hour")
def dropouts_per_hour(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that losses too short to count by themselves are rare enough."""
    chosen = [losses_of(requirement, course).short for course in soaks]
    return _settled(requirement, soaks, chosen, "short dropout", per_hour=True)
