"""Spot temperatures: limits, rise over ambient, steady state."""

from collections.abc import Sequence
from typing import ClassVar

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say
from soak.frozen.sheet import Spot
from soak.quantities import Quantity
from soak.records import Requirement, Role
from soak.rules.core.rule import Plain
from soak.rules.like_reference import LIKE_THE_REFERENCE
from soak.rules.limits import AT_MOST, NO_TRIP, TripTerms
from soak.rules.rise import RISE_AT_MOST, RiseTerms
from soak.rules.steady import STEADY, SteadyTerms
from soak.settings import Seconds, Settings
from soak.terms import SpotTerms


class SpotsSettings(Settings):
    """Settings of the check `spots`.

    Attributes
    ----------
    limits : bool
        Whether limits and rises are demanded, or the trip alone.
    steady : bool
        Whether each spot must have become steady.
    within_k : float
        Steady is a change of at most so many K over `window_s`. The default, 3 K in 30 min,
        is IEC 62368-1 B.1.6 (not checked against its own text); a unit may still lie below
        its end value.
    window_s : float
        Over so long the change is taken, s.
    or_predicted_k : float or None
        Where its end can be foretold to so many K by a curve, that counts as steady too.
    like_reference_k : float or None
        How much warmer than known-good units (`soak run --as-reference`) a spot may end, K.
    ambient_low_degc : float
        Below this ambient temperature a rise is not shown, degC.
    ambient_high_degc : float
        Above this ambient temperature a rise is not shown, degC.
    guarded : bool
        Whether the probe's accuracy is kept clear of the limit.
    """

    limits: bool = True
    steady: bool = False
    within_k: float = Field(default=3.0, gt=0)
    window_s: Seconds = Field(default=1800.0, gt=0)
    or_predicted_k: float | None = Field(default=None, gt=0)
    like_reference_k: float | None = Field(default=None, gt=0)
    ambient_low_degc: float = 15.0
    ambient_high_degc: float = 30.0
    guarded: bool = True


class Spots:
    """Demand limits at the model sheet's spots; the probes stream by themselves."""

    name: ClassVar[str] = "spots"
    settings: ClassVar[type[Settings]] = SpotsSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"probe"})
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = False

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, SpotsSettings)
        self._settings = settings
        self._place = place

    def sources(self) -> Sequence[str]:
        return [f"probe.{name}" for name, _ in self._probes()]

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def requirements(self) -> Sequence[Requirement]:
        requirements: list[Requirement] = []
        ambient = self._ambient()
        for name, spot_name in self._probes():
            spot = self._place.model_sheet.spots.get(spot_name)
            if spot is not None:
                requirements += self._at_spot(f"probe.{name}", spot_name, spot, ambient)
        return requirements

    def expected_s(self) -> float:
        return 0.0

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        await trio.sleep_forever()  # the probes stream into the journal by themselves

    def _probes(self) -> list[tuple[str, str]]:
        wired = self._place.fixture.probes
        return [(name, w.spot) for name, w in wired.items() if w.unit == "degC" and w.spot]

    def _ambient(self) -> str:
        return next((f"probe.{name}" for name, spot in self._probes() if spot == "ambient"), "")

    def _at_spot(self, source: str, spot_name: str, spot: Spot, ambient: str) -> list[Requirement]:
        requirements: list[Requirement] = []
        if spot.trip_degc is not None:
            requirements.append(self._no_trip(source, spot_name, spot))
        if (limit_k := self._settings.like_reference_k) is not None:
            requirements.append(self._like_reference(source, spot_name, spot, limit_k))
        if not self._settings.limits:
            return requirements
        if spot.limit_degc is not None:
            requirements.append(
                AT_MOST.demand(
                    SpotTerms(spot=spot.text),
                    quantity=source,
                    unit="degC",
                    **self._plain(f"{spot_name} limit", spot.limit_degc, self._settings.guarded),
                )
            )
        if (rise_k := spot.rise_limit_k) is not None:
            requirements.append(
                self._rise(source, spot_name, spot, ambient=ambient, limit_k=rise_k)
            )
        if self._settings.steady:
            requirements.append(self._steady(source, spot_name, spot))
        return requirements

    def _plain(self, short: str, limit: float, guarded: bool = False) -> Plain:
        plain = self._place.plain(self.name, short, needs=self.needs)
        return {**plain, "limit": limit, "guarded": guarded}

    def _no_trip(self, source: str, spot_name: str, spot: Spot) -> Requirement:
        terms = TripTerms(spot=spot.text, source=source, trip_degc=spot.trip_degc)
        return NO_TRIP.demand(terms, quantity=source, **self._plain(f"{spot_name} trip", 0.0))

    def _rise(
        self, source: str, spot_name: str, spot: Spot, ambient: str, limit_k: float
    ) -> Requirement:
        own = self._settings
        terms = RiseTerms(
            spot=spot.text,
            ambient=ambient,
            ambient_low_degc=own.ambient_low_degc,
            ambient_high_degc=own.ambient_high_degc,
        )
        plain = self._plain(f"{spot_name} rise", limit_k, own.guarded)
        return RISE_AT_MOST.demand(terms, quantity=source, **plain)

    def _steady(self, source: str, spot_name: str, spot: Spot) -> Requirement:
        own = self._settings
        terms = SteadyTerms(
            spot=spot.text,
            within_k=own.within_k,
            window_s=own.window_s,
            or_predicted_k=own.or_predicted_k,
        )
        plain = self._plain(f"{spot_name} steady", own.within_k)
        return STEADY.demand(terms, quantity=source, **plain)

    def _like_reference(
        self, source: str, spot_name: str, spot: Spot, limit_k: float
    ) -> Requirement:
        terms = SpotTerms(spot=spot.text)
        plain = self._plain(f"{spot_name} like the reference", limit_k)
        return LIKE_THE_REFERENCE.demand(terms, quantity=source, **plain)


THE_CHECK = Spots
