"""The check `transfer` and what it demands."""

from collections.abc import Sequence
from typing import Any, ClassVar

from soak.checks.base import Bench, Done, Place, Say
from soak.checks.transfer.crossing import Crossing
from soak.checks.transfer.settings import TransferSettings
from soak.checks.transfer.watch import NAME, STICK
from soak.measure.transfer_log import TransferLog
from soak.quantities import Quantity, show_duration
from soak.records import Requirement, Role
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
        self._settings, self._place = settings, place

    def sources(self) -> Sequence[str]:
        return (STICK,)

    def quantities(self) -> Sequence[Quantity]:
        return TransferLog(STICK, 0, 0).quantities()

    def requirements(self) -> Sequence[Requirement]:
        given, over = self._settings, self._over()
        stall = show_duration(given.stall_s)
        allowed = "Every byte" if not given.damaged_bytes else f"All but {given.damaged_bytes} B"
        whole = f"{allowed} read back over {over} is as it was written"
        brisk = f"No transfer over {over} takes longer than {stall}"
        share = f"{given.keep_speed * 100:g} %"
        kept = f"Reading over {over} keeps {share} of the speed it had at first"
        stays = f"The stick at {over} stays while there is power"
        late = f"Of the reads over {over} at most {given.late_per_h:g} an hour come late"
        drift = f"Reading over {over} does not slowly lose {given.drift * 100:g} % of its speed"
        holds = "The stick holds what it claims"
        found = [
            self._one("no wrong data", whole, "damaged", float(given.damaged_bytes), "B"),
            self._one("no stall", brisk, "chunk_s", given.stall_s, "s"),
            self._one("stick stayed", stays, "", 0.0, "1"),
            self._one("few late reads", late, "read_s", given.late_per_h, "1/h"),
            self._one("no slow drift", drift, "speed", given.drift, "1"),
        ]
        if given.keep_speed:
            found.insert(2, self._one("speed kept", kept, "speed", given.keep_speed, "1"))
        if given.whole:
            found.append(self._one("holds what it claims", holds, "", 0.0, "B"))
        return found

    def expected_s(self) -> float:
        return 0.0

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        crossing = Crossing(self._settings, self._place.stretch, bench, done, say)
        try:
            await crossing.run()
        finally:
            crossing.close()

    def _wired(self) -> tuple[str, str]:
        stick = self._place.fixture.get("stick", {})
        return str(stick.get("port", "")), str(stick.get("path", "bench_only"))

    def _over(self) -> str:
        """Return in words what the data crosses."""
        port, path = self._wired()
        if not self._place.fixture.get("stick"):
            return "a USB port of the unit"
        if path == "bench_only":
            return "the bench's own port (this says nothing of the unit)"
        known = self._place.model_sheet.get("ports", {}).get(port, {})
        return f"the {known.get('text') or port or 'unnamed port'}"

    def _one(self, short: str, text: str, quantity: str, limit: float, unit: str) -> Requirement:
        port, path = self._wired()
        # Only what crosses the unit's own port shows that port: on the other paths the bench reads
        # the stick in its own computer.
        crosses = path == "through" and port
        params: dict[str, Any] = {"port": port, "path": path}
        if short == "speed kept":
            params["first_s"] = self._settings.first_s
        return Requirement(
            id=f"{self._place.stretch}/{self.name}/{short}",
            check=self.name,
            stretch=self._place.stretch,
            text=text,
            quantity=f"transfer.{STICK}.{quantity}" if quantity else STICK,
            rule=short,
            limit=limit,
            unit=unit,
            needs=self.needs,
            blind_allowed=self._place.blind_allowed,
            longest_blind_s=self._place.longest_blind_s,
            shows_repair=self._place.functions(self.name, port) if crosses else frozenset(),
            params=params,
        )
