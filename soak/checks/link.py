"""The link: the device at the unit's USB port stays, at its full speed, without resets."""

from collections.abc import Sequence
from typing import ClassVar

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say
from soak.quantities import Quantity
from soak.records import Requirement, Role
from soak.rules.core.rule import AnyRule, Bounds, Plain
from soak.rules.link import (
    AT_LEAST_SPEED,
    DESCRIPTOR_FAILURES,
    LINK_EVENTS,
    LINK_STAYED,
    OVER_CURRENT,
    RESETS,
    LinkTerms,
    SettledTerms,
)
from soak.settings import Seconds, Settings

SOURCE = "link"


class LinkSettings(Settings):
    """Settings of the check `link`.

    Attributes
    ----------
    at_least_speed_mbps : float or None
        Signalling rate in Mb/s that the link must always run at: 1.5, 12, 480, 5000, 10000
        or 20000; left out: not demanded.
    leavings : int or None
        How often it may leave the bus while the unit is on and started.
    resets : int or None
        How many resets are allowed while the unit is on and started.
    descriptor_failures : int or None
        How often it may fail to give its descriptor while the unit is on and started.
    over_currents : int or None
        How many over-currents are allowed while the unit is on and started.
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
        self._settings = settings
        self._place = place

    def sources(self) -> Sequence[str]:
        return (SOURCE,)

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def requirements(self) -> Sequence[Requirement]:
        own = self._settings
        requirements = []
        if own.leavings is not None:
            requirements.append(self._one(LINK_STAYED, "stays", SOURCE, own.leavings))
        if own.at_least_speed_mbps is not None:
            requirements.append(
                self._one(AT_LEAST_SPEED, "speed", "link.speed", own.at_least_speed_mbps)
            )
        for short, quantity, allowed in (
            ("resets", RESETS, own.resets),
            ("descriptor failures", DESCRIPTOR_FAILURES, own.descriptor_failures),
            ("over-current", OVER_CURRENT, own.over_currents),
        ):
            if allowed is not None:
                requirements.append(self._one(LINK_EVENTS, short, quantity, allowed))
        return requirements

    def expected_s(self) -> float:
        return 0.0

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        await trio.sleep_forever()  # the link streams into the journal by itself

    def _one(self, rule: AnyRule, short: str, quantity: str, limit: float) -> Requirement:
        port = self._place.fixture.port_of("link")
        plain = self._place.plain(self.name, short, needs=self.needs, port=port)
        own: Plain = {**plain, "limit": float(limit)}
        if not port:
            own["shows_repair"] = frozenset()
        if rule.bounds is Bounds.RATE:
            own["confidence"] = self._place.confidence
        settled = SettledTerms(port=port, settles_s=self._settings.settles_s)
        terms = settled if rule is AT_LEAST_SPEED else LinkTerms(port=port)
        return rule.demand(terms, quantity=quantity, **own)


THE_CHECK = LinkCheck
