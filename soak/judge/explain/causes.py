"""Probable causes: hedged pointers for the repairer, never for a buyer, never part of the grade.

Each pointer explains some of the events against the unit and says why in plain words; the one
that explains most stands first. A pointer is a place to look, not a finding.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from soak.derive.course import course_of
from soak.derive.events.faults import UnitFault
from soak.derive.events.wrong_data import (
    Wrong,
    put_together,
    suspects_port,
    wrong_transfers,
    wrong_words,
)
from soak.evidence import Evidence
from soak.instruments import ROLES, gone_kind
from soak.judge.explain.clues import Clues, Share, sudden_warming
from soak.judge.explain.hints import (
    lanes_lost,
    slow_after_short_off,
    what_they_go_with,
    with_late_reads,
    with_other_ports,
)
from soak.judge.explain.network import network_socket
from soak.words import (
    NOTHING_SAID,
    Amount,
    Message,
    all_of,
    counted,
    joined,
    msg,
    paragraph,
)

_AT_SUPPLY: Mapping[str, Callable[[Share], Message]] = {
    "lowest voltage": lambda one: msg(
        "{failed} of {tried} starts at the lowest rated voltage", failed=one.failed, tried=one.tried
    ),
    "highest voltage": lambda one: msg(
        "{failed} of {tried} starts at the highest rated voltage",
        failed=one.failed,
        tried=one.tried,
    ),
    "quick": lambda one: msg(
        "{failed} of {tried} starts after a short break", failed=one.failed, tried=one.tried
    ),
}
_AT_POWER_UP: Mapping[str, Callable[[Share], Message]] = {
    "warm": lambda one: msg("{failed} of {tried} warm starts", failed=one.failed, tried=one.tried),
    "cold": lambda one: msg("{failed} of {tried} cold starts", failed=one.failed, tried=one.tried),
    "quick": lambda one: msg(
        "{failed} of {tried} quick starts", failed=one.failed, tried=one.tried
    ),
}
_GONE = tuple(gone_kind(role) for role, entry in ROLES.items() if entry.at_port)
"""What went from a port, whatever it was."""
_TOO_FEW = 2
"""One event alone points nowhere. Our own choice."""
_OF_A_MEDIUM = frozenset({"unreadable", "not written"})
"""What a bad place of a medium does; a contact fails now here, now there."""
_BLACK_FOR_S = 60.0
"""A shorter black picture is no film that may not be copied, s. Own choice."""


@dataclass(frozen=True, slots=True)
class Cause:
    """A pointer.

    Attributes
    ----------
    key : str
        Which part of the unit: `power`, `video port`, `usb port`, `supply`, `start`, `cooling`,
        `link`, `network socket`, `program`, `protected output`.
    text : Message
        Where to look first, and why, in plain words.
    explains : int
        Events against the unit that it would explain.
    share : float
        Their share of all events, 0 to 1.
    """

    key: str
    text: Message
    explains: int
    share: float


def probable_causes(soaks: Sequence[Evidence]) -> Sequence[Cause]:
    """Return the pointers that the soaks of one job give, the likeliest first; often none."""
    reasons: dict[str, list[tuple[Message, int]]] = {}
    total = 0
    for soak in soaks:
        clues = Clues(course_of(soak))
        total += len(clues.events)
        for key, pointer in _POINTERS.items():
            said = pointer(clues)
            if said is not None:
                reasons.setdefault(key, []).append(said)
    causes = [_joined(key, said, total) for key, said in reasons.items()]
    return sorted(causes, key=lambda cause: -cause.explains)


def no_idea(soaks: Sequence[Evidence]) -> Message:
    """Say in words that nothing points anywhere."""
    events = sum(len(Clues(course_of(soak)).events) for soak in soaks)
    return counted(
        events,
        "No idea: 1 event that follows no pattern known here.",
        "No idea: {count} events that follow no pattern known here.",
        none=msg("No event of the unit is on record, so nothing points anywhere."),
    )


def _joined(key: str, said: Sequence[tuple[Message, int]], total: int) -> Cause:
    explains = sum(number for _, number in said)
    return Cause(key, said[-1][0], explains, min(1.0, explains / max(total, 1)))


Pointer = tuple[Message, int] | None


def _power(clues: Clues) -> Pointer:
    """Look for restarts, or picture and data lost at one moment."""
    restarts = clues.of("restart")
    picture = clues.of("dropout", "hang")
    data = clues.of(*_GONE)
    both = [event for event in picture if clues.together(event, data)]
    number = 2 * len(restarts) + len(both)
    if len(restarts) + len(both) < 1 or number < _TOO_FEW:
        return None
    if not restarts:
        sentence = msg(
            "Looks like power (inlet, supply) and not a port: picture and data were lost at one "
            "moment, {count} times.",
            count=len(both),
        )
        return sentence, number
    why = [_anew(restarts), *what_they_go_with(clues, restarts)]
    sentence = msg(
        "Looks like power (inlet, supply, a short brown-out) or its program: {why}.",
        why=joined("; ", why),
    )
    return sentence, number


def _anew(restarts: Sequence[UnitFault]) -> Message:
    apart = [b.from_s - a.to_s for a, b in pairwise(restarts)]
    if not apart:
        return msg("the unit started anew by itself once")
    return msg(
        "the unit started anew by itself {count} times, about every {time}",
        count=len(restarts),
        time=Amount(sum(apart) / len(apart), "s"),
    )


def _video(clues: Clues) -> Pointer:
    """Look for a picture that alone is lost and comes back at once."""
    others = clues.of(*_GONE, "restart")
    alone = [e for e in clues.of("dropout") if not clues.together(e, others)]
    lanes, sparkling = lanes_lost(clues)
    if len(alone) < _TOO_FEW:
        return _lanes(lanes, sparkling)
    lost = msg(
        "the picture alone was lost {count} times, at most {time}, and came back without a start",
        count=len(alone),
        time=Amount(max(event.to_s - event.from_s for event in alone), "s"),
    )
    colours = (
        counted(lanes, "a colour was lost once", "a colour was lost {count} times")
        if lanes
        else None
    )
    sentence = msg(
        "Looks like the video connector, its joints or the cable, not the supply: {why}.",
        why=joined("; ", [lost, *what_they_go_with(clues, alone), colours]),
    )
    return sentence, len(alone)


def _lanes(lanes: int, sparkling: int) -> Pointer:
    if lanes < _TOO_FEW:
        return None
    if not sparkling:
        sentence = msg(
            "Looks like one pair of the video connector or cable: a colour was lost or stuck "
            "{count} times while the picture stayed.",
            count=lanes,
        )
        return sentence, lanes
    sentence = msg(
        "Looks like one pair of the video connector or cable: a colour was lost or stuck {count} "
        "times while the picture stayed, {sparkling} times with sparkle beside it.",
        count=lanes,
        sparkling=sparkling,
    )
    return sentence, lanes


def _usb(clues: Clues) -> Pointer:
    """Look for wrong data, or a port that alone loses contact."""
    others = clues.of("dropout", "restart", "hang")
    wrong = clues.of("wrong data")
    what = put_together(wrong_transfers(clues.course))
    alone = [e for e in clues.of("stick gone", "link gone") if not clues.together(e, others)]
    events = [*wrong, *alone]
    suspected = _READ_ONLY if suspects_port(clues.course) else NOTHING_SAID
    if len(events) < _TOO_FEW:
        return (_at_usb(suspected), len(events) + 1) if suspected else None
    sentences = [
        counted(
            len(wrong),
            "1 transfer went wrong ({how})",
            "{count} transfers went wrong ({how})",
            none=NOTHING_SAID,
            how=wrong_words(what),
        ),
        counted(
            len(alone),
            "the port alone lost contact once",
            "the port alone lost contact {count} times",
            none=NOTHING_SAID,
        ),
    ]
    stayed = msg("{found} while the picture stayed", found=all_of(sentences))
    hints = [with_other_ports(clues), with_late_reads(clues, events), _medium(what), suspected]
    why = joined("; ", [stayed, *what_they_go_with(clues, events, "transfer"), *hints])
    return _at_usb(why), len(events)


_READ_ONLY = msg("the stick became read-only while it was in use")


def _at_usb(why: Message) -> Message:
    return msg("Looks like the USB port, its joints or the storage behind it: {why}.", why=why)


def _medium(what: Wrong) -> Message:
    """Say that it is rather the stick, where it fails at one place again and again."""
    if what.transfers <= what.places or not set(what.kinds) <= _OF_A_MEDIUM or not what.kinds:
        return NOTHING_SAID
    return msg(
        "it failed at the same places again and again, as a worn stick does: try another stick"
    )


def _supply(clues: Clues) -> Pointer:
    """Look for starts that fail at the supply's limits, or after it was broken for a moment."""
    failed = clues.failed_starts(of_supply=True)
    if len(failed) < _TOO_FEW:
        return None
    bad = [share for share in clues.shares(failed, _AT_SUPPLY, of_supply=True) if share.failed]
    sentence = msg(
        "Looks like what the unit makes of its supply (input capacitors, regulator, reset): "
        "{starts} failed.",
        starts=all_of(_AT_SUPPLY[start.kind](start) for start in bad),
    )
    return sentence, len(failed)


