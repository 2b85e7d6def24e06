"""Whether a USB port gives its voltage under load, and how far it droops."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from soak.derive.course import Course
from soak.derive.electric.load_seen import load_unseen
from soak.derive.seeing.coverage import Coverage, coverage
from soak.derive.spans import Span, common, inside, minus
from soak.evidence import Floats
from soak.marks import LoadSwitched, fact_as
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.bands import accuracy_of, guarded
from soak.rules.core.finding import not_shown
from soak.rules.core.reads import NONE, Reads, Side, accuracy
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.terms import terms
from soak.words import NOTHING_SAID, Amount, Message, Number, Stated, counted, msg

FEWEST = 3
"""So few readings on either side of a switching say nothing. Our own choice."""


@terms
class LoadTerms:
    """How the load is put on a port.

    Attributes
    ----------
    port : str
        The port that is loaded.
    settles_s : float
        Readings so shortly after a switching are left out, s.
    promised : int
        How often the load is put on.
    """

    port: str = ""
    settles_s: float = 1.0
    promised: int = 1


@terms
class VoltageTerms(LoadTerms):
    """What a port must give.

    Attributes
    ----------
    low_v, high_v : float
        Its lowest and highest voltage, V.
    current_a : float or None
        What the load draws at least, A.
    """

    low_v: float
    high_v: float
    current_a: float | None = None


@dataclass(frozen=True, slots=True)
class _Read:
    """Readings of one soak, with the load on and off, while the unit was started."""

    course: Course
    on: tuple[Floats, Floats]
    off: tuple[Floats, Floats]
    times: int


@dataclass(frozen=True, slots=True)
class _Extreme:
    """A reading, how far it is from the nearer limit, and whether the load was on."""

    margin_v: float
    value_v: float
    t_s: float
    loaded: bool
    course: Course


def _voltage(need: Requirement, terms: VoltageTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the port's voltage stays between `low_v` and `high_v`, loaded and not."""
    read, covered, why = _gathered(need, terms, soaks)
    if why:
        return not_shown(need, why)
    worst = min(_extremes(read, terms), key=lambda extreme: extreme.margin_v)
    course = worst.course
    pointers = [Pointer(course.header.soak_id, worst.t_s, worst.t_s, _where(worst))]
    detail = {
        "loaded_lowest_v": min(float(port.on[1].min()) for port in read),
        "unloaded_highest_v": max(float(port.off[1].max()) for port in read),
        "droop_v": max(_droop_v(port) for port in read),
    }
    known = accuracy_of(course, need.quantity)
    sentence = _nearest(worst, terms)
    finding = guarded(
        need,
        worst.value_v,
        worst.margin_v,
        accuracy=known,
        told=sentence,
        covered=covered,
        pointers=pointers,
        detail=detail,
    )
    return _if_it_drew(finding, terms, [port.course for port in read])


def _extremes(read: Sequence[_Read], terms: VoltageTerms) -> Iterator[_Extreme]:
    for port in read:
        for loaded, (t_s, value) in ((True, port.on), (False, port.off)):
            margins = np.minimum(value - terms.low_v, terms.high_v - value)
            at = int(np.argmin(margins))
            yield _Extreme(
                float(margins[at]),
                float(value[at]),
                float(t_s[at]),
                loaded=loaded,
                course=port.course,
            )


def _nearest(worst: _Extreme, terms: VoltageTerms) -> Message:
    value = Number(worst.value_v, ".3f")
    time = Amount(worst.t_s, "s")
    low = Number(terms.low_v, "g")
    high = Number(terms.high_v, "g")
    if worst.loaded:
        return msg(
            "the reading nearest to a limit, with load, was {value} V at {time}; the limits are "
            "{low} and {high} V",
            value=value,
            time=time,
            low=low,
            high=high,
        )
    return msg(
        "the reading nearest to a limit, without load, was {value} V at {time}; the limits are "
        "{low} and {high} V",
        value=value,
        time=time,
        low=low,
        high=high,
    )


def _where(worst: _Extreme) -> Message:
    value = Number(worst.value_v, ".3f")
    if worst.loaded:
        return msg("{value} V with load", value=value)
    return msg("{value} V without load", value=value)


