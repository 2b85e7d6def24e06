"""Whether the unit goes off in order when its own button is pressed."""

import math
from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.seeing.coverage import coverage
from soak.derive.spans import holds, touching
from soak.marks import SoftStop, facts
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.finding import Value, conclude, not_shown
from soak.rules.core.pointed_at import pointed_at
from soak.rules.core.reads import Tried
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.terms import terms
from soak.words import Amount, Message, Said, Stated, counted, msg


@terms
class SoftStopTerms:
    """How the unit is pressed off.

    Attributes
    ----------
    promised : int
        So many times its power is cut.
    button : str
        Which button it is, as the model sheet calls it.
    stop_limit_s : float
        Within so long after the press it is off in order, s.
    """

    promised: int = 0
    button: str = "its power button"
    stop_limit_s: float = 0.0


def _judge(need: Requirement, terms: SoftStopTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that at most `limit` soft stops had to be ended by cutting the power."""
    well = 0
    unseen = 0
    pointers = []
    for course in soaks:
        windows = course.windows(need.stretch)
        blind = course.blind("button")
        for mark, stop in facts(course, SoftStop):
            if not holds(mark.t_s, windows) or holds(mark.t_s, blind):
                continue
            ended = stop.ended
            limit_s = stop.limit_s
            pressed_s = mark.t_s - stop.after_s
            if ended is False and touching(pressed_s, mark.t_s, blind) is not None:
                ended = None  # the presser was lost meanwhile: nobody knows how often it pressed
            well += ended is True
            unseen += ended is None
            if ended is False:
                what = _still_on(limit_s)
                pointers.append(Pointer(course.header.soak_id, mark.t_s, mark.t_s, what))
    stuck = len(pointers)
    allowed = need.limit or 0.0
    trials = well + stuck
    detail = {"ended": well, "not ended": stuck, "unseen": unseen, "trials": trials}
    value = Value(stuck, margin=allowed - stuck, method=msg("Soft stops counted"), over=trials)
    if stuck > allowed:
        because = counted(
            stuck,
            "1 soft stop of {trials} did not end by itself.",
            "{count} soft stops of {trials} did not end by themselves.",
            trials=trials,
        )
        return conclude(
            need, Verdict.NOT_MET, because, found=value, pointers=pointers, detail=detail
        )
    why = coverage(soaks[-1], need, ()).why or _too_few(need, terms, trials)
    if why:
        return not_shown(need, why, value, pointers=pointers, detail=detail)
    because = counted(
        well,
        "It went off by itself each of 1 time.",
        "It went off by itself each of {count} times.",
    )
    return conclude(need, Verdict.MET, because, found=value, pointers=pointers, detail=detail)


def _still_on(limit_s: float) -> Message:
    limit = Amount(limit_s, "s")
    return msg("pressed off and still on after {limit}: its power was cut", limit=limit)


def _too_few(need: Requirement, terms: SoftStopTerms, trials: int) -> Message | None:
    # The first cycle of a soak finds the unit still off: there is nothing to stop.
    promised = max(1, terms.promised - 1)
    if trials >= math.ceil(promised * (1 - need.blind_allowed)):
        return None
    return msg(
        "only {seen} of {promised} soft stops were seen to their end",
        seen=trials,
        promised=promised,
    )


def _goes_off(need: Requirement, terms: SoftStopTerms) -> Message:
    return msg(
        "Pressed at {button} it goes off by itself within {limit}",
        button=_called(terms.button),
        limit=Stated(terms.stop_limit_s, "s"),
    )


def _called(button: str) -> Said:
    """Return a button as it is said: what the program calls it in the reader's language."""
    return {"its power button": msg("its power button")}.get(button, button)


SOFT_STOPS = Rule(
    name="soft stops",
    terms=SoftStopTerms,
    judge=_judge,
    demands=_goes_off,
    reads=Tried(),
    lacks=lacks.time,
    section=Section.STARTS,
    bounds=Bounds.NONE,
    beyond=pointed_at(_judge, "soft stop", "button"),
)
