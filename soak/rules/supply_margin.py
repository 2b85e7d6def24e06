"""Whether the unit starts and runs at the lowest and highest voltage it is rated for."""

import math
from collections import Counter
from collections.abc import Sequence
from typing import Literal

from soak.derive.course import Course
from soak.derive.electric.supply import not_as_set
from soak.derive.said import degree_words, state_words
from soak.derive.seeing.coverage import Coverage, coverage, dead_in
from soak.derive.spans import holds, touching
from soak.derive.starting.starts import slowest
from soak.derive.starting.tried import limits_in_words
from soak.marks import DEGREES, SupplyTrial, fact_as, facts
from soak.records import Json, Mark, Requirement
from soak.rules.core import lacks
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.reads import Tried
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.terms import terms
from soak.words import (
    NOTHING_SAID,
    Amount,
    Message,
    Said,
    counted,
    joined,
    msg,
    paragraph,
    sentence,
)

_METHOD = msg(
    "Starts at a declared limit of the supply counted (IEC 61000-4-11:2020, 5.1); the supply's "
    "accuracy kept clear of the limit (guard band, JCGM 106:2012), its own reading compared with it"
)

End = Literal["lowest", "highest"]
"""An end of the rated range."""


@terms
class SupplyTerms:
    """One end of the rated range, and what is tried there.

    Attributes
    ----------
    end : str
        Which end.
    rated_v, accuracy_v : float or None
        The rated voltage there and the supply's accuracy, V; None: not stated.
    start_limit_s : float or None
        Longest time from power to picture, s; None: as derived.
    hold_s : float
        So long the picture must hold, s.
    promised : int
        So many starts are tried.
    """

    end: End
    rated_v: float | None = None
    accuracy_v: float | None = None
    start_limit_s: float | None = None
    hold_s: float
    promised: int