def _droop(need: Requirement, terms: LoadTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the voltage falls by at most `limit` V when the load comes."""
    read, covered, why = _gathered(need, terms, soaks, settles=False)
    if why:
        return not_shown(need, why)
    worst = max(read, key=_droop_v)
    droop_v = _droop_v(worst)
    limit_v = need.limit or 0.0
    when_s = float(worst.on[0][int(np.argmin(worst.on[1]))])
    droop = Number(droop_v, ".3f")
    sentence = msg(
        "it fell by {droop} V; the limit is {limit}", droop=droop, limit=Stated(limit_v, "V")
    )
    what = msg("{droop} V lower", droop=droop)
    pointers = [Pointer(worst.course.header.soak_id, when_s, when_s, what)]
    # A difference of two readings of one meter: its constant error falls out, its noise does not;
    # the stated accuracy is kept clear all the same.
    known = accuracy_of(worst.course, need.quantity)
    finding = guarded(
        need,
        droop_v,
        limit_v - droop_v,
        accuracy=known,
        told=sentence,
        covered=covered,
        pointers=pointers,
        detail={},
    )
    return _if_it_drew(finding, terms, [port.course for port in read])


def _if_it_drew(found: Finding, terms: LoadTerms, soaks: Sequence[Course]) -> Finding:
    """Show nothing by a load that drew nothing; what was too much without it is too much."""
    need = found.requirement
    for course in soaks if found.verdict is Verdict.MET else ():
        loaded = _loaded(course, need.stretch)
        why = load_unseen(
            course, need.stretch, terms.port, loaded=loaded, settles_s=terms.settles_s
        )
        if why:
            return not_shown(need, why)
    return found


def _droop_v(one: _Read) -> float:
    return float(np.median(one.off[1]) - one.on[1].min())


def _gathered(
    need: Requirement, terms: LoadTerms, soaks: Sequence[Course], settles: bool = True
) -> tuple[list[_Read], list[Coverage], Message]:
    """Return readings and coverage of each soak, and why they are not enough."""
    read = []
    covered = []
    for course in soaks:
        blind = course.blind(need.quantity)
        covered.append(coverage(course, need, blind))
        one = _read(need, terms, course, blind=blind, settles=settles)
        if one is not None:
            read.append(one)
    if not read:
        why = covered[-1].why if covered else NOTHING_SAID
        return [], covered, why or msg("there are no readings with and without the load")
    times = sum(load.times for load in read)
    return read, covered, _too_seldom(times, terms.promised)


def _too_seldom(times: int, promised: int) -> Message:
    if times >= promised:
        return NOTHING_SAID
    return counted(
        promised,
        "the load was on only {times} of 1 time",
        "the load was on only {times} of {count} times",
        times=times,
    )


def _read(
    need: Requirement,
    terms: LoadTerms,
    course: Course,
    blind: Sequence[Span],
    settles: bool,
) -> _Read | None:
    own = common(course.windows(need.stretch), course.started)
    loaded = _loaded(course, need.stretch)
    t_s, value = course.series(need.quantity, need.stretch)
    early_s = terms.settles_s if settles else 0.0
    on = [(b + early_s, e - 0.1) for b, e in loaded if e - b > early_s + 0.1]
    around = [(b - 0.5, e + terms.settles_s) for b, e in loaded]
    good = minus(own, blind)
    with_load = inside(t_s, common(on, good))
    without = inside(t_s, minus(good, around))
    if with_load.sum() < FEWEST or without.sum() < FEWEST:
        return None
    return _Read(
        course,
        (t_s[with_load], value[with_load]),
        (t_s[without], value[without]),
        len(common(on, good)),
    )


def _loaded(course: Course, stretch: str) -> list[Span]:
    """Return when the load was on."""
    spans: list[Span] = []
    on_s: float | None = None
    for mark in course.marks(LoadSwitched.mark):
        if mark.stretch != stretch:
            continue
        if fact_as(mark, LoadSwitched).on and on_s is None:
            on_s = mark.t_s
        elif not fact_as(mark, LoadSwitched).on and on_s is not None:
            spans.append((on_s, mark.t_s))
            on_s = None
    return spans if on_s is None else [*spans, (on_s, course.ends_s)]


class _Between(Reads[VoltageTerms]):
    """A value between two limits; `Requirement.limit` is the lower one."""

    __slots__ = ()

    def limit(self, need: Requirement, terms: VoltageTerms | None) -> Message:
        if terms is None:
            return NONE
        low = Stated(terms.low_v, need.unit)
        high = Stated(terms.high_v, need.unit)
        return msg("between {low} and {high}", low=low, high=high)

    def limit_kind(self, unit: str) -> str:
        return f"between two, in {unit}; the requirement's own is the lower one"

    def margin(self, finding: Finding) -> Message:
        """Say on which side of both it lies, if it lies outside."""
        lowest = finding.requirement.limit
        value = finding.value
        too_low = lowest is not None and value is not None and value < lowest
        return Reads(side=Side.AT_LEAST if too_low else Side.AT_MOST).margin(finding)


def _gives(need: Requirement, terms: VoltageTerms) -> Message:
    low = Number(terms.low_v, "g")
    high = Number(terms.high_v, "g")
    if terms.current_a is None:
        return msg(
            "The port gives {low} to {high} V with its load and with none", low=low, high=high
        )
    return msg(
        "The port gives {low} to {high} V with {current} drawn and with none",
        low=low,
        high=high,
        current=Stated(terms.current_a, "A"),
    )


PORT_VOLTAGE = Rule(
    name="port voltage",
    terms=VoltageTerms,
    judge=_voltage,
    demands=_gives,
    reads=_Between(bound_words=accuracy),
    lacks=lacks.time,
    section=Section.SUPPLY,
    bounds=Bounds.ACCURACY,
    unit="V",
)


def _falls(need: Requirement, terms: LoadTerms) -> Message:
    return msg(
        "The voltage at {probe} falls by at most {limit} when the load comes",
        probe=need.quantity.removeprefix("probe."),
        limit=Stated(need.limit or 0.0, "V"),
    )


PORT_DROOP = Rule(
    name="port droop",
    terms=LoadTerms,
    judge=_droop,
    demands=_falls,
    reads=Reads(bound_words=accuracy),
    lacks=lacks.time,
    section=Section.SUPPLY,
    bounds=Bounds.ACCURACY,
    unit="V",
)