def _start(clues: Clues) -> Pointer:
    """Look for starts that fail."""
    failed = clues.failed_starts(of_supply=False)
    short = slow_after_short_off(clues)
    if len(failed) < _TOO_FEW:
        return (_at_power_up(short), 1) if short else None
    shares = clues.shares(failed, _AT_POWER_UP)
    why = msg("{starts} failed", starts=all_of(_AT_POWER_UP[share.kind](share) for share in shares))
    return _at_power_up(joined("; ", [why, short])), len(failed)


def _at_power_up(why: Message) -> Message:
    return msg(
        "Looks like what happens at power-up (capacitors, reset, boot storage): {why}.", why=why
    )


def _cooling(clues: Clues) -> Pointer:
    """Look for limits of heat that are passed."""
    probes = clues.of("beyond limit", "trip")
    hot = [event for event in probes if event.source.startswith("probe.")]
    if not hot:
        return None
    new_s = _warmed_anew(clues)
    if new_s is not None:
        sentence = msg(
            "Looks like a fan or vent that stopped: it was steady and warmed anew from {time} on.",
            time=Amount(new_s, "s"),
        )
        return sentence, 3 * len(hot)
    sentence = msg(
        "Looks like cooling (thermal compound, heatsink seat, dust): {probes} passed its limit on "
        "a smooth curve.",
        probes=", ".join(sorted({event.source for event in hot})),
    )
    return sentence, 3 * len(hot)


