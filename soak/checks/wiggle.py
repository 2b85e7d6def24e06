"""Wiggle: the plug is moved seven ways in its port, on cue, while the bench watches.

An intermittent contact opens only when it is moved, and often only one way, and only when hot. The
hands stay on the plug and the eyes off the screen: each movement has its cue, in shuffled order, so
that neither the hand nor the unit's own rhythm decides which one finds it.
"""

from collections.abc import Mapping, Sequence
from typing import ClassVar, Literal, cast

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say, first_state, look
from soak.frozen.fixture import Fixture
from soak.frozen.sheet import ModelSheet
from soak.instruments import WATCHES
from soak.marks import MovementBegins, MovementEnds, mark_of
from soak.quantities import Quantity
from soak.records import Requirement, Role
from soak.roles import Movement, Question
from soak.rules.by_eye import MOVED_BY_EYE, EyeTerms
from soak.rules.core.rule import Plain
from soak.rules.wiggle import NO_EPISODE_WHEN_MOVED, force_words, movement_words
from soak.settings import Seconds, Settings
from soak.states import lost, patient_start_limit_s, start_limit, works
from soak.terms import MovedTerms
from soak.words import Amount, Message, msg

MOVEMENTS: Mapping[Movement, Message] = {
    "up": msg("lean it up"),
    "down": msg("lean it down"),
    "left": msg("lean it to the left"),
    "right": msg("lean it to the right"),
    "in": msg("push it in"),
    "out": msg("pull it lightly"),
    "twist": msg("twist it to and fro"),
}
"""The seven movements, and what the cue tells the hand. Four turns of side load are those of the
four-axis continuity test of the USB Type-C specification; the others are our own choice."""

REST = "rest"

_TRIES = 3
"""A movement that the servo was lost in is made anew so often. Our own choice."""


class WiggleSettings(Settings):
    """Settings of the check `wiggle`.

    Attributes
    ----------
    port : str
        The unit's port, as the model sheet calls it.
    heat : str
        `cold` or `hot`: how warm the unit is to be; it names the finding, and readings of the
        spots go with it.
    warm_up_s : float
        So long the unit is on before the first cue, s; for `hot` in a soak of its own.
    rest_s : float
        Hands off at first, s: a port that loses it at rest needs no wiggling.
    dwell_s : float
        Length of each movement, s: at least 10 s as in the Type-C test.
    pause_s : float
        Between two movements the plug is let go for so long, s.
    repeats : int
        How often all seven movements are made.
    force_n : float
        Force of the hand, N; a servo's stands in the fixture. The default is the side load of a
        vertical Type-C receptacle, 8 N, as test houses quote the specification; right-angle ones
        stand 20 N.
    moved_by : str
        What moves the plug: `hand`, `servo`, or `either`: the servo where the fixture has one at
        this port, else the hand. A servo needs nobody there.
    wait_s : float
        How long to wait for the operator before each round, s.
    by_eye : bool
        Whether, where nothing watches the port, the operator is asked after each movement whether
        what it carries stayed; only in an attended stretch.
    eye_wait_s : float
        How long to wait for each such answer, s.
    """

    port: str = Field(min_length=1)
    heat: Literal["cold", "hot"] = "cold"
    warm_up_s: Seconds = Field(default=0.0, ge=0, le=86400)
    rest_s: Seconds = Field(default=60.0, ge=10, le=3600)
    dwell_s: Seconds = Field(default=10.0, ge=10, le=600)
    pause_s: Seconds = Field(default=3.0, ge=1, le=60)
    repeats: int = Field(default=3, ge=1, le=100)
    force_n: float = Field(default=8.0, gt=0, le=50)
    moved_by: Literal["hand", "servo", "either"] = "either"
    wait_s: Seconds = Field(default=600.0, gt=0)
    by_eye: bool = False
    eye_wait_s: Seconds = Field(default=120.0, gt=0)


def mover(settings: WiggleSettings, fixture: Fixture) -> Literal["hand", "servo"]:
    """Return what moves the plug of a port on a fixture."""
    if settings.moved_by != "either":
        return settings.moved_by
    servo = fixture.servo
    return "servo" if servo is not None and servo.at_port == settings.port else "hand"


