"""The picture: no dropout, no restart, for as long as the unit is on."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from itertools import count
from typing import ClassVar

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say, look, needed
from soak.errors import Mistake, ScriptError
from soak.mistakes import fit
from soak.quantities import Quantity
from soak.records import Json, Requirement, Role
from soak.rules.by_eye import PICTURE_BY_EYE, EyeTerms
from soak.rules.by_plan import HOURS_BY_PLAN
from soak.rules.core.hourly import HourlyTerms
from soak.rules.core.rule import Plain, Rule
from soak.rules.gone import FAULT_GONE, GoneTerms
from soak.rules.picture import DROPOUTS_PER_HOUR, NO_DROPOUT, NO_RESTART
from soak.rules.picture_fine import NO_TINT, NO_TORN, SPARKLE_PER_HOUR
from soak.rules.tail import FAILURE_FREE
from soak.settings import Seconds, Settings
from soak.states import EPISODE_GAP_S, FROZEN, lost, start_limit
from soak.terms import LossTerms, params_of
from soak.words import msg

SOURCE = "capture"
UNCHANGED = "capture.unchanged"
"""How long the picture has stood unchanged: no fault where no motion is promised, but told."""


class PictureSettings(Settings):
    """Settings of the check `picture`.

    Attributes
    ----------
    shortest_dropout_s : float
        A dropout of at least this length is one too many, s. Common practice: 0.2 s is seen by
        anybody who looks.
    shorter_per_h : float or None
        Allowed shorter dropouts, per hour; becomes a count over all stretches together,
        fixed before.
    restarts : int or None
        Allowed restarts and hangs.
    failure_free_s : float or None
        The soak's last so many observed seconds hold no fault of the unit; left out: not
        demanded.
    seen_before : int or None
        How often the picture was lost before the repair: the soak must then show that the
        fault is gone; left out: not demanded.
    seen_before_in_s : float or None
        In how long a time of watching that was, s.
    seen_before_bouts : int or None
        In how many bouts that was, losses close together being one; left out: they count as
        one bout.
    gone_chance : float
        Such a quiet time may be luck with this chance at most.
    by_eye : bool
        Whether, where no capture is wired, the operator is asked again and again whether the
        picture is there; only in an attended stretch, and in none that switches the power.
    look_every_s : float
        So often, s; each answer is waited for until the next one.
    tints : int or None
        How often colours may be lost, be it a lane or all, or shown in the wrong colour space; left
        out: not demanded.
    torn : int or None
        How often lines may be torn; left out: not demanded.
    sparkle_per_h : float or None
        How often single pixels may flash all over the picture, per hour; left out: not
        demanded.
    """

    shortest_dropout_s: Seconds = Field(default=0.2, gt=0, le=3600)
    shorter_per_h: float | None = Field(default=1.0, ge=0)
    restarts: int | None = Field(default=0, ge=0)
    failure_free_s: Seconds | None = Field(default=None, gt=0)
    seen_before: int | None = Field(default=None, ge=1)
    seen_before_in_s: Seconds | None = Field(default=None, gt=0)
    seen_before_bouts: int | None = Field(default=None, ge=1)
    gone_chance: float = Field(default=0.05, gt=0, lt=1)
    by_eye: bool = False
    look_every_s: Seconds = Field(default=60.0, ge=10, le=3600)
    tints: int | None = Field(default=None, ge=0)
    torn: int | None = Field(default=None, ge=0)
    sparkle_per_h: float | None = Field(default=None, ge=0)

    @fit
    def _count_needs_its_time(self) -> Iterator[Mistake]:
        if (self.seen_before is None) != (self.seen_before_in_s is None):
            yield Mistake(
                "", msg("seen_before and seen_before_in_s belong together; give both or none")
            )
        if (self.seen_before_bouts or 0) > (self.seen_before or 0):
            yield Mistake(
                "", msg("seen_before_bouts is more than seen_before; each bout is seen once")
            )


class PictureCheck:
    """Demand an unbroken picture; the capture streams what it sees by itself."""

    name: ClassVar[str] = "picture"
    settings: ClassVar[type[Settings]] = PictureSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"capture"})
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = False

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, PictureSettings)
        self._settings = settings
        self._place = place

    @property
    def _by_eye(self) -> bool:
        place = self._place
        allowed = self._settings.by_eye
        return place.seen_by_eye(self.name, allowed=allowed, wired=SOURCE in place.fixture.wired)

    def by_person(self) -> frozenset[Role] | None:
        """Return the capture where the operator's eyes take its place."""
        return self.needs if self._by_eye else None

    def sources(self) -> Sequence[str]:
        return () if self._by_eye else (SOURCE,)

    def quantities(self) -> Sequence[Quantity]:
        """Return what is read where the model sheet promises no motion."""
        moves = FROZEN in lost(SOURCE, self._place.model_sheet)
        return () if moves or self._by_eye else (Quantity(UNCHANGED, "s", SOURCE),)

    def requirements(self) -> Sequence[Requirement]:
        settings = self._settings
        requirements = [self._no_dropout()]
        if self._by_eye:
            requirements.append(self._there_at_each_look())
        if settings.shorter_per_h is not None:
            requirements.append(self._shorter(settings.shorter_per_h))
        if settings.restarts is not None:
            requirements.append(self._no_restart(settings.restarts))
        if settings.failure_free_s is not None:
            requirements.append(self._failure_free(settings.failure_free_s))
        if settings.seen_before is not None and settings.seen_before_in_s is not None:
            requirements.append(self._gone(settings.seen_before, settings.seen_before_in_s))
        return [*requirements, *self._fine()]

    def expected_s(self) -> float:
        return 0.0

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        if not self._by_eye:
            await trio.sleep_forever()  # the capture streams into the journal by itself
        begun_s = bench.clock.now_s() + start_limit(self._place.model_sheet).limit_s
        for number in count(1):
            every_s = self._settings.look_every_s
            await trio.sleep(max(0.0, begun_s + (number - 1) * every_s - bench.clock.now_s()))
            text = msg("Look at the unit now: is the picture there, as it should be?")
            await bench.ask(look(f"{self._looks} {number}", text, every_s))

    def unit_terms(self) -> Json:
        return params_of(self._terms())

    def _no_dropout(self) -> Requirement:
        plain = NO_DROPOUT.demand(self._terms(), quantity=SOURCE, **self._plain("no dropout", 0.0))
        plan = self._place.plan
        if plan is None or plan["of"] != "hours":
            return plain
        return self._place.planned(plain, HOURS_BY_PLAN)

    @property
    def _looks(self) -> str:
        return f"{self._place.stretch}/picture by eye"

    def _there_at_each_look(self) -> Requirement:
        place = self._place
        if place.cycled:
            what = msg(
                "goes with no check that switches the power; put it into a stretch of its own"
            )
            raise ScriptError(place.stretch, f"{self.name}.by_eye", what)
        terms = EyeTerms(asked_s=self._settings.look_every_s)
        plain: Plain = {**place.plain(self.name, "by eye", needs=needed(self)), "limit": 0.0}
        return PICTURE_BY_EYE.demand(terms, quantity=self._looks, **plain)

    def _shorter(self, per_h: float) -> Requirement:
        plain = self._plain("shorter dropouts", per_h)
        terms = HourlyTerms(**asdict(self._terms()))
        return DROPOUTS_PER_HOUR.demand(terms, quantity=SOURCE, **plain)

    def _no_restart(self, allowed: int) -> Requirement:
        plain = self._plain("no restart", float(allowed))
        return NO_RESTART.demand(self._terms(), quantity=SOURCE, **plain)

    def _plain(self, short: str, limit: float) -> Plain:
        plain = self._place.plain(self.name, short, needs=self.needs)
        return {**plain, "limit": limit, "confidence": self._place.confidence}

    def _terms(self) -> LossTerms:
        return LossTerms(
            bad=tuple(sorted(lost(SOURCE, self._place.model_sheet))),
            at_least_s=self._settings.shortest_dropout_s,
            episode_gap_s=EPISODE_GAP_S,
            usual_start_s=self._place.model_sheet.start_s,
        )

    def _failure_free(self, length_s: float) -> Requirement:
        plain: Plain = {**self._plain("failure-free end", length_s), "confidence": None}
        return FAILURE_FREE.demand(self._terms(), **plain)

    def _gone(self, seen: int, seen_in_s: float) -> Requirement:
        bouts = self._settings.seen_before_bouts
        terms = GoneTerms(**asdict(self._terms()), seen=seen, seen_in_s=seen_in_s, bouts=bouts)
        chance = self._settings.gone_chance
        plain: Plain = {**self._plain("fault gone", chance), "confidence": None}
        return FAULT_GONE.demand(terms, quantity=SOURCE, **plain)

    def _fine(self) -> Iterator[Requirement]:
        settings = self._settings
        demanded: Sequence[tuple[Rule[LossTerms], str, float | None]] = (
            (NO_TINT, "tint", settings.tints),
            (NO_TORN, "torn", settings.torn),
        )
        for rule, kind, allowed in demanded:
            if allowed is not None:
                plain = self._plain(rule.name, float(allowed))
                yield rule.demand(self._terms(), quantity=f"{SOURCE}.{kind}", **plain)
        if settings.sparkle_per_h is not None:
            plain = self._plain(SPARKLE_PER_HOUR.name, settings.sparkle_per_h)
            terms = HourlyTerms(**asdict(self._terms()))
            yield SPARKLE_PER_HOUR.demand(terms, quantity=f"{SOURCE}.sparkle", **plain)


THE_CHECK = PictureCheck
