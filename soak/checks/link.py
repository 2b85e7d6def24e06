"""The link: the device at the unit's USB port stays, at its full speed, without resets."""

from collections.abc import Sequence
from typing import Any, ClassVar

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say
from soak.quantities import Quantity, show_duration
from soak.records import Requirement, Role
from soak.settings import Seconds, Settings

SOURCE = "link"


class LinkSettings(Settings):
    """Settings of the check `link`.

    Attributes
    ----------
    at_least_speed_mbps : float or None
        Signalling rate in Mb/s that the link must always run at: 1.5, 12, 480, 5000, 10000 or
        20000; None: not demanded.
    leavings, resets, descriptor_failures, over_currents : int or None
        How many are allowed while the unit is on and started; None: not demanded.
    settles_s : float
        A speed that holds for less than this after an arrival is part of the arrival, s.
    """

    at_least_speed_mbps: float | None = Field(default=None, gt=0)
    leavings: int | None = Field(default=0, ge=0)
    resets: int | None = Field(default=0, ge=0)
    descriptor_failures: int | None = Field(default=0, ge=0)
    over_currents: int | None = Field(default=0, ge=0)
    settles_s: Seconds = Field(default=2.0, ge=0, le=60)


class LinkCheck:
    """Demand an unbroken link at full speed; the link streams what it sees by itself."""

    name: ClassVar[str] = "link"
    settings: ClassVar[type[Settings]] = LinkSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"link"})
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = False

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, LinkSettings)
        self._settings, self._place = settings, place

    def sources(self) -> Sequence[str]:
        return (SOURCE,)

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def requirements(self) -> Sequence[Requirement]:
        own, found = self._settings, []
        if own.leavings is not None:
            text = f"The device at the port stays while the unit is on{_but(own.leavings)}"
            found.append(self._one("stays", SOURCE, "link stayed", text, own.leavings))
        if own.at_least_speed_mbps is not None:
            found.append(self._speed(own.at_least_speed_mbps))
        for short, quantity, text, allowed in (
            ("resets", "resets", "The host never has to reset the device", own.resets),
            (
                "descriptor failures",
                "descriptor_failures",
                "The device always says what it is",
                own.descriptor_failures,
            ),
            (
                "over-current",
                "over_current",
                "The port never reports an over-current",
                own.over_currents,
            ),
        ):
            if allowed is not None:
                told = f"{text}{_but(allowed)}"
                found.append(self._one(short, f"link.{quantity}", "link events", told, allowed))
        return found

    def expected_s(self) -> float:
        return 0.0

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        await trio.sleep_forever()  # the link streams into the journal by itself

    def _speed(self, at_least_mbps: float) -> Requirement:
        settles_s = self._settings.settles_s
        text = f"The link always runs at {at_least_mbps:g} Mb/s or more"
        if settles_s:
            text += f", once it has settled for {show_duration(settles_s)}"
        params = {"settles_s": settles_s}
        return self._one(
            "speed", "link.speed", "at least speed", text, at_least_mbps, "Mb/s", params
        )

    def _one(
        self,
        short: str,
        quantity: str,
        rule: str,
        text: str,
        limit: float,
        unit: str = "1",
        params: dict[str, Any] | None = None,
    ) -> Requirement:
        port = self._place.fixture.get("link", {}).get("port", "")
        return Requirement(
            id=f"{self._place.stretch}/{self.name}/{short}",
            check=self.name,
            stretch=self._place.stretch,
            text=text,
            quantity=quantity,
            rule=rule,
            limit=float(limit),
            unit=unit,
            confidence=self._place.confidence if rule == "link stayed" else None,
            needs=self.needs,
            blind_allowed=self._place.blind_allowed,
            longest_blind_s=self._place.longest_blind_s,
            shows_repair=self._place.functions(self.name, port) if port else frozenset(),
            params={"port": port, **(params or {})},
        )


def _but(allowed: int) -> str:
    return f", but for {allowed} times" if allowed else ""


THE_CHECK = LinkCheck
