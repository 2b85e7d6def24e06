"""The check `transfer` and what it demands."""

from collections.abc import Sequence
from typing import ClassVar

from soak.checks.base import Bench, Done, Place, Say
from soak.checks.transfer.crossing import Crossing
from soak.checks.transfer.settings import TransferSettings
from soak.checks.transfer.watch import NAME, STICK
from soak.measure.stick.transfer_log import TransferLog
from soak.quantities import Quantity
from soak.records import Requirement, Role
from soak.rules.capacity import HOLDS
from soak.rules.core.port import PortTerms
from soak.rules.core.rule import AnyRule, Plain
from soak.rules.speed import SPEED_AT_LEAST
from soak.rules.stick import STICK_STAYED
from soak.rules.transfer import NO_STALL, NO_WRONG_DATA, SPEED_KEPT, SpeedTerms
from soak.rules.transfer_trend import FEW_LATE_READS, NO_SLOW_DRIFT
from soak.settings import Settings


class TransferCheck:
    """Write self-addressing data to the stick, read it back, tell what came of each sector."""

    name: ClassVar[str] = NAME
    settings: ClassVar[type[Settings]] = TransferSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"stick"})
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = False

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, TransferSettings)
        self._settings = settings
        self._place = place

    def sources(self) -> Sequence[str]:
        return (STICK,)

    def quantities(self) -> Sequence[Quantity]:
        return TransferLog(STICK, 0, 0).quantities()

    def requirements(self) -> Sequence[Requirement]:
        given = self._settings
        way = self._way()
        requirements = [
            self._one(NO_WRONG_DATA, way, "damaged", float(given.damaged_bytes)),
            self._one(NO_STALL, way, "chunk_s", given.stall_s),
            self._one(STICK_STAYED, way, "", 0.0),
            self._one(FEW_LATE_READS, way, "read_s", given.late_per_h),
            self._one(NO_SLOW_DRIFT, way, "speed", given.drift),
        ]
        if given.keep_speed:
            first = SpeedTerms(port=way.port, path=way.path, over=way.over, first_s=given.first_s)
            requirements.insert(2, self._one(SPEED_KEPT, first, "speed", given.keep_speed))
        if given.least_bytes_per_s:
            speed = float(given.least_bytes_per_s)
            requirements.append(self._one(SPEED_AT_LEAST, way, "speed", speed))
        if given.whole:
            requirements.append(self._one(HOLDS, way, "", 0.0))
        return requirements

    def expected_s(self) -> float:
        return 0.0

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        crossing = Crossing(self._settings, self._place.stretch, bench, done=done, say=say)
        try:
            await crossing.run()
        finally:
            crossing.close()

    def _way(self) -> PortTerms:
        """Return the way that data takes, by the fixture."""
        stick = self._place.fixture.stick
        if not stick:
            return PortTerms(path="")
        over = self._place.model_sheet.port_text(stick.port)
        return PortTerms(port=stick.port, path=stick.path, over=over)

    def _one(self, rule: AnyRule, way: PortTerms, quantity: str, limit: float) -> Requirement:
        plain = self._place.plain(self.name, rule.name, needs=self.needs, port=way.port)
        own: Plain = {**plain, "limit": limit}
        if way.path != "through" or not way.port:
            # Only what crosses the unit's own port shows that port: on the other paths the bench
            # reads the stick in its own computer.
            own["shows_repair"] = frozenset()
        about = f"transfer.{STICK}.{quantity}" if quantity else STICK
        return rule.demand(way, quantity=about, **own)