def _link(clues: Clues) -> Pointer:
    """Look for a link that is slow or upset though nothing is wrong with the data."""
    if clues.of("wrong data", "stick gone"):
        return None
    slow = clues.of("slow link", "slow transfer")
    upset = clues.of("link event")
    fell = (
        msg(
            "Looks like a link that fell back (for USB 3: its SuperSpeed pairs): from {time} on "
            "{what}, and not a byte was wrong.",
            time=Amount(slow[0].from_s, "s"),
            what=slow[0].text,
        )
        if slow
        else None
    )
    counts = all_of(event.text for event in upset)
    shaken = msg("Looks like a loose contact or a weak 5 V at the USB port: {what}.", what=counts)
    sentence = paragraph(fell, shaken if upset else None)
    return (sentence, 2 * bool(slow) + len(upset)) if sentence else None


def _program(clues: Clues) -> Pointer:
    """Look for a unit that hangs and stays hung."""
    hangs = [event for event in clues.of("hang") if not clues.of("restart")]
    if not hangs:
        return None
    sentence = msg(
        "Looks like its program, memory or storage, not a connector: it stood still at {time} and "
        "did not come back with power on.",
        time=Amount(hangs[0].from_s, "s"),
    )
    return sentence, 2 * len(hangs)


def _protected(clues: Clues) -> Pointer:
    """Look for a picture that goes black for long: outside it looks as protected output does."""
    lost = clues.of("dropout", "restart", "hang")
    black = [
        fault
        for fault in lost
        if fault.state == "black" and fault.to_s - fault.from_s >= _BLACK_FOR_S
    ]
    if not black:
        return None
    sentence = msg(
        "May be protected output and no fault: the picture was black for up to {time} and the "
        "signal stayed, as with a lost picture. Have it show something else.",
        time=Amount(max(loss.to_s - loss.from_s for loss in black), "s"),
    )
    return sentence, len(black)


_POINTERS: dict[str, Callable[[Clues], Pointer]] = {
    "power": _power,
    "video port": _video,
    "usb port": _usb,
    "supply": _supply,
    "start": _start,
    "cooling": _cooling,
    "link": _link,
    "network socket": network_socket,
    "program": _program,
    "protected output": _protected,
}


def _warmed_anew(clues: Clues) -> float | None:
    if clues.hottest is None:
        return None
    _, t_s, degc = clues.hottest
    warmings = [sudden_warming(t_s, degc, *window) for window in clues.course.power]
    return next((when_s for when_s in warmings if when_s is not None), None)
