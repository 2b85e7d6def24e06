"""What a check is, and all that it may touch."""

import importlib
import pkgutil
from collections.abc import AsyncIterator, Awaitable, Callable, Collection, Mapping, Sequence
from contextlib import aclosing, asynccontextmanager
from dataclasses import dataclass, field
from typing import Any, ClassVar, Protocol, cast, get_type_hints, runtime_checkable

import numpy as np
import trio

import soak.checks
from soak.clock import SoakClock
from soak.errors import BenchFault, ScriptError
from soak.frozen.fixture import Fixture
from soak.frozen.sheet import ModelSheet
from soak.quantities import Quantity
from soak.records import Json, Mark, Observed, Reading, Requirement, Role, State
from soak.roles import Movement, Network, Question, Stick
from soak.rules.core.rule import AnyRule, Plain
from soak.settings import Settings
from soak.terms import terms_from
from soak.words import Message, msg

Say = Callable[[Observed], object]
"""Takes what a check observes; the runner puts it into the journal."""


async def _begun(
    task: Callable[[], Awaitable[None]], *, task_status: trio.TaskStatus[None]
) -> None:
    task_status.started()  # whoever waits for it goes on only after the task's first steps
    await task()


@asynccontextmanager
async def beside(*tasks: Callable[[], Awaitable[None]]) -> AsyncIterator[None]:
    """Run tasks that never end beside a block, from just before it to its end.

    A fault of the bench in the block is raised as it is, not in a group.
    """
    with_it: BenchFault | None = None
    async with trio.open_nursery() as nursery:
        for task in tasks:
            await nursery.start(_begun, task)
        try:
            yield
        except BenchFault as fault:
            with_it = fault
        nursery.cancel_scope.cancel()
    if with_it is not None:
        raise with_it


class Bench(Protocol):
    """All that a check may touch."""

    @property
    def clock(self) -> SoakClock:
        """Soak time."""
        ...

    @property
    def random(self) -> np.random.Generator:
        """A stream of its own from (seed, check, stretch)."""
        ...

    def follow(self, source: str) -> AsyncIterator[State | Reading]:
        """Yield the latest state and reading of a source, then every later one.

        A source that is not wired yields nothing and ends.
        """
        ...

    async def blind_in(self, source: str, from_s: float, to_s: float) -> bool:
        """Tell whether a source was not seen at some time in between, as the judgement reckons."""
        ...

    async def power(self, on: bool, why: str = "") -> Mark:
        """Command the unit's power; only for the check that holds the switch.

        Raises
        ------
        BenchFault
            If the switch did not answer or the guard holds the power off.
        """
        ...

    async def soft_stop(self, why: str = "") -> Mark | None:
        """Press the unit's power button and wait until it is off in order, or its time is over.

        The mark `soft stop` says which; None where nothing presses or the model does not stop so.
        Only for the check that holds the switch. A lost presser is waited for, as a hole.
        """
        ...

    async def wake(self, why: str = "", *, anyway: bool = False) -> Mark | None:
        """Press on a unit that stays off when power comes back; None where that is not needed.

        With `anyway` also one that should have started by itself and is dark. The mark `button`
        says since when (`from_s`), and whether that is `doubtful`. Only for the check that holds
        the switch.
        """
        ...

    async def move(self, movement: Movement, lasts_s: float) -> bool:
        """Let the servo move the plug and go back to rest; False if it was lost meanwhile.

        Returns once it answers again.

        Raises
        ------
        BenchFault
            If there is none.
        """
        ...

    async def set_voltage(self, volt: float, why: str = "") -> Mark:
        """Set the supply's voltage for the next start, V; the next off returns it to nominal.

        Raises
        ------
        BenchFault
            If the switch sets none, the unit is on, or the supply did not take it.
        """
        ...

    async def interrupt(self, for_s: float, why: str = "") -> float:
        """Break the power of a running unit for `for_s`; return for how long it was, s.

        Raises
        ------
        BenchFault
            If the switch cannot, or did not come back: then the power is off.
        """
        ...

    async def fed_v(self) -> float:
        """Return the voltage that the supply gives now, V.

        Raises
        ------
        BenchFault
            If the switch tells none.
        """
        ...

    def stick(self) -> Stick:
        """Return the stick.

        Raises
        ------
        BenchFault
            If there is none.
        """
        ...

    def network(self) -> Network:
        """Return the network port.

        Raises
        ------
        BenchFault
            If there is none.
        """
        ...

    async def load(self, on: bool) -> Mark:
        """Command the load at the unit's port; what it answered is recorded.

        Raises
        ------
        BenchFault
            If there is none, or it did not answer.
        """
        ...

    async def ask(self, question: Question) -> str | float | None:
        """Ask the operator; None if nobody answered in time. Question and answer are recorded."""
        ...


