"""Whether a unit that never ran again had power: nothing else tells a dead unit from an open relay.

A relay that answers and stays open, an adapter that gave up and a unit that died between an off
and an on all look alike: nothing more comes. What had power and stayed dead is the unit's failure.
Where nothing tells whether the power came, it is neither charged nor left out: nobody knows.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from soak import states
from soak.derive.electric.power import ANSWER_SLACK_S, switched_by_hand
from soak.derive.electric.supply import DEAD_V, SETTLING_S, is_supply
from soak.derive.seeing.holes import EVERYTHING, Hole, Period
from soak.derive.seeing.signs import LEAST_A, LEAST_W, ON_V, WARMER_K, at_unit
from soak.derive.spans import Span, common, holds, inside, merged, minus, total_s, touching
from soak.derive.starting.starts import FEWEST_OWN
from soak.evidence import Floats
from soak.frozen.wiring import ProbeWired
from soak.marks import START_BY_EYE, Answered, OffProved, StartEnded, SupplyTrial, facts
from soak.records import Header, Mark
from soak.words import msg

OFF_SETTLED_S = 10.0
"""So long after an off an instrument may still show the unit's power. Our own choice: what holds up
a picture or a supply on its capacitors is gone by then."""

_TELLS = frozenset({states.FROZEN, states.PROTECTED})
"""What beside a picture shows power even where nobody saw what the capture shows without."""

LASTING_S = 60.0
"""What is no picture shows power only if it lasts so long: a card about to fail, or opened again,
may show nonsense for a while. Our own choice."""

FEWEST = 2
"""One reading alone may be garbled and proves no power. Our own choice."""


class Looked(Protocol):
    """What of a soak's course this needs."""

    @property
    def header(self) -> Header: ...
    @property
    def ends_s(self) -> float: ...
    @property
    def power(self) -> Sequence[Span]: ...
    @property
    def awake(self) -> Sequence[Span]: ...
    @property
    def session_spans(self) -> Sequence[Span]: ...
    def marks(self, what: str = "") -> Sequence[Mark]: ...
    def periods(self, source: str) -> Sequence[Period]: ...
    def series(self, quantity: str, stretch: str = "") -> tuple[Floats, Floats]: ...


def gone_dead(course: Looked, supply_gone: Sequence[Hole]) -> Hole | None:
    """Return from when on a unit showed nothing to the end and nothing tells whether it had power.

    None where a later start worked (so the switch closes), where anything proves that power came
    to the dead unit, where it died with the power on, and where a meter tells that none came.
    A person who is the switch sees what the plug does.

    Parameters
    ----------
    supply_gone : sequence of Hole
        When a meter at the inlet said that the supply was gone.
    """
    if course.header.fixture.switch is None or switched_by_hand(course.header.fixture):
        return None
    windows = course.awake
    witnesses = _Witnesses(course)
    last = next((at for at in reversed(range(len(windows))) if witnesses.power_in(windows[at])), -1)
    if last >= 0 and witnesses.dead_at_end_of(windows[last]):
        return None
    known = [(hole.from_s, hole.to_s) for hole in supply_gone]
    silent = [window for window in windows[last + 1 :] if touching(*window, known) is None]
    began_s = next((span[0] for span in silent if witnesses.dead_in(span)), None)
    if began_s is None or witnesses.warmed((began_s, course.ends_s)):
        return None
    why = msg("the unit showed nothing any more, and nothing tells whether its power came")
    return Hole(began_s, course.ends_s, EVERYTHING, why, for_good=True)


