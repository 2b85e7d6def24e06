"""Stood in: how often the unit took in a stick that a small computer plays, and what it read."""

from collections.abc import Mapping, Sequence
from contextlib import aclosing
from typing import Any, ClassVar, cast

from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say
from soak.marks import said_by
from soak.quantities import Quantity
from soak.records import Reading, Requirement, Role, State
from soak.rules.core.port import PortTerms
from soak.rules.core.rule import Plain, Rule
from soak.rules.stood_in import READ_BY_THE_UNIT, TAKEN_IN
from soak.settings import Bytes, Settings
from soak.states import BLIND

LINK = "link"
ENUMERATIONS = "stood_in.enumerations"
READ = "stood_in.read"
WROTE = "stood_in.unit_wrote"


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
        self._settings = settings
        self._place = place

    def sources(self) -> Sequence[str]:
        return (LINK,)

    def quantities(self) -> Sequence[Quantity]:
        return [
            Quantity(ENUMERATIONS, "1", LINK),
            Quantity(READ, "B", LINK),
            Quantity(WROTE, "B", LINK),
        ]

    def requirements(self) -> Sequence[Requirement]:
        given = self._settings
        requirements = [self._one(TAKEN_IN, ENUMERATIONS, given.enumerations)]
        if given.read_bytes:
            requirements.append(self._one(READ_BY_THE_UNIT, READ, given.read_bytes))
        return requirements

    def expected_s(self) -> float:
        return 0.0

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        counts = _Counts()
        async with aclosing(cast(Any, bench.follow(LINK))) as records:
            async for record in records:
                if isinstance(record, State):
                    for quantity, value in counts.take(record).items():
                        say(Reading(bench.clock.now_s(), quantity, value))

    def _one(self, rule: Rule[PortTerms], quantity: str, limit: float) -> Requirement:
        link = self._place.fixture.link
        port = "" if link is None else link.port
        stands_in = link is not None and link.driver == self.name
        plain = self._place.plain(self.name, rule.name, needs=self.needs, port=port)
        own: Plain = {**plain, "limit": float(limit)}
        if not stands_in or not port:
            own["shows_repair"] = frozenset()
        way = "stood_in" if stands_in else ""
        terms = PortTerms(port=port, path=way, over=self._place.model_sheet.port_text(port))
        return rule.demand(terms, quantity=quantity, **own)


class _Counts:
    """What is new in the stand-in's counts, which go on from before and begin anew when it does."""

    def __init__(self) -> None:
        self._before: dict[str, int] = {}
        self._seen = False
        self._arrivals = 0

    def take(self, state: State) -> Mapping[str, float]:
        """Return how much each count grew; at first, whether the stick is taken in already."""
        if state.state == BLIND:
            return {}
        arrived = state.state == "seen" and not self._seen
        self._seen = state.state == "seen"
        self._arrivals = self._arrivals + arrived
        said = said_by(state)
        readings = {
            # Without a count of the stand-in's own (a simulated one has none) arrivals are counted.
            ENUMERATIONS: self._arrivals if said.enumerations is None else said.enumerations,
            READ: said.read_bytes,
            WROTE: said.written_bytes,
        }
        grown: dict[str, float] = {}
        for quantity, count in readings.items():
            if count is None:
                continue
            first = quantity not in self._before
            before = self._before.get(quantity, count)
            self._before[quantity] = count
            more = count - before if count >= before else count
            if first and state.state == "seen":  # taken in before the stretch, and still here
                more = {ENUMERATIONS: 1, READ: said.read_here_bytes or 0}.get(quantity, 0)
            if more or first:
                grown[quantity] = float(more)
        return grown


THE_CHECK = StoodInCheck
