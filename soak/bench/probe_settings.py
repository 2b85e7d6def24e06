"""What several probes' settings have in common: how often they are asked, and what they print."""

from collections.abc import Iterator

import trio
from pydantic import Field

from soak.bench.readings import PrintedIn, converted, measured_in
from soak.errors import Mistake
from soak.frozen.wiring import ProbeWired
from soak.mistakes import fit
from soak.settings import Seconds


class Polled(ProbeWired):
    """Settings of a probe that is asked again and again.

    Attributes
    ----------
    every_s : float
        Time from one reading to the next, s.
    """

    every_s: Seconds = Field(default=1.0, ge=0.05, le=3600)

    @fit
    def _can_be_seen_in_time(self) -> Iterator[Mistake]:
        if self.silent_after_s < self.every_s:
            yield Mistake("", "silent_after_s is shorter than every_s; raise it")


class Printing(ProbeWired):
    """Settings of a probe that prints in a measurement unit of its own.

    Attributes
    ----------
    instrument_unit : str or None
        What it prints in, where that is not `unit`: `"degF"`, `"mV"`, `"mA"`, `"mW"`; for a bare
        sensor `"mV type K"` or `"ohm Pt100"`.
    reference_degc : float
        For `"mV type K"`: how warm the meter's terminals are, degC.
    """

    instrument_unit: PrintedIn | None = None
    reference_degc: float = Field(default=0.0, ge=-40, le=125)

    @fit
    def _units_agree(self) -> Iterator[Mistake]:
        printed = self.instrument_unit
        if printed is not None and measured_in(printed) != self.unit:
            yield Mistake("", f"instrument_unit {printed} is not a kind of unit {self.unit}")
        if self.reference_degc and printed != "mV type K":
            yield Mistake("", 'reference_degc belongs to instrument_unit = "mV type K"; remove it')

    def kept(self, printed: float) -> float:
        """Return a printed value in `unit`."""
        return converted(printed, self.instrument_unit or self.unit, self.reference_degc)


class Pace:
    """Keep the time from one reading to the next; what took too long is not made up for."""

    def __init__(self, every_s: float) -> None:
        self._every_s = every_s
        self._due_s = trio.current_time()

    async def next(self) -> None:
        """Wait until the next reading is due."""
        await trio.sleep_until(self._due_s)
        self._due_s = max(self._due_s + self._every_s, trio.current_time())
