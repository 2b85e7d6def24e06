"""Whether the unit starts and runs at the lowest and highest voltage it is rated for."""

import math
from collections import Counter
from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.coverage import Coverage, coverage
from soak.derive.degrees import DEGREES
from soak.derive.spans import holds, merged, touching
from soak.derive.starts import start_limit_s
from soak.quantities import show_duration, show_value
from soak.records import Json, Mark, Requirement
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer

_METHOD = (
    "Starts at a declared limit of the supply counted (IEC 61000-4-11:2020, 5.1); the supply's "
    "accuracy kept clear of the limit (guard band, JCGM 106:2012), its own reading compared with it"
)


@rule("supply margin")
def supply_margin(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that at most `limit` starts at one end of the rated range failed or lost the picture.

    A trial in which the supply did not give what it was set to is none.
    """
    good: list[Json] = []
    pointers: list[Pointer] = []
    covered: list[Coverage] = []
    doubts: list[str] = []
    for course in soaks:
        here = _trials(requirement, course)
        told = [_doubt(requirement, course, mark) for mark in here]
        doubts += [why for why in told if why]
        counted = [mark for mark, why in zip(here, told, strict=True) if not why]
        good += [mark.detail for mark in counted]
        pointers += _failed(requirement, course, counted)
        covered.append(_covered(requirement, course, len(counted), doubts))
    if not good:
        why = covered[-1].why or "no start was tried"
        return not_shown(requirement, why)
    worse, allowed = len(pointers), requirement.limit or 0.0
    value = Value(worse, margin=allowed - worse, method=_METHOD)
    because = _because(requirement, good, worse)
    if pointers:
        because += f" First: {pointers[0].what}."
    return settle(
        requirement, worse <= allowed, because, value, covered, pointers, _detail(requirement, good)
    )


def _trials(requirement: Requirement, course: Course) -> list[Mark]:
    windows = course.windows(requirement.stretch)
    return [
        mark
        for mark in course.marks("supply trial")
        if mark.detail["end"] == requirement.params["end"] and holds(mark.t_s, windows)
    ]


def _doubt(requirement: Requirement, course: Course, mark: Mark) -> str:
    """Say why a trial shows nothing; empty if it does."""
    told = mark.detail
    if not told["degree"]:
        return "the unit was not seen to be off before"
    blind = merged([*course.blind("capture"), *course.blind("switch")])
    if touching(float(told["from_s"]), mark.t_s, blind) is not None:
        return "the bench was blind during it"
    within_v = float(requirement.params.get("accuracy_v") or 0.0)
    for key in ("read_v", "read_end_v"):
        if key in told and abs(told[key] - told["set_v"]) > within_v + 1e-9:
            read, asked = show_value(told[key], "V"), show_value(told["set_v"], "V")
            return f"the supply gave {read} where {asked} was set"
    return ""


def _failed(requirement: Requirement, course: Course, marks: Sequence[Mark]) -> list[Pointer]:
    stated = requirement.params.get("start_limit_s")
    limit_s = start_limit_s(course.starts, course.header.model_sheet, stated)
    found = []
    for mark in marks:
        told = mark.detail
        what = "" if told["degree"] == DEGREES[0] else str(told["degree"])
        if not what and told["took_s"] > limit_s:
            what = f"too slow ({show_duration(told['took_s'])})"
        if told.get("lost_to"):
            what = f"picture lost ({told['lost_to']}) after {show_duration(told['held_s'])}, {what}"
        if what:
            said = f"at {show_value(told['set_v'], 'V')}: {what}"
            found.append(Pointer(course.header.soak_id, float(told["from_s"]), mark.t_s, said))
    return found


def _covered(
    requirement: Requirement, course: Course, counted: int, doubts: Sequence[str]
) -> Coverage:
    plain = coverage(course, requirement, ())
    promised = int(requirement.params["promised"])
    why = plain.why
    if counted < math.ceil(promised * (1 - requirement.blind_allowed)):
        told = f"only {counted} of {promised} starts were tried to their end"
        why = why or (f"{told}; {doubts[-1]}" if doubts else told)
    return Coverage(plain.promised_s, plain.observed_s, 0.0, 0.0, why)


def _because(requirement: Requirement, good: Sequence[Json], worse: int) -> str:
    params, times = requirement.params, [one["took_s"] for one in good if one["took_s"] is not None]
    at = show_value(float(good[-1]["set_v"]), "V")
    rated, clear = (show_value(float(params[key]), "V") for key in ("rated_v", "accuracy_v"))
    slow = f", the slowest in {show_duration(max(times))}" if times else ""
    return (
        f"{len(good) - worse} of {len(good)} starts at {at} worked{slow}. The {params['end']} "
        f"rated voltage is {rated}, and the supply's accuracy of {clear} is kept clear of it."
    )


def _detail(requirement: Requirement, good: Sequence[Json]) -> Json:
    counts = Counter(str(one["degree"]) for one in good)
    return {
        "end": requirement.params["end"],
        "set_v": good[-1]["set_v"],
        "trials": len(good),
        "degrees": {word: counts[word] for word in DEGREES},
        "took_s": [one["took_s"] for one in good],
        "read_v": [one.get("read_v") for one in good],
    }
