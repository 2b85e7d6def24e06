"""Probable causes: hedged pointers for the repairer, never for a buyer, never part of the grade.

Each pointer explains some of the events against the unit and says why in plain words; the one
that explains most stands first. A pointer is a place to look, not a finding.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from soak.derive.course import course_of
from soak.derive.faults import UnitFault
from soak.evidence import Evidence
from soak.judge.explain.clues import Clues, sudden_warming
from soak.judge.explain.hints import (
    lanes_lost,
    slow_after_short_off,
    with_late_reads,
    with_movement,
    with_other_ports,
    with_uptime,
)
from soak.quantities import show_duration

_HEAT_MATTERS = 0.01
_HOTTER_BY_K = 1.0
_POWER_UP = "Looks like what happens at power-up (capacitors, reset, boot storage)"
_SUPPLY = "Looks like what the unit makes of its supply (input capacitors, regulator, reset)"
_AT_SUPPLY = {
    "lowest voltage": "at the lowest rated voltage",
    "highest voltage": "at the highest rated voltage",
    "quick": "after a short break",
}
_AT_POWER_UP = ("warm", "cold", "quick")
_SWAPPED = frozenset({"power", "video port", "usb port", "link", "protected output"})
"""What a swap of cable, port and card can tell from the bench's own."""
_TOO_FEW = 2
"""One event alone points nowhere."""
_BLACK_FOR_S = 60.0
"""A shorter black picture is no film that may not be copied, s. Own choice."""


@dataclass(frozen=True, slots=True)
class Cause:
    """A pointer.

    Attributes
    ----------
    key : str
        Which part of the unit: `power`, `video port`, `usb port`, `supply`, `start`, `cooling`,
        `link`, `program`, `protected output`.
    text : str
        Where to look first, and why, in plain words.
    explains : int
        Events against the unit that it would explain.
    share : float
        Their share of all events, 0 to 1.
    """

    key: str
    text: str
    explains: int
    share: float


def probable_causes(soaks: Sequence[Evidence]) -> Sequence[Cause]:
    """Return the pointers that the soaks of one job give, the likeliest first; often none."""
    found: dict[str, list[tuple[str, int]]] = {}
    total = 0
    for soak in soaks:
        clues = Clues(course_of(soak))
        total += len(clues.events)
        for key, pointer in _POINTERS.items():
            said = pointer(clues)
            if said is not None:
                found.setdefault(key, []).append(said)
    causes = [_joined(key, said, total) for key, said in found.items()]
    return sorted(causes, key=lambda cause: -cause.explains)


def no_idea(soaks: Sequence[Evidence]) -> str:
    """Say in words that nothing points anywhere."""
    events = sum(len(Clues(course_of(soak)).events) for soak in soaks)
    if not events:
        return "No event of the unit is on record, so nothing points anywhere."
    return f"No idea: {events} event(s) that follow no pattern known here."


def swap_decides(causes: Sequence[Cause]) -> bool:
    """Tell whether a pointer is to something that a swap of cable, port or card tells apart."""
    return any(cause.key in _SWAPPED for cause in causes)


def _joined(key: str, said: Sequence[tuple[str, int]], total: int) -> Cause:
    explains = sum(number for _, number in said)
    return Cause(key, said[-1][0], explains, min(1.0, explains / max(total, 1)))


Pointer = tuple[str, int] | None


def _power(clues: Clues) -> Pointer:
    """Look for restarts, or picture and data lost at one moment."""
    restarts = clues.of("restart")
    picture, data = clues.of("dropout", "hang"), clues.of("stick gone", "link gone")
    both = [event for event in picture if clues.together(event, data)]
    number = 2 * len(restarts) + len(both)
    if len(restarts) + len(both) < 1 or number < _TOO_FEW:
        return None
    if not restarts:
        why = f"picture and data were lost at one moment, {len(both)} times"
        return f"Looks like power (inlet, supply) and not a port: {why}.", number
    apart = [b.from_s - a.to_s for a, b in pairwise(restarts)]
    every = f", about every {show_duration(sum(apart) / len(apart))}" if apart else ""
    heat = _when(clues, restarts)
    why = f"the unit started anew by itself {len(restarts)} times{every}{heat}"
    return f"Looks like power (inlet, supply, a short brown-out) or its program: {why}.", number


def _video(clues: Clues) -> Pointer:
    """Look for a picture that alone is lost and comes back at once."""
    others = clues.of("stick gone", "link gone", "restart")
    alone = [e for e in clues.of("dropout") if not clues.together(e, others)]
    lanes, sparkling = lanes_lost(clues)
    if len(alone) < _TOO_FEW:
        return _lanes(lanes, sparkling)
    longest_s = max(event.to_s - event.from_s for event in alone)
    heat = _when(clues, alone) + (f"; a colour was lost {lanes} times" if lanes else "")
    why = (
        f"the picture alone was lost {len(alone)} times, at most {show_duration(longest_s)}, and "
        f"came back without a start{heat}"
    )
    return f"Looks like the video connector, its joints or the cable, not the supply: {why}.", len(
        alone
    )


def _lanes(lanes: int, sparkling: int) -> Pointer:
    if lanes < _TOO_FEW:
        return None
    beside = f", {sparkling} times with sparkle beside it" if sparkling else ""
    why = f"a colour was lost or stuck {lanes} times while the picture stayed{beside}"
    return f"Looks like one pair of the video connector or cable: {why}.", lanes


