"""Stood in: how often the unit took in a stick that a small computer plays, and what it read."""

from collections.abc import Mapping, Sequence
from contextlib import aclosing
from typing import Any, ClassVar, cast

from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say
from soak.quantities import Quantity, show_bytes
from soak.records import BLIND, Reading, Requirement, Role, State
from soak.settings import Bytes, Settings

LINK = "link"
ENUMERATIONS, READ, WROTE = "stood_in.enumerations", "stood_in.read", "stood_in.unit_wrote"


class StoodInSettings(Settings):
    """Settings of the check `stood_in`.

    Attributes
    ----------
    enumerations : int
        The unit must take in the stick at least so often in the stretch.
    read_bytes : int
        It must read at least so much from it, B; 0 for a unit that only looks whether one is there.
    """

    enumerations: int = Field(default=1, ge=1, le=100_000)
    read_bytes: Bytes = Field(default=512, ge=0)


class StoodInCheck:
    """Count what the stand-in saw the unit do."""

    name: ClassVar[str] = "stood_in"
    settings: ClassVar[type[Settings]] = StoodInSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"link"})
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = False

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, StoodInSettings)
        self._settings, self._place = settings, place

    def sources(self) -> Sequence[str]:
        return (LINK,)

    def quantities(self) -> Sequence[Quantity]:
        return [
            Quantity(ENUMERATIONS, "1", LINK),
            Quantity(READ, "B", LINK),
            Quantity(WROTE, "B", LINK),
        ]

    def requirements(self) -> Sequence[Requirement]:
        given, over = self._settings, self._over()
        times = "" if given.enumerations == 1 else f" at least {given.enumerations} times"
        taken = f"The unit takes in a stick at {over}{times}"
        found = [self._one("taken in", taken, ENUMERATIONS, float(given.enumerations), "1")]
        if given.read_bytes:
            reads = f"The unit reads at least {show_bytes(given.read_bytes)} of a stick at {over}"
            found.append(self._one("read by the unit", reads, READ, float(given.read_bytes), "B"))
        return found

    def expected_s(self) -> float:
        return 0.0

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        counts = _Counts()
        async with aclosing(cast(Any, bench.follow(LINK))) as records:
            async for record in records:
                if isinstance(record, State):
                    for quantity, value in counts.take(record).items():
                        say(Reading(bench.clock.now_s(), quantity, value))

    def _over(self) -> str:
        port = str(self._place.fixture.get(LINK, {}).get("port", ""))
        known = self._place.model_sheet.get("ports", {}).get(port, {})
        return f"the {known.get('text') or port or 'USB port'}"

    def _one(self, short: str, text: str, quantity: str, limit: float, unit: str) -> Requirement:
        link = self._place.fixture.get(LINK, {})
        port, stands_in = str(link.get("port", "")), link.get("driver") == self.name
        shown = self._place.functions(self.name, port) if stands_in and port else frozenset()
        return Requirement(
            id=f"{self._place.stretch}/{self.name}/{short}",
            check=self.name,
            stretch=self._place.stretch,
            text=text,
            quantity=quantity,
            rule=short,
            limit=limit,
            unit=unit,
            needs=self.needs,
            blind_allowed=self._place.blind_allowed,
            longest_blind_s=self._place.longest_blind_s,
            shows_repair=frozenset(shown),
            params={"port": port, "path": "stood_in" if stands_in else ""},
        )


class _Counts:
    """What is new in the stand-in's counts, which go on from before and begin anew when it does."""

    def __init__(self) -> None:
        self._before: dict[str, int] = {}
        self._seen, self._arrivals = False, 0

    def take(self, state: State) -> Mapping[str, float]:
        """Return how much each count grew; at first, whether the stick is taken in already."""
        if state.state == BLIND:
            return {}
        arrived = state.state == "seen" and not self._seen
        self._seen, self._arrivals = state.state == "seen", self._arrivals + arrived
        told = {
            # Without a count of the stand-in's own (a simulated one has none) arrivals are counted.
            ENUMERATIONS: state.detail.get("enumerations", self._arrivals),
            READ: state.detail.get("read_bytes"),
            WROTE: state.detail.get("written_bytes"),
        }
        grown: dict[str, float] = {}
        for quantity, count in told.items():
            if not isinstance(count, int):
                continue
            first = quantity not in self._before
            before = self._before.get(quantity, count)
            self._before[quantity] = count
            more = count - before if count >= before else count
            if first and state.state == "seen":  # taken in before the stretch, and still here
                here = state.detail.get("read_here_bytes")
                more = {ENUMERATIONS: 1, READ: here if isinstance(here, int) else 0}.get(
                    quantity, 0
                )
            if more or first:
                grown[quantity] = float(more)
        return grown


THE_CHECK = StoodInCheck
