"""The network: the link at the unit's socket stays, at full speed; a file comes over it whole."""

import math
from collections.abc import Sequence
from typing import ClassVar

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say, first_state
from soak.marks import FileFetched, mark_of
from soak.quantities import Quantity
from soak.records import Reading, Requirement, Role
from soak.roles import Fetched
from soak.rules.core.rule import Plain
from soak.rules.fetched import FETCH_RATE, FETCHED_WHOLE, RATE, Came, FetchTerms
from soak.rules.link import AT_LEAST_SPEED, LINK_STAYED, LinkTerms, SettledTerms
from soak.settings import Seconds, Settings
from soak.states import SEEN

SOURCE: Role = "network"


class NetworkSettings(Settings):
    """Settings of the check `network`.

    Attributes
    ----------
    at_least_speed_mbps : float or None
        Speed in Mb/s that the link must always run at, 10, 100, 1000, 2500 ...; None: as the model
        sheet says of the port, and if it says nothing it is not demanded.
    losses : int or None
        How often the link may go while the unit is on and started; None: not demanded.
    settles_s : float
        A speed that holds for less than this after the link came is part of its coming, s.
    fetch_every_s : float
        Pause between two fetches of the file that the unit serves, by the fixture, s.
    fetch_limit_s : float
        A fetch that takes longer hangs, s.
    failed_fetches : int or None
        How many may come wrong, break off or hang; None: not demanded.
    at_least_bytes_per_s : float or None
        Median rate of the fetches that came whole, B/s; None: not demanded.
    """

    at_least_speed_mbps: float | None = Field(default=None, gt=0)
    losses: int | None = Field(default=0, ge=0)
    settles_s: Seconds = Field(default=2.0, ge=0, le=60)
    fetch_every_s: Seconds = Field(default=60.0, ge=1, le=3600)
    fetch_limit_s: Seconds = Field(default=30.0, ge=1, le=3600)
    failed_fetches: int | None = Field(default=0, ge=0)
    at_least_bytes_per_s: float | None = Field(default=None, gt=0)


class NetworkCheck:
    """Demand an unbroken link at full speed, which streams by itself; fetch again and again."""

    name: ClassVar[str] = "network"
    settings: ClassVar[type[Settings]] = NetworkSettings
    needs: ClassVar[frozenset[Role]] = frozenset({SOURCE})
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = False

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, NetworkSettings)
        self._settings = settings
        self._place = place
        ports = place.model_sheet.ports
        sockets = [name for name, port in ports.items() if port.kind == "network"]
        wired = place.fixture.network
        self._wired = wired is not None
        self._port = wired.port if wired is not None else next(iter(sockets), "")
        self._sheet_mbps = ports[self._port].speed_mbps if self._port in ports else None
        self._serves = "" if wired is None else wired.serves
        self._sha256 = "" if wired is None else wired.serves_sha256

    def sources(self) -> Sequence[str]:
        return (SOURCE,)

    def quantities(self) -> Sequence[Quantity]:
        return (Quantity(RATE, "B/s", SOURCE),) if self._serves else ()

    def requirements(self) -> Sequence[Requirement]:
        if not (self._wired or self._port):
            return ()  # a model without a network socket
        own = self._settings
        requirements = []
        if own.losses is not None:
            plain = self._plain("stays", own.losses)
            plain["confidence"] = self._place.confidence
            requirements.append(
                LINK_STAYED.demand(LinkTerms(port=self._port), quantity=SOURCE, **plain)
            )
        speed_mbps = own.at_least_speed_mbps or self._sheet_mbps
        if speed_mbps is not None:
            settled = SettledTerms(port=self._port, settles_s=own.settles_s)
            plain = self._plain("speed", speed_mbps)
            requirements.append(AT_LEAST_SPEED.demand(settled, quantity=f"{SOURCE}.speed", **plain))
        return [*requirements, *self._of_fetches()] if self._serves else requirements

    def _of_fetches(self) -> Sequence[Requirement]:
        own = self._settings
        terms = FetchTerms(limit_s=self._settings.fetch_limit_s)
        requirements = []
        if own.failed_fetches is not None:
            plain = self._plain("fetched whole", own.failed_fetches)
            requirements.append(FETCHED_WHOLE.demand(terms, quantity=SOURCE, **plain))
        if own.at_least_bytes_per_s is not None:
            plain = self._plain("fetch rate", own.at_least_bytes_per_s)
            requirements.append(FETCH_RATE.demand(terms, quantity=RATE, **plain))
        return requirements

    def expected_s(self) -> float:
        return 0.0

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        while self._serves:
            await first_state(bench, SOURCE, {SEEN}, math.inf)
            from_s = bench.clock.now_s()
            got = await bench.network().fetch(self._serves, self._settings.fetch_limit_s)
            now_s = bench.clock.now_s()
            came = self._came(got)
            fact = FileFetched(
                came=came, size_bytes=got.size_bytes, from_s=round(from_s, 3), why=got.why
            )
            say(mark_of(now_s, fact, self._place.stretch, self.name))
            if came == "whole":
                say(Reading(now_s, RATE, got.size_bytes / max(got.took_s, 1e-6)))
            await trio.sleep(self._settings.fetch_every_s)
        await trio.sleep_forever()  # the link streams into the journal by itself

    def _came(self, got: Fetched) -> Came:
        if got.hung:
            return "hung"
        if got.why:
            return "broke off"
        self._sha256 = self._sha256 or got.sha256
        return "whole" if got.sha256 == self._sha256 else "wrong"

    def _plain(self, short: str, limit: float) -> Plain:
        plain = self._place.plain(self.name, short, needs=self.needs, port=self._port)
        own: Plain = {**plain, "limit": float(limit)}
        if not self._port:
            own["shows_repair"] = frozenset()
        return own


THE_CHECK = NetworkCheck
