"""Whether each plug-in worked, counted apart for each plug and each way up."""

from collections.abc import Mapping, Sequence
from typing import Any

from soak.derive.course import Course
from soak.quantities import show_duration
from soak.records import Mark, Requirement
from soak.rules.core.finding import Value, conclude, counted, not_shown, not_tested
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.statistics.bounds import failed_share

_METHOD = (
    "Failed plug-ins counted; bounds of the failed share after Clopper & Pearson 1934, "
    "NIST/SEMATECH e-Handbook 7.2.4.1"
)


@rule("reseats")
def reseats(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` plug-ins of one kind failed, over all soaks together."""
    if not requirement.params.get("watched", True):
        port = requirement.params.get("port") or "of the unit"
        return not_tested(requirement, f"neither link nor capture is at the port {port}")
    allowed, pointers, tries, failed, slowest_s = requirement.limit or 0.0, [], 0, 0, 0.0
    unclear = 0
    for course in soaks:
        for mark in _own(requirement, course):
            if mark.detail.get("blind") or not mark.detail.get("pulled"):
                unclear += 1
                continue
            tries += 1
            slowest_s = max(slowest_s, float(mark.detail.get("took_s") or 0.0))
            why = _failure(mark.detail, requirement)
            if why:
                failed += 1
                from_s = float(mark.detail.get("from_s", mark.t_s))
                what = f"plug-in {mark.detail.get('number')}: {why}"
                pointers.append(Pointer(course.header.soak_id, from_s, mark.t_s, what))
    promised = int(requirement.params.get("promised", 0))
    detail = {"plug_ins": tries, "failed": failed, "unclear": unclear, "slowest_s": slowest_s}
    if not tries:
        why = f"{counted(unclear, 'plug-in')} could not be followed" if unclear else "none was made"
        return not_shown(requirement, why, detail=detail)
    low, high = failed_share(failed, tries, requirement.confidence or 0.95)
    found = Value(failed, low, high, allowed - failed, _METHOD)
    because = f"{tries - failed} of {tries} plug-ins worked."
    if failed > allowed:
        because += f" First: {pointers[0].what}."
        return conclude(requirement, Verdict.NOT_MET, because, found, pointers, detail)
    if tries < promised:
        why = f"only {tries} of {promised} plug-ins could be followed"
        return not_shown(requirement, why, found, pointers, detail)
    return conclude(requirement, Verdict.MET, because, found, pointers, detail)


def _own(requirement: Requirement, course: Course) -> list[Mark]:
    plug, side = requirement.params.get("plug"), requirement.params.get("side")
    return [
        mark
        for mark in course.marks("plugged in")
        if mark.stretch == requirement.stretch
        and (mark.detail.get("plug"), mark.detail.get("side")) == (plug, side)
    ]


def _failure(detail: Mapping[str, Any], requirement: Requirement) -> str:
    """Return why a plug-in failed; empty if it worked."""
    params = requirement.params
    within_s = float(params.get("seen_within_s", 10.0))
    if not detail.get("seen"):
        return f"nothing came within {show_duration(within_s)}"
    if float(detail.get("took_s") or 0.0) > within_s:
        return f"it took {show_duration(float(detail['took_s']))}"
    if not detail.get("held"):
        return f"it went again within {show_duration(float(params.get('dwell_s', 0.0)))}, hands off"
    wanted, speed = params.get("at_least_speed_mbps"), detail.get("speed_mbps")
    if wanted and (speed is None or speed < wanted):
        return f"it came up at {speed:g} Mb/s" if speed else "its speed could not be read"
    return ""
