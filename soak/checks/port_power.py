"""Port power: the 5 V of a USB port, with and without its rated load."""

from collections.abc import Sequence
from typing import ClassVar, Literal, NamedTuple

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say
from soak.errors import ScriptError
from soak.quantities import Quantity
from soak.records import Requirement, Role
from soak.rules.core.rule import Plain
from soak.rules.port_power import PORT_DROOP, PORT_VOLTAGE, LoadTerms, VoltageTerms
from soak.settings import Seconds, Settings
from soak.states import usual_start_s
from soak.words import Number, msg


class Rated(NamedTuple):
    """What a port must give: V at A."""

    low_v: float
    high_v: float
    current_a: float


RATED = {
    "usb2": Rated(4.75, 5.25, 0.5),
    "usb3": Rated(4.45, 5.25, 0.9),
    "type_c": Rated(4.75, 5.50, 0.9),
}
"""Voltage at the port and the current it must give.

References
----------
USB 2.0 specification, section 7.2.1 and table 7-7 (high-power port: 4.75 to 5.25 V, five unit loads
of 100 mA); USB 3.0 specification, section 11.4 (six unit loads of 150 mA, 4.45 V at the port); USB
Type-C specification (4.75 to 5.50 V). None of these was checked against its own text.
"""

NEIGHBOUR_DROOP_V = 0.33
"""A neighbour may droop by so much when a device is plugged in: USB 2.0 specification, section
7.2.4.1; not checked against its own text."""


class PortPowerSettings(Settings):
    """Settings of the check `port_power`.

    Attributes
    ----------
    standard : str
        `usb2`: 4.75 to 5.25 V at 0.5 A; `usb3`: 4.45 to 5.25 V at 0.9 A; `type_c`: 4.75 to 5.50 V
        at 0.9 A.
    low_v : float or None
        Lowest voltage at the port, V, instead of the standard's.
    high_v : float or None
        Highest voltage at the port, V, instead of the standard's.
    current_a : float or None
        What the port must give, A, instead of the standard's.
    times : int
        How often the load is put on.
    on_s : float
        How long the load stays on, s.
    off_s : float
        How long it stays off before each time, s.
    settles_s : float
        Readings so shortly after a switching are left out, s.
    droop_v : float or None
        The port's voltage may fall by so much under the load, V; left out: not demanded.
    neighbour_droop_v : float
        A probe at another port of the unit may fall by so much when the load comes, V.
    """

    standard: Literal["usb2", "usb3", "type_c"] = "usb2"
    low_v: float | None = Field(default=None, gt=0)
    high_v: float | None = Field(default=None, gt=0)
    current_a: float | None = Field(default=None, gt=0)
    times: int = Field(default=3, ge=1, le=1000)
    on_s: Seconds = Field(default=60.0, ge=2, le=3600)
    off_s: Seconds = Field(default=20.0, ge=2, le=3600)
    settles_s: Seconds = Field(default=1.0, ge=0, le=60)
    droop_v: float | None = Field(default=None, gt=0)
    neighbour_droop_v: float = Field(default=NEIGHBOUR_DROOP_V, gt=0)


class PortPower:
    """Put the load on and off; the probes stream by themselves."""

    name: ClassVar[str] = "port_power"
    settings: ClassVar[type[Settings]] = PortPowerSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"load", "probe"})
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = True

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, PortPowerSettings)
        self._settings = settings
        self._place = place
        self._port = "" if place.fixture.load is None else place.fixture.load.at_port

    def sources(self) -> Sequence[str]:
        return [source for source, _ in self._volts()]

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def requirements(self) -> Sequence[Requirement]:
        """Return the demands.

        Raises
        ------
        ScriptError
            If the load draws less than the port must give.
        """
        self._draws_enough()
        here = [source for source, port in self._volts() if port == self._port]
        requirements = [
            self._voltage(here[0] if here else f"probe.5V at {self._port or 'the port'}")
        ]
        if here and self._settings.droop_v is not None:
            requirements.append(self._droop("droop", here[0], self._settings.droop_v))
        for source, port in self._volts():
            if port != self._port:
                limit_v = self._settings.neighbour_droop_v
                requirements.append(self._droop(f"droop at {port}", source, limit_v))
        return requirements

    def expected_s(self) -> float:
        own = self._settings
        return (
            usual_start_s(self._place.model_sheet) + own.times * (own.off_s + own.on_s) + own.off_s
        )

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        own = self._settings
        try:
            await bench.load(False)
            await trio.sleep(usual_start_s(self._place.model_sheet) + own.off_s)
            for _ in range(done.count, own.times):
                await bench.load(True)
                await trio.sleep(own.on_s)
                await bench.load(False)
                await trio.sleep(own.off_s)
        finally:
            with trio.CancelScope(shield=True), trio.move_on_after(10.0):
                await bench.load(False)

    def _volts(self) -> list[tuple[str, str]]:
        """Return (source, port) of each probe that measures the voltage at a port."""
        wired = self._place.fixture.probes
        return [
            (f"probe.{name}", one.at_port)
            for name, one in wired.items()
            if one.unit == "V" and one.at_port
        ]

    def _rated(self) -> Rated:
        own = self._settings
        rated = RATED[self._settings.standard]
        return Rated(
            own.low_v or rated.low_v, own.high_v or rated.high_v, own.current_a or rated.current_a
        )

    def _draws_enough(self) -> None:
        load = self._place.fixture.load
        wanted_a = self._rated().current_a
        if load and load.current_a < wanted_a:
            what = msg(
                "the load at {value} draws {current_a} A and {standard} asks for {wanted_a} A; "
                "wire a stronger one or write current_a",
                value=self._port or "the port",
                current_a=Number(load.current_a, "g"),
                standard=self._settings.standard,
                wanted_a=Number(wanted_a, "g"),
            )
            raise ScriptError(self._place.stretch, "port_power", what)

    def _voltage(self, source: str) -> Requirement:
        low_v, high_v, current_a = self._rated()
        terms = VoltageTerms(
            port=self._port,
            settles_s=self._settings.settles_s,
            promised=self._settings.times,
            low_v=low_v,
            high_v=high_v,
            current_a=current_a,
        )
        return PORT_VOLTAGE.demand(terms, quantity=source, **self._plain("voltage", low_v))

    def _droop(self, short: str, source: str, limit_v: float) -> Requirement:
        terms = LoadTerms(
            port=self._port, settles_s=self._settings.settles_s, promised=self._settings.times
        )
        return PORT_DROOP.demand(terms, quantity=source, **self._plain(short, limit_v))

    def _plain(self, short: str, limit: float) -> Plain:
        plain = self._place.plain(self.name, short, needs=self.needs, port=self._port)
        return {**plain, "limit": limit, "guarded": True}


THE_CHECK = PortPower