def force_n(settings: WiggleSettings, fixture: Fixture) -> float | None:
    """Return how hard the plug is moved, N; None if nobody measured it."""
    if mover(settings, fixture) == "hand":
        return settings.force_n
    return None if fixture.servo is None else fixture.servo.force_n


def watched(port: str, fixture: Fixture, model_sheet: ModelSheet) -> list[str]:
    """Return the sources that see whether a port works: `capture`, `link`, `probe.NAME` ...

    At a power inlet the picture tells of restarts, and a probe of the supply current of drops.
    """
    sources: list[str] = [
        role for role in ("capture", *WATCHES) if port and fixture.port_of(role) == port
    ]
    stick = fixture.stick
    if stick is not None and stick.port == port and stick.path == "through":
        sources.append("stick")
    if port in model_sheet.ports and model_sheet.ports[port].kind == "power":
        sources += ["capture"] if fixture.capture and "capture" not in sources else []
        sources += [
            f"probe.{name}"
            for name, wired in fixture.probes.items()
            if wired.unit == "A" and not wired.at_port
        ]
    return sources


class Wiggle:
    """Cue one movement after another; what comes of them the instruments stream by themselves."""

    name: ClassVar[str] = "wiggle"
    settings: ClassVar[type[Settings]] = WiggleSettings
    needs: ClassVar[frozenset[Role]] = frozenset()
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = True

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, WiggleSettings)
        self._settings = settings
        self._place = place
        self._watched = watched(settings.port, place.fixture, place.model_sheet)
        self._by = mover(settings, place.fixture)
        self._force_n = force_n(settings, place.fixture)
        self._force = str(force_words(self._by, self._force_n))

    @property
    def _by_eye(self) -> bool:
        allowed = self._settings.by_eye
        wired = bool(self._watched)
        return self._place.seen_by_eye(self.name, allowed=allowed, wired=wired)

    def by_person(self) -> frozenset[Role] | None:
        """Return no role, for any might watch the port; None where one does."""
        return frozenset() if self._by_eye else None

    def sources(self) -> Sequence[str]:
        return tuple(self._watched) + (("servo",) if self._by == "servo" else ())

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def expected_s(self) -> float:
        own = self._settings
        moving_s = own.repeats * (len(MOVEMENTS) * (own.dwell_s + own.pause_s) + 10.0)
        return own.warm_up_s + own.rest_s + moving_s

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        if not self._watched and not self._by_eye:
            return
        own = self._settings
        sheet = self._place.model_sheet
        if self._by_eye:
            await trio.sleep(start_limit(sheet).limit_s)
        else:
            first = self._watched[0]
            await first_state(bench, first, works(first), patient_start_limit_s(sheet))
        await trio.sleep(own.warm_up_s)
        if not await self._ready(bench, self._card()):
            return
        await self._cue(bench, say, REST, repeat=0, lasts_s=own.rest_s)
        for repeat in range(1, own.repeats + 1):
            if not await self._ready(bench, self._round(repeat)):
                return
            for movement in bench.random.permutation(self._movements()).tolist():
                for _ in range(_TRIES):
                    await trio.sleep(own.pause_s)
                    if await self._cue(bench, say, movement, repeat=repeat, lasts_s=own.dwell_s):
                        break
            await trio.sleep(own.pause_s)

    async def _ready(self, bench: Bench, card: Question) -> bool:
        """Tell whether the operator is there and says so; a servo needs nobody."""
        return self._by != "hand" or card.agreed(await bench.ask(card))

    def _movements(self) -> list[str]:
        """Return those that can be made: a servo may have positions for some only."""
        servo = self._place.fixture.own("servo")
        can = servo.positions or servo.movements or MOVEMENTS
        return [movement for movement in MOVEMENTS if self._by == "hand" or movement in can]

    async def _cue(
        self, bench: Bench, say: Say, movement: str, repeat: int, lasts_s: float
    ) -> bool:
        """Say that a movement begins, and after its time that it ends; return whether it was made.

        The hand moves the plug on cue, or the servo does now.
        """
        if movement == REST:
            cue = msg("hands off")
        elif self._by == "hand":
            cue = MOVEMENTS[cast(Movement, movement)]
        else:
            cue = msg("hands off, the servo moves it")
        port = self._settings.port
        stretch = self._place.stretch
        begins = MovementBegins(
            port=port, movement=movement, repeat=repeat, by=self._by, cue=cue, lasts_s=lasts_s
        )
        say(mark_of(bench.clock.now_s(), begins, stretch, self.name))
        whole = True
        if self._by == "servo" and movement != REST:
            whole = await bench.move(cast(Movement, movement), lasts_s)
        else:
            await trio.sleep(lasts_s)
        ends = MovementEnds(
            port=port, movement=movement, repeat=repeat, by=self._by, force=self._force, whole=whole
        )
        say(mark_of(bench.clock.now_s(), ends, stretch, self.name))
        if self._by_eye and whole:
            await bench.ask(self._stayed(movement, repeat))
        return whole

    def _stayed(self, movement: str, repeat: int) -> Question:
        own = self._settings
        port = self._place.model_sheet.port_text(own.port)
        if movement == REST:
            text = msg(
                "Did what comes over the {port} stay all the time that nobody touched it?",
                port=port,
            )
        else:
            text = msg(
                "Did what comes over the {port} stay all the time that it was moved ({movement})?",
                port=port,
                movement=movement_words(movement),
            )
        return look(f"{self._looks} {movement} {repeat}", text, own.eye_wait_s)

    @property
    def _looks(self) -> str:
        return f"{self._place.stretch}/{self._settings.port} by eye"

    def _card(self) -> Question:
        own = self._settings
        text = msg(
            "Wiggle of port {port}, unit {warm}. Touch bare metal of the case first (static); the "
            "unit stays on. You will hold the plug of {port} by its body, not by the lead, and "
            "move it on cue by {force}: as much as one can hold for long; a spring "
            "balance hooked 15 mm from the mating edge shows it. A vertical Type-C socket is not "
            "to get more than 8 N, a right-angle one not more than 20 N. A cue sounds before each "
            "movement and at each loss: keep your eyes on the plug. Now hands off: "
            "{time} of rest come first. Confirm when nobody touches it.",
            port=own.port,
            warm=msg("fully warm") if own.heat == "hot" else msg("cold"),
            force=force_words(self._by, self._force_n),
            time=Amount(own.rest_s, "s"),
        )
        return Question(f"{self._place.stretch}/rest", text, "done", wait_s=own.wait_s)

    def _round(self, repeat: int) -> Question:
        own = self._settings
        text = msg(
            "Round {number} of {of}: seven movements of {lasts}, let go in between. Confirm, then "
            "take the plug of port {port}; the first cue comes after {pause}.",
            number=repeat,
            of=own.repeats,
            lasts=Amount(own.dwell_s, "s"),
            port=own.port,
            pause=Amount(own.pause_s, "s"),
        )
        return Question(f"{self._place.stretch}/round {repeat}", text, "done", wait_s=own.wait_s)

    def requirements(self) -> Sequence[Requirement]:
        own = self._settings
        place = self._place
        roles = frozenset(cast(Role, source.partition(".")[0]) for source in self.sources())
        plain: Plain = {
            **place.plain(self.name, f"{own.port} {own.heat}", needs=roles),
            "limit": 0.0,
            "confidence": place.confidence,
            "shows_repair": place.model_sheet.functions_at(own.port),
        }
        requirements = [NO_EPISODE_WHEN_MOVED.demand(self._terms(), **plain)]
        if self._by_eye:
            terms = EyeTerms(promised=1 + own.repeats * len(self._movements()), port=own.port)
            eye: Plain = {**plain, "id": f"{plain['id']} by eye", "confidence": None}
            requirements.append(MOVED_BY_EYE.demand(terms, quantity=self._looks, **eye))
        return requirements

    def _terms(self) -> MovedTerms:
        own = self._settings
        sheet = self._place.model_sheet
        return MovedTerms(
            port=own.port,
            heat=own.heat,
            sources=tuple(self._watched),
            bad=tuple(sorted(lost("capture", sheet))),
            movements=tuple(MOVEMENTS),
            repeats=own.repeats,
            dwell_s=own.dwell_s,
            pause_s=own.pause_s,
            rest_s=own.rest_s,
            moved_by=self._by,
            force_n=self._force_n,
            usual_start_s=sheet.start_s,
        )


THE_CHECK = Wiggle
