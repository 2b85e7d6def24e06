"""Whether the unit goes off in order when its own button is pressed."""

import math
from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.spans import holds, touching
from soak.quantities import show_duration
from soak.records import Requirement
from soak.rules.core.finding import Value, conclude, counted, not_shown
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer, Verdict

_METHOD = "Soft stops counted"


@rule("soft stops")
def soft_stops(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that at most `limit` soft stops had to be ended by cutting the power."""
    well, unseen, pointers = 0, 0, []
    for course in soaks:
        windows, blind = course.windows(requirement.stretch), course.blind("button")
        for mark in course.marks("soft stop"):
            if not holds(mark.t_s, windows) or holds(mark.t_s, blind):
                continue
            ended, limit_s = mark.detail["ended"], show_duration(float(mark.detail["limit_s"]))
            pressed_s = mark.t_s - float(mark.detail["after_s"])
            if ended is False and touching(pressed_s, mark.t_s, blind) is not None:
                ended = None  # the presser was lost meanwhile: nobody knows how often it pressed
            well += ended is True
            unseen += ended is None
            if ended is False:
                what = f"pressed off and still on after {limit_s}: its power was cut"
                pointers.append(Pointer(course.header.soak_id, mark.t_s, mark.t_s, what))
    stuck, allowed = len(pointers), requirement.limit or 0.0
    detail = {"ended": well, "not ended": stuck, "unseen": unseen, "trials": well + stuck}
    found = Value(stuck, margin=allowed - stuck, method=_METHOD)
    if stuck > allowed:
        itself = "itself" if stuck == 1 else "themselves"
        because = f"{counted(stuck, 'soft stop')} of {well + stuck} did not end by {itself}."
        return conclude(requirement, Verdict.NOT_MET, because, found, pointers, detail)
    # The first cycle of a soak finds the unit still off: there is nothing to stop.
    promised = max(1, int(requirement.params.get("promised", 0)) - 1)
    wanted = math.ceil(promised * (1 - requirement.blind_allowed))
    why = coverage(soaks[-1], requirement, ()).why
    if well + stuck < wanted:
        why = why or f"only {well + stuck} of {promised} soft stops were seen to their end"
    if why:
        return not_shown(requirement, why, found, pointers, detail)
    because = f"It went off by itself each of {counted(well, 'time')}."
    return conclude(requirement, Verdict.MET, because, found, pointers, detail)