class _Witnesses:
    """What could see the unit alive, or its power, and what each of them saw while it was off."""

    def __init__(self, course: Looked) -> None:
        self._course = course
        self._fixture = course.header.fixture
        off = minus(course.session_spans, course.power)
        self._off = [(a + OFF_SETTLED_S, b) for a, b in off if b - a > OFF_SETTLED_S]
        self._unfed = merged([*self._off, *self._last_moments(off)])
        self._shows = {source: self._shown_by(source) for source in at_unit(self._fixture)}
        self._eye = [
            (mark, answered)
            for mark, answered in facts(course, Answered)
            if START_BY_EYE in answered.id
        ]
        self._power = merged([*self._seen(), *self._measured(), *self._supplied()])

    def power_in(self, window: Span) -> bool:
        """Tell whether anything proves that the unit had power in a window.

        What shows as the unit is pressed off, or its power cut, shows that it had some.
        """
        return touching(window[0], window[1] + ANSWER_SLACK_S, self._power) is not None

    def dead_at_end_of(self, window: Span) -> bool:
        """Tell whether the unit had failed while its power was still on.

        One that was cut off during a start had not failed yet.
        """
        if window[1] - window[0] < self._start_s():
            return False
        sheet = self._course.header.model_sheet
        at_s = window[1] - ANSWER_SLACK_S
        return any(
            period.state in states.lost(source, sheet)
            for source in self._shows
            for period in self._course.periods(source)
            if period.from_s < at_s <= period.to_s
        )

    def dead_in(self, window: Span) -> bool:
        """Tell whether something looked long enough to see a start, and there was none."""
        answers = [answered for mark, answered in self._eye if holds(mark.t_s, [window])]
        if any(answered.answer == "no" for answered in answers):
            return True
        dark_s = [
            total_s(common([window], [(p.from_s, p.to_s) for p in self._dark(source)]))
            for source in self._shows
        ]
        return max(dark_s, default=0.0) >= self._start_s()

    def warmed(self, window: Span) -> bool:
        """Tell whether a spot warmed by more than a room does."""
        probes = self._fixture.probes.items()
        heat = {f"probe.{n}": w.spot for n, w in probes if _measures(w, "degC")}
        room = next((one for one, spot in heat.items() if spot == "ambient"), "")
        return any(
            self._rise_k(source, room, window) >= WARMER_K
            for source, spot in heat.items()
            if spot not in ("", "ambient")
        )

    def _rise_k(self, source: str, room: str, window: Span) -> float:
        """Return by how much a spot rose from its coolest, as two readings say at least, K."""
        t_s, degc = self._readings(source, [window])
        if len(t_s) <= FEWEST:
            return 0.0
        room_s, room_degc = self._readings(room, [window]) if room else (t_s[:0], degc[:0])
        over = degc - np.interp(t_s, room_s, room_degc) if len(room_s) else degc
        twice = np.minimum(over[1:], over[:-1])
        return float(np.max(twice - np.minimum.accumulate(twice)))

    def _dark(self, source: str) -> Iterator[Period]:
        for period in self._course.periods(source):
            if period.state not in states.UNSEEN and period.state not in self._shows[source]:
                yield period

    def _start_s(self) -> float:
        """Return the longest time that a good start took, else usual by the model sheet, s.

        A start that was cut off later than that had failed by then (`starts.with_late_cuts`).
        """
        ended = [ended_ for _, ended_ in facts(self._course, StartEnded)]
        took_s = [ended_.took_s for ended_ in ended if ended_.seen and ended_.took_s]
        usual_s = states.usual_start_s(self._course.header.model_sheet)
        return max(took_s) if len(took_s) >= FEWEST_OWN else usual_s

    def _shown_by(self, source: str) -> frozenset[str]:
        """Return the states of a source that only a unit with power makes it see.

        What it was also seen to be while the unit was off tells nothing: some cards show a black
        picture, or one of their own, where there is no signal.
        """
        if source != "capture":
            return frozenset({states.SEEN}) - self._while_off(source)
        off = self._while_off(source)
        tells = _TELLS | {states.BLACK, states.OTHER_SIZE} if off else _TELLS
        return frozenset({states.PICTURE}) | (tells - off)

    def _last_moments(self, off: Sequence[Span]) -> Iterator[Span]:
        """Yield the last moment of each off that was proved, however short the off was.

        What is still seen then, with no power for the unit, does not see the power.
        """
        for mark, _ in facts(self._course, OffProved):
            known = touching(mark.t_s, mark.t_s, off)
            if known is not None:
                yield max(mark.t_s, known[1] - SETTLING_S), known[1]

    def _while_off(self, source: str) -> set[str]:
        spans: dict[str, list[Span]] = {}
        for period in self._course.periods(source):
            spans.setdefault(period.state, []).append((period.from_s, period.to_s))
        spans.pop(states.BLIND, None)
        return {state for state, seen in spans.items() if common(seen, self._unfed)}

    def _seen(self) -> Iterator[Span]:
        for source, shows in self._shows.items():
            for period in self._course.periods(source):
                sure = period.state in (states.PICTURE, states.SEEN)
                if period.state in shows and (sure or period.to_s - period.from_s >= LASTING_S):
                    yield period.from_s, period.to_s
        yield from ((m.t_s, m.t_s) for m, answered in self._eye if answered.answer == "yes")

    def _measured(self) -> Iterator[Span]:
        """Yield when a meter read what only comes with power, twice one after the other at least.

        What it reads while the power is off is its own zero, or an adapter before the switch.
        """
        on = [(a + SETTLING_S, b) for a, b in self._course.power]
        for name, entry in self._fixture.probes.items():
            least = _LEAST.get(entry.unit)
            if least is None or entry.by_hand:
                continue
            source = f"probe.{name}"
            _, off = self._readings(source, self._off)
            t_s, value = self._readings(source, on)
            high = value >= least(name, entry, value, float(np.median(off)) if len(off) else 0.0)
            yield from _twice(t_s, high)

    def _supplied(self) -> Iterator[Span]:
        """Yield when a supply that is the switch measured what it gave."""
        for mark, trial in facts(self._course, SupplyTrial):
            if (trial.read_v or 0.0) > DEAD_V:
                yield trial.from_s, mark.t_s

    def _readings(self, source: str, windows: Sequence[Span]) -> tuple[Floats, Floats]:
        t_s, value = self._course.series(source)
        blind = [
            (p.from_s, p.to_s) for p in self._course.periods(source) if p.state == states.BLIND
        ]
        here = inside(t_s, windows) & ~inside(t_s, blind)
        return t_s[here], value[here]


def _measures(entry: ProbeWired, unit: str) -> bool:
    return entry.unit == unit and not entry.by_hand


def _twice(t_s: Floats, high: NDArray[np.bool_]) -> Iterator[Span]:
    pairs = high[1:] & high[:-1]
    yield from zip(t_s[:-1][pairs].tolist(), t_s[1:][pairs].tolist(), strict=True)


Least = Callable[[str, ProbeWired, Floats, float], float]
"""Name and entry of a probe, its readings with power on, its middle one while off: the least
reading that proves power."""


def _least_volt(name: str, entry: ProbeWired, value: Floats, off: float) -> float:
    if entry.at_port:
        return max(ON_V, off + DEAD_V)
    if not is_supply(name, entry):
        return np.inf
    alive = value[value > DEAD_V]
    usual = float(np.median(alive)) if len(alive) else np.inf
    return max(DEAD_V, usual / 2) if off < usual / 2 else np.inf


def _least_drawn(least: float) -> Least:
    return lambda name, entry, value, off: off + max(least, entry.accuracy or 0.0)


_LEAST: Mapping[str, Least] = {
    "V": _least_volt,
    "A": _least_drawn(LEAST_A),
    "W": _least_drawn(LEAST_W),
}