def _usb(clues: Clues) -> Pointer:
    """Look for wrong data, or a port that alone loses contact."""
    others = clues.of("dropout", "restart", "hang")
    wrong = clues.of("wrong data")
    alone = [e for e in clues.of("stick gone", "link gone") if not clues.together(e, others)]
    events = [*wrong, *alone]
    if len(events) < _TOO_FEW:
        return None
    heat = _when(clues, events, "transfer")
    heat += with_other_ports(clues) + with_late_reads(clues, events)
    parts = [f"{len(wrong)} transfers came back wrong"] if wrong else []
    parts += [f"the port alone lost contact {len(alone)} times"] if alone else []
    why = f"{' and '.join(parts)} while the picture stayed{heat}"
    return f"Looks like the USB port, its joints or the storage behind it: {why}.", len(events)


def _supply(clues: Clues) -> Pointer:
    """Look for starts that fail at the supply's limits, or after it was broken for a moment."""
    failed = clues.failed_starts(of_supply=True)
    if len(failed) < _TOO_FEW:
        return None
    bad = clues.shares(failed, _AT_SUPPLY, of_supply=True)
    why = " and ".join(
        f"{share} starts {_AT_SUPPLY[kind]}" for kind, share in bad if share[0] != "0"
    )
    return f"{_SUPPLY}: {why} failed.", len(failed)


def _start(clues: Clues) -> Pointer:
    """Look for starts that fail."""
    failed, short = clues.failed_starts(of_supply=False), slow_after_short_off(clues)
    if len(failed) < _TOO_FEW:
        return (f"{_POWER_UP}: {short}.", 1) if short else None
    counts = [f"{share} {kind}" for kind, share in clues.shares(failed, _AT_POWER_UP)]
    why = f"{' and '.join(counts)} starts failed" + (f"; {short}" if short else "")
    return f"{_POWER_UP}: {why}.", len(failed)


def _cooling(clues: Clues) -> Pointer:
    """Look for limits of heat that are passed."""
    probes = clues.of("beyond limit", "trip")
    hot = [event for event in probes if event.source.startswith("probe.")]
    if not hot:
        return None
    new_s = _warmed_anew(clues)
    if new_s is not None:
        why = f"it was steady and warmed anew from {show_duration(new_s)} on"
        return f"Looks like a fan or vent that stopped: {why}.", 3 * len(hot)
    names = ", ".join(sorted({event.source for event in hot}))
    why = f"{names} passed its limit on a smooth curve"
    return f"Looks like cooling (thermal compound, heatsink seat, dust): {why}.", 3 * len(hot)


def _link(clues: Clues) -> Pointer:
    """Look for a transfer that is slow though nothing is wrong."""
    slow = clues.of("slow transfer")
    if not slow or clues.of("wrong data", "stick gone"):
        return None
    why = f"from {show_duration(slow[0].from_s)} on data came slowly, and not a byte was wrong"
    return f"Looks like a link that fell back (for USB 3: its SuperSpeed pairs): {why}.", 2


def _program(clues: Clues) -> Pointer:
    """Look for a unit that hangs and stays hung."""
    hangs = [event for event in clues.of("hang") if not clues.of("restart")]
    if not hangs:
        return None
    why = f"it stood still at {show_duration(hangs[0].from_s)} and did not come back with power on"
    return f"Looks like its program, memory or storage, not a connector: {why}.", 2 * len(hangs)


def _protected(clues: Clues) -> Pointer:
    """Look for a picture that goes black for long: outside it looks as protected output does."""
    lost = clues.of("dropout", "restart", "hang")
    black = [one for one in lost if "(black" in one.text and one.to_s - one.from_s >= _BLACK_FOR_S]
    if not black:
        return None
    longest = show_duration(max(one.to_s - one.from_s for one in black))
    why = f"the picture was black for up to {longest} and the signal stayed, as with a lost picture"
    return f"May be protected output and no fault: {why}. Have it show something else.", len(black)


_POINTERS: dict[str, Callable[[Clues], Pointer]] = {
    "power": _power,
    "video port": _video,
    "usb port": _usb,
    "supply": _supply,
    "start": _start,
    "cooling": _cooling,
    "link": _link,
    "program": _program,
    "protected output": _protected,
}


def _when(clues: Clues, events: Sequence[UnitFault], check: str = "") -> str:
    """Say what the events go with: heat, else uptime (which heat follows); movement of a plug."""
    heat = _with_heat(clues, events, check)
    uptime = "" if "when hot" in heat else with_uptime(clues, events)
    return heat + uptime + with_movement(clues, events)


def _with_heat(clues: Clues, events: Sequence[UnitFault], check: str = "") -> str:
    """Say whether the events come with heat, or an empty text."""
    ranked = clues.heat_at(events, check)
    if ranked is None:
        return ""
    if ranked.p_hotter < _HEAT_MATTERS and ranked.at_degc - ranked.cool_degc >= _HOTTER_BY_K:
        cool = f"{ranked.cool} of {len(events)} below {ranked.cool_degc:.0f} °C"
        return f"; when hot (median {ranked.at_degc:.0f} °C, {cool})"
    return "; no link with heat shown"


def _warmed_anew(clues: Clues) -> float | None:
    if clues.hottest is None:
        return None
    _, t_s, degc = clues.hottest
    found = [sudden_warming(t_s, degc, *window) for window in clues.course.power]
    return next((when_s for when_s in found if when_s is not None), None)
