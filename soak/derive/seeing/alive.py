"""What saw the unit alive while it was said to be on; where nothing did, a person's word is all."""

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.electric.power import switched_by_hand
from soak.derive.seeing.signs import LEAST_A, LEAST_W, ON_V, WARMER_K, at_unit
from soak.derive.spans import common, inside, total_s
from soak.evidence import Floats
from soak.frozen.wiring import ProbeWired
from soak.states import ALIVE, SEEN


def only_by_word(course: Course) -> bool:
    """Tell whether that the unit was on rests on the word of a person alone."""
    by_hand = switched_by_hand(course.header.fixture)
    return by_hand and bool(course.power) and not seen_alive_by(course)


def seen_alive_by(course: Course) -> Sequence[str]:
    """Return the sources that saw the unit alive while somebody said that it was on."""
    if not course.power:
        return []
    return [source for source in course.sources if _sees(course, source)]


def _sees(course: Course, source: str) -> bool:
    role, _, name = source.partition(".")
    if role == "switch":
        return not switched_by_hand(course.header.fixture)
    if role == "probe":
        return _probe_sees(course, source, course.header.fixture.probes[name])
    if source not in at_unit(course.header.fixture):
        return False
    alive = ALIVE if role == "capture" else {SEEN}
    shown = [(one.from_s, one.to_s) for one in course.periods(source) if one.state in alive]
    return total_s(common(shown, course.power)) > 0


def _probe_sees(course: Course, source: str, wired: ProbeWired) -> bool:
    """Tell whether a probe read what only a unit with power makes; what was typed is a word."""
    shows = _SHOWS.get(wired.unit)
    if shows is None or wired.by_hand:
        return False
    t_s, value = course.series(source)
    on = inside(t_s, course.power) & ~inside(t_s, course.blind(source))
    return bool(on.any()) and shows(course, wired, t_s[on], value[on])


def _warms(course: Course, wired: ProbeWired, t_s: Floats, degc: Floats) -> bool:
    if wired.spot in ("", "ambient"):
        return False
    room = [
        f"probe.{name}"
        for name, one in course.header.fixture.probes.items()
        if one.spot == "ambient" and one.unit == "degC"
    ]
    room_s, room_degc = course.series(room[0]) if room else (t_s[:0], degc[:0])
    over = np.interp(t_s, room_s, room_degc) if len(room_s) else np.min(degc)
    return bool(np.max(degc - over) >= WARMER_K)


def _drawn(least: float) -> Callable[[Course, ProbeWired, Floats, Floats], bool]:
    return lambda course, wired, t_s, value: bool(np.max(value) >= least)


def _fed(course: Course, wired: ProbeWired, t_s: Floats, volt: Floats) -> bool:
    return bool(wired.at_port) and bool(np.max(volt) > ON_V)


_SHOWS: Mapping[str, Callable[[Course, ProbeWired, Floats, Floats], bool]] = {
    "degC": _warms,
    "A": _drawn(LEAST_A),
    "W": _drawn(LEAST_W),
    "V": _fed,
}