@dataclass(frozen=True, slots=True)
class Done:
    """What earlier sessions of this stretch already have."""

    count: int = 0
    note: Json = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Place:
    """Where a check runs, as resolved in the journal's header.

    Attributes
    ----------
    stretch : str
        Name of the stretch.
    fixture, model_sheet : Json
        As they stand in the header.
    confidence : float
        The script's confidence level for stated bounds.
    blind_allowed, longest_blind_s : float
        The script's allowance for blindness of the bench.
    plan : Json or None
        The sequential plan that may end the stretch early, as frozen in the script.
    attended : bool
        Whether somebody is there to be asked.
    cycled : bool
        Whether a check of the stretch switches the power.
    """

    stretch: str
    fixture: Fixture
    model_sheet: ModelSheet
    confidence: float = 0.95
    blind_allowed: float = 0.02
    longest_blind_s: float | None = None
    plan: Json | None = None
    attended: bool = False
    cycled: bool = False

    def seen_by_eye(self, check: str, *, allowed: bool, wired: bool) -> bool:
        """Tell whether the operator's eyes take the place of an instrument that is not wired.

        Parameters
        ----------
        allowed : bool
            Whether the script allows it: `by_eye` of the check.
        wired : bool
            Whether an instrument watches.

        Raises
        ------
        ScriptError
            If it does and nobody is there.
        """
        if allowed and not self.attended:
            what = msg("asks the operator; say attended = true for its stretch")
            raise ScriptError(self.stretch, f"{check}.by_eye", what)
        return allowed and not wired

    def starts_watched_by(self) -> Sequence[str]:
        """Return the sources without which a start shows nothing; a presser where one is wired."""
        pressed = self.fixture.button and self.model_sheet.button
        return ("switch", "capture", *(["button"] if pressed else []))

    def planned(self, plain: Requirement, rule: AnyRule) -> Requirement:
        """Return a requirement that is judged by the stretch's plan instead of by a count."""
        terms = terms_from(rule.terms, {**plain.params, "plan": self.plan})
        same = {name: getattr(plain, name) for name in get_type_hints(Plain)}
        own = cast(Plain, {**same, "id": f"{plain.id} by plan", "limit": None})
        return rule.demand(terms, quantity=plain.quantity, unit=plain.unit, **own)

    def plain(self, check: str, short: str, *, needs: frozenset[Role], port: str = "") -> Plain:
        """Return what a check's demands have in common: where they are made, and what they show.

        Parameters
        ----------
        short : str
            Names the demand within its check; makes its id.
        port : str
            The port whose functions are shown; empty: all that the check exercises.
        """
        return {
            "id": f"{self.stretch}/{check}/{short}",
            "check": check,
            "stretch": self.stretch,
            "needs": needs,
            "blind_allowed": self.blind_allowed,
            "longest_blind_s": self.longest_blind_s,
            "shows_repair": self.functions(check, port),
        }

    def functions(self, check: str, port: str = "") -> frozenset[str]:
        """Return the model's functions that `check` exercises (on `port`, if one is given)."""
        return frozenset(
            name
            for name, function in self.model_sheet.functions.items()
            if function.check == check and port in ("", function.port or port)
        )


class Check(Protocol):
    """One kind of test; one file in `soak/checks`. Users' own checks fit the same protocol."""

    name: ClassVar[str]
    """The file's name and the key in a script."""
    settings: ClassVar[type[Settings]]
    needs: ClassVar[frozenset[Role]]
    """Roles without which the check cannot run at all."""
    holds_switch: ClassVar[bool]
    ends_by_itself: ClassVar[bool]
    """True: the stretch lasts at least until `measure` returns. False: it runs until stopped."""

    def __init__(self, settings: Settings, place: Place) -> None: ...

    def sources(self) -> Sequence[str]:
        """Return the sources whose blindness makes this check's time a hole."""
        ...

    def quantities(self) -> Sequence[Quantity]:
        """Return the quantities that this check itself reads (not the probes')."""
        ...

    def requirements(self) -> Sequence[Requirement]:
        """Return the demands, as data."""
        ...

    def expected_s(self) -> float:
        """Return how long it takes if all goes well, s; 0 for one that runs until stopped."""
        ...

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        """Observe until done or cancelled; never decide."""
        ...


@runtime_checkable
class SaysTerms(Protocol):
    """A check that says for its whole soak what is a loss, or how long a start may take.

    Where several do, the first in the script counts.
    """

    def unit_terms(self) -> Json:
        """Return what it says, by the names of `terms.UnitTerms`."""
        ...


@runtime_checkable
class AsksPerson(Protocol):
    """A check that a person may judge, by hand or by eye: the unit has power meanwhile."""

    def by_person(self) -> frozenset[Role] | None:
        """Return the roles that a person takes the place of here; None where none judges."""
        ...


def asks_person(check: Check) -> bool:
    """Tell whether a person judges what a check is about."""
    return isinstance(check, AsksPerson) and check.by_person() is not None


def needed(check: Check) -> frozenset[Role]:
    """Return the roles without which a check cannot run, where a person takes no part's place."""
    taken = check.by_person() if isinstance(check, AsksPerson) else None
    return check.needs - (taken or frozenset())


def look(question_id: str, text: Message, wait_s: float) -> Question:
    """Return the question whether the operator sees what is wanted; the answer is evidence."""
    return Question(question_id, text, "yes/no", wait_s=wait_s, wanted="yes", initials=True)


async def first_state(
    bench: Bench, source: str, wanted: Collection[str], within_s: float
) -> State | None:
    """Return the first such state of a source from now on; None if none came within `within_s`."""
    with trio.move_on_after(within_s):
        async with aclosing(cast(Any, bench.follow(source))) as records:
            async for record in records:
                if isinstance(record, State) and record.state in wanted:
                    return record
    return None


def all_checks() -> Mapping[str, type[Check]]:
    """Return the checks found in `soak/checks`: each module there with a class `THE_CHECK`."""
    checks: dict[str, type[Check]] = {}
    for module in pkgutil.iter_modules(soak.checks.__path__):
        loaded = importlib.import_module(f"soak.checks.{module.name}")
        check = getattr(loaded, "THE_CHECK", None)
        if check is not None:
            checks[check.name] = check
    return checks