def _judge(need: Requirement, terms: SupplyTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that at most `limit` starts at one end of the rated range failed or lost the picture.

    A trial in which the supply did not give what it was set to is none.
    """
    good: list[SupplyTrial] = []
    pointers: list[Pointer] = []
    covered: list[Coverage] = []
    doubts: list[Message] = []
    for course in soaks:
        here = _trials(need, terms, course)
        sentences = [_doubt(terms, course, mark) for mark in here]
        doubts += [why for why in sentences if why]
        clear = [mark for mark, why in zip(here, sentences, strict=True) if not why]
        good += [fact_as(mark, SupplyTrial) for mark in clear]
        pointers += _failed(terms, course, clear)
        covered.append(_covered(need, terms, course, tried=len(clear), doubts=doubts))
    if not good:
        why = covered[-1].why or msg("no start was tried")
        return not_shown(need, why)
    worse = len(pointers)
    allowed = need.limit or 0.0
    value = Value(worse, margin=allowed - worse, method=_METHOD, over=len(good))
    because = paragraph(
        _worked(good, worse, limits_in_words(need, soaks)),
        _kept_clear(terms),
        msg("First: {what}.", what=pointers[0].what) if pointers else None,
    )
    detail = _detail(terms, good)
    return settle(
        need,
        worse <= allowed,
        because,
        found=value,
        covered=covered,
        pointers=pointers,
        detail=detail,
    )


def _trials(need: Requirement, terms: SupplyTerms, course: Course) -> list[Mark]:
    windows = course.windows(need.stretch)
    return [
        mark
        for mark, trial in facts(course, SupplyTrial)
        if trial.end == terms.end and holds(mark.t_s, windows)
    ]


def _doubt(terms: SupplyTerms, course: Course, mark: Mark) -> Message:
    """Say why a trial shows nothing; empty if it does."""
    trial = fact_as(mark, SupplyTrial)
    if trial.refused:
        return msg("the supply {refused}", refused=trial.refused)
    if not trial.degree:
        return msg("the unit was not seen to be off before")
    from_s = trial.from_s
    for source in ("capture", "switch"):
        for hole in course.holes(source):
            if touching(from_s, mark.t_s, [(hole.from_s, hole.to_s)]) is not None:
                return msg("the bench was blind during it: {why}", why=hole.why)
        if touching(from_s, mark.t_s, course.blind(source)) is not None:
            return msg("the bench was blind during it")
    return _answered_late(trial, course.start_limit(terms.start_limit_s).limit_s) or not_as_set(
        trial, terms.accuracy_v or 0.0
    )


def _answered_late(told: SupplyTrial, limit_s: float) -> Message:
    """Say that the supply answered so late that nobody knows whether the start kept its limit."""
    within_s = told.within_s
    took_s = told.took_s
    if took_s is None or not took_s <= limit_s < took_s + within_s:
        return NOTHING_SAID
    late = Amount(within_s, "s")
    return msg(
        "the supply answered {late} after it was told, so nobody knows whether the start kept its "
        "limit; look at its line and its settings",
        late=late,
    )


def _failed(terms: SupplyTerms, course: Course, marks: Sequence[Mark]) -> list[Pointer]:
    limit_s = course.start_limit(terms.start_limit_s).limit_s
    pointers = []
    for mark in marks:
        trial = fact_as(mark, SupplyTrial)
        what = joined(", ", [_lost(trial), _amiss(trial, limit_s)])
        if what:
            said = msg("at {voltage}: {what}", voltage=Amount(trial.set_v, "V"), what=what)
            pointers.append(Pointer(course.header.soak_id, trial.from_s, mark.t_s, said))
    return pointers


def _lost(told: SupplyTrial) -> Message | None:
    if not told.lost_to:
        return None
    return msg(
        "picture lost ({state}) after {time}",
        state=state_words(told.lost_to),
        time=Amount(told.held_s, "s"),
    )


def _amiss(told: SupplyTrial, limit_s: float) -> Said | None:
    if told.degree != DEGREES[0]:
        return degree_words(told.degree)
    if told.took_s is not None and told.took_s > limit_s:
        return msg("too slow ({time})", time=Amount(told.took_s, "s"))
    return None


def _covered(
    need: Requirement, terms: SupplyTerms, course: Course, tried: int, doubts: Sequence[Message]
) -> Coverage:
    plain = coverage(course, need, ())
    why = plain.why
    if tried < math.ceil(terms.promised * (1 - need.blind_allowed)):
        text = msg(
            "only {tried} of {promised} starts were tried to their end",
            tried=tried,
            promised=terms.promised,
        )
        if terms.promised == 1:
            text = msg("the start was not tried to its end")
        dead = dead_in(course, need.stretch)
        why = why or dead or joined("; ", [text, *doubts[-1:]])
    return Coverage(plain.promised_s, plain.observed_s, 0.0, longest_blind_s=0.0, why=why)


def _worked(good: Sequence[SupplyTrial], worse: int, limits: Message) -> Message:
    worked = counted(
        len(good),
        "{good} of 1 start at {voltage} worked",
        "{good} of {count} starts at {voltage} worked",
        good=len(good) - worse,
        voltage=Amount(good[-1].set_v, "V"),
    )
    return sentence(joined("; ", [joined(", ", [worked, slowest(good)]), limits]))


def _kept_clear(terms: SupplyTerms) -> Message | None:
    if terms.rated_v is None or terms.accuracy_v is None:
        return None
    rated = Amount(terms.rated_v, "V")
    clear = Amount(terms.accuracy_v, "V")
    if terms.end == "lowest":
        return msg(
            "The lowest rated voltage is {rated}, and the supply's accuracy of {clear} is kept "
            "clear of it.",
            rated=rated,
            clear=clear,
        )
    return msg(
        "The highest rated voltage is {rated}, and the supply's accuracy of {clear} is kept "
        "clear of it.",
        rated=rated,
        clear=clear,
    )


def _detail(terms: SupplyTerms, good: Sequence[SupplyTrial]) -> Json:
    counts = Counter(trial.degree for trial in good)
    return {
        "end": terms.end,
        "set_v": good[-1].set_v,
        "trials": len(good),
        "degrees": {word: counts[word] for word in DEGREES},
        "took_s": [start.took_s for start in good],
        "read_v": [start.read_v for start in good],
    }


def _starts_there(need: Requirement, terms: SupplyTerms) -> Message:
    time = Amount(terms.hold_s, "s")
    if terms.end == "lowest":
        return msg(
            "At the lowest rated voltage it starts, and its picture holds for {time}", time=time
        )
    return msg(
        "At the highest rated voltage it starts, and its picture holds for {time}", time=time
    )


SUPPLY_MARGIN = Rule(
    name="supply margin",
    terms=SupplyTerms,
    judge=_judge,
    demands=_starts_there,
    reads=Tried(),
    lacks=lacks.time,
    section=Section.SUPPLY,
    bounds=Bounds.NONE,
)
