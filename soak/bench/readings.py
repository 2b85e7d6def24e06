"""From what an instrument said to readings and states: never a half or garbled value."""

import math
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator, Mapping
from types import MappingProxyType
from typing import Literal

import trio

from soak.bench.sensor_curves import pt100_degc, type_k_degc
from soak.errors import BenchFault, told_of
from soak.marks import COUNTED, LINES, StateSaid, state_of
from soak.records import Reading, State
from soak.states import BLIND
from soak.words import NOTHING_SAID, Amount, Message, msg

PrintedIn = Literal["degC", "degF", "mV", "V", "mA", "A", "mW", "W", "mV type K", "ohm Pt100"]
"""The measurement units an instrument may print in; the last two are those of a bare sensor."""

_TO_SI: Mapping[str, tuple[str, float, float]] = MappingProxyType(
    {
        "degC": ("degC", 1.0, 0.0),
        "degF": ("degC", 5 / 9, -160 / 9),
        "mV": ("V", 0.001, 0.0),
        "V": ("V", 1.0, 0.0),
        "mA": ("A", 0.001, 0.0),
        "A": ("A", 1.0, 0.0),
        "mW": ("W", 0.001, 0.0),
        "W": ("W", 1.0, 0.0),
    }
)
"""Printed unit to (measurement unit, factor, offset)."""

_SENSORS = ("mV type K", "ohm Pt100")

UNREAD_EVERY_S = 5.0
"""A count of what could not be read is told at most so often, s. Our own choice."""

BACK_OFF_S = (0.5, 1.0, 2.0, 5.0)
"""Waits between attempts to reach an instrument that failed; the last one repeats. Our own
choice."""


class Refused(ValueError):
    """Report an answer that is not what was asked for; its text says why in a few words."""

    def __init__(self, told: Message) -> None:
        super().__init__(told)


def shown(data: bytes) -> str:
    """Return bytes from an instrument as a short quoted text for a message."""
    text = data[:60].decode("latin-1").encode("unicode_escape").decode("ascii")
    return f"'{text}'" if len(data) <= 60 else f"'{text}...'"


def as_number(text: str, decimal_comma: bool = False) -> float:
    """Read a plain decimal number, `-12`, `+12.34`, `1.234E+01`.

    Raises
    ------
    Refused
        If it is anything else: `nan`, `inf`, `1_000`, other digits than 0 to 9, too large.
    """
    plain = text.strip()
    if decimal_comma:
        plain = plain.replace(",", ".", 1)
    if not plain or not set(plain) <= set("0123456789+-.eE"):
        raise Refused(msg("{text} is not a number", text=repr(text[:60])))
    try:
        value = float(plain)
    except ValueError:
        raise Refused(msg("{text} is not a number", text=repr(text[:60]))) from None
    if not math.isfinite(value):
        raise Refused(msg("{text} is too large to be a reading", text=repr(text[:60])))
    return value


def measured_in(printed_in: PrintedIn) -> str:
    """Return the measurement unit in which a value printed in `printed_in` is kept."""
    return "degC" if printed_in in _SENSORS else _TO_SI[printed_in][0]


def converted(value: float, printed_in: PrintedIn, reference_degc: float = 0.0) -> float:
    """Convert a printed value to its measurement unit.

    Parameters
    ----------
    reference_degc : float
        Temperature of a thermocouple's reference junction, where `printed_in` is one's voltage.

    Raises
    ------
    Refused
        If a sensor of that kind never gives such a value.

    References
    ----------
    NIST Special Publication 811 (2008), Appendix B.8: t/degC = (t/degF - 32)/1.8.
    """
    try:
        if printed_in == "mV type K":
            return type_k_degc(value, reference_degc)
        if printed_in == "ohm Pt100":
            return pt100_degc(value)
    except ValueError as fault:
        raise Refused(told_of(fault)) from None
    _, factor, offset = _TO_SI[printed_in]
    return value * factor + offset


class Unread:
    """Counts what an instrument said that nobody could read.

    Told at once and then at most every `UNREAD_EVERY_S`, so that a crash loses little and a night
    of garbage stays small on record; see `soak.marks.COUNTS`.
    """

    def __init__(self, source: str) -> None:
        self._source = f"{source}{LINES}"
        self._count = 0
        self._told = 0
        self._last = ""
        self._due_s = -math.inf

    def add(self, why: str) -> None:
        """Count one; `why` says what came."""
        self._count += 1
        self._last = why

    def told(self, now_s: float) -> Iterator[State]:
        """Yield the count, if it has grown and was not told just before."""
        if self._count > self._told and now_s >= self._due_s:
            self._told = self._count
            self._due_s = now_s + UNREAD_EVERY_S
            said = StateSaid(unread=self._count, last=self._last)
            yield state_of(now_s, self._source, COUNTED, said)


async def watched(
    source: str, silent_after_s: float, take: Callable[[], Awaitable[float | None]]
) -> AsyncIterator[Reading | State]:
    """Yield readings from `take` for ever, and say when the source goes blind and is seen again.

    Parameters
    ----------
    source : str
        The probe's name, also that of its quantity, `"probe.heatsink"`.
    silent_after_s : float
        Without a reading for so long the source is blind.
    take : callable
        Wait for the next value; None or `Refused` when there was none, `BenchFault` when the
        instrument cannot be reached. It must not take longer than `silent_after_s` by much.

    Yields
    ------
    Reading or State
        First the state `seen` (the instrument was opened), then readings; `blind` with the reason
        in its detail, `seen` before the first reading that comes after it. What was refused is
        counted in states of a source of its own (`Unread`).
    """
    last_s = trio.current_time()
    blind = False
    failures = 0
    why = NOTHING_SAID
    silent = msg("no reading for {time}", time=Amount(silent_after_s, "s"))
    unread = Unread(source)
    yield State(last_s, source, "seen")
    while True:
        value = None
        unreachable = False
        try:
            value = await take()
        except Refused as refusal:
            why = told_of(refusal)
            unread.add(why)
        except BenchFault as fault:
            why = fault.what
            unreachable = True
        now_s = trio.current_time()
        for count in unread.told(now_s):
            yield count
        if value is not None:
            if blind:
                yield State(now_s, source, "seen")
            yield Reading(now_s, source, value)
            last_s = now_s
            blind = False
            failures = 0
            why = NOTHING_SAID
            continue
        if not blind and (unreachable or now_s - last_s >= silent_after_s):
            blind = True
            said = StateSaid(why=why or silent)
            yield state_of(now_s, source, BLIND, said, within_s=now_s - last_s)
        if unreachable:
            await trio.sleep(BACK_OFF_S[min(failures, len(BACK_OFF_S) - 1)])
            failures += 1
