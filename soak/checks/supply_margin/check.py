"""Supply margin: starts at the lowest and highest rated voltage, and short breaks of the supply."""

from collections.abc import Sequence
from typing import ClassVar

from soak.checks.base import Bench, Done, Place, Say
from soak.checks.supply_margin.settings import MOST_TRIES, NAME, SupplyMarginSettings
from soak.checks.supply_margin.trial import Trials
from soak.errors import ScriptError
from soak.frozen.wiring import SettableSwitch
from soak.quantities import Quantity
from soak.records import Requirement, Role
from soak.rules.core.rule import Plain
from soak.rules.short_breaks import SHORT_BREAKS, BreakTerms
from soak.rules.supply_margin import SUPPLY_MARGIN, End, SupplyTerms
from soak.settings import Settings
from soak.states import stated_start_limit_s, usual_start_s
from soak.words import msg

ENDS: tuple[End, ...] = ("lowest", "highest")


class SupplyMargin:
    """Try the limits of the unit's supply, never outside what it is rated for.

    Settings of a rated range are tried at both ends; what a trial did is told in four degrees, from
    no effect to one that the unit does not recover from.

    References
    ----------
    IEC 61000-4-11:2020, 5.1 (lowest and highest declared voltage) and 9 (the four degrees, here in
    plain words). Direct current has IEC 61000-4-29 for it; lengths and number are our own choice.
    """

    name: ClassVar[str] = NAME
    settings: ClassVar[type[Settings]] = SupplyMarginSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"switch", "capture"})
    holds_switch: ClassVar[bool] = True
    ends_by_itself: ClassVar[bool] = True

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, SupplyMarginSettings)
        self._settings = settings
        self._place = place

    def sources(self) -> Sequence[str]:
        return self._place.starts_watched_by()

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def requirements(self) -> Sequence[Requirement]:
        """Return the demands.

        Raises
        ------
        ScriptError
            If the switch sets no voltage.
        """
        self._refuse_what_cannot_be_done()
        own = self._settings
        requirements = [self._start_at(end) for end in ENDS if own.starts]
        if own.breaks_s:
            requirements.append(self._breaks())
        through_s = self._rides_through_s()
        if any(length_s <= through_s for length_s in own.breaks_s):
            requirements.append(self._rides_through(through_s))
        return requirements

    def expected_s(self) -> float:
        own = self._settings
        start_s = usual_start_s(self._place.model_sheet)
        starts_s = len(ENDS) * own.starts * (own.off_s + start_s + own.hold_s)
        breaks_s = sum(own.times * (length_s + start_s + own.apart_s) for length_s in own.breaks_s)
        return starts_s + breaks_s + start_s

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        number = 0
        for end, volt in self._ends():
            for _ in range(self._settings.starts):
                number += 1
                for _ in range(MOST_TRIES if number > done.count else 0):
                    if await self._trial(bench, say).start(end, volt, number):
                        break
        left = [
            length_s for length_s in self._settings.breaks_s for _ in range(self._settings.times)
        ]
        tried = max(0, done.count - number)
        left = left[tried:]
        if left:
            await self._trial(bench, say).breaks(left, tried + 1)

    def _trial(self, bench: Bench, say: Say) -> Trials:
        return Trials(bench, say, self._settings, self._place)

    def _ends(self) -> list[tuple[str, float]]:
        """Return each end of the rated range with the voltage to set there, V."""
        supply = self._place.fixture.supply
        assert supply is not None  # else the check was refused
        assert supply.rated is not None
        low_v, high_v = supply.rated.tried_v(supply.accuracy_v)
        return [("lowest", round(low_v, 4)), ("highest", round(high_v, 4))]

    def _rides_through_s(self) -> float:
        supply = self._place.model_sheet.supply
        return 0.0 if supply is None else supply.rides_through_s

    def _refuse_what_cannot_be_done(self) -> None:
        if self._place.fixture.switch is not None and self._place.fixture.supply is None:
            what = msg(
                "the switch of this fixture sets no voltage; wire a supply that does, with "
                "sets_voltage = true, or take this check out"
            )
            raise ScriptError(self._place.stretch, self.name, what)

    def _start_at(self, end: End) -> Requirement:
        own = self._settings
        settable = self._settable
        rated = None if settable is None else settable.rated
        terms = SupplyTerms(
            end=end,
            rated_v=None if rated is None else getattr(rated, f"{end}_v"),
            accuracy_v=self._accuracy_v(),
            start_limit_s=stated_start_limit_s(self._place.model_sheet, own.start_limit_s),
            hold_s=own.hold_s,
            promised=own.starts,
        )
        return SUPPLY_MARGIN.demand(terms, **self._plain(end))

    def _accuracy_v(self) -> float | None:
        return None if self._settable is None else self._settable.accuracy_v

    @property
    def _settable(self) -> SettableSwitch | None:
        return self._place.fixture.of(SettableSwitch)

    def _breaks(self) -> Requirement:
        own = self._settings
        terms = BreakTerms(
            promised=own.times * len(own.breaks_s),
            lengths_s=tuple(own.breaks_s),
            accuracy_v=self._accuracy_v(),
        )
        return SHORT_BREAKS.demand(terms, **self._plain("short breaks"))

    def _rides_through(self, through_s: float) -> Requirement:
        count = sum(length_s <= through_s for length_s in self._settings.breaks_s)
        terms = BreakTerms(
            promised=self._settings.times * count,
            no_effect_up_to_s=through_s,
            accuracy_v=self._accuracy_v(),
        )
        return SHORT_BREAKS.demand(terms, **self._plain("rides through"))

    def _plain(self, short: str) -> Plain:
        plain = self._place.plain(self.name, short, needs=self.needs)
        return {**plain, "limit": 0.0, "confidence": self._place.confidence}
