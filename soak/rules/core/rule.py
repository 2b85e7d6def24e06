"""What a judging rule is: all that the rest of the program knows of it stands in one value.

A module of `soak.rules` holds one rule or a family of them; a scan finds each `Rule` in it. Nothing
else asks for a rule by its name: what a page, the grade or a script's explanation needs to know of
a rule is an attribute here, and one without a default cannot be forgotten.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from enum import Enum
from typing import Any, Generic, NotRequired, TypedDict, TypeVar, Unpack

from soak.derive.course import Course
from soak.derive.events.faults import UnitFault
from soak.derive.jobs_before import FailureKind
from soak.errors import JournalError
from soak.names import named
from soak.records import Requirement, Role
from soak.rules.core.lacks import Lack
from soak.rules.core.reads import Reads
from soak.rules.core.verdict import Finding
from soak.terms import TermsError, params_of, terms_from
from soak.words import NOTHING_SAID, Message, msg

RULES = "5"
"""Version of the judging rules: raised when the same evidence may get another grade."""

T = TypeVar("T")


class Bounds(Enum):
    """What the bounds beside a finding's value are."""

    NONE = "none"
    ACCURACY = "the instrument's accuracy on either side"
    SHARE = "confidence bounds of a failed share"
    RATE = "confidence bounds of a rate per hour"
    OTHER = "bounds of another kind, which the method names"


class Weight(Enum):
    """How a finding counts in the reason of a grade."""

    PLAIN = "as it stands"
    BY_HAND = "asked of a person anew in each soak, so an earlier soak's answer does not stand"
    FOLLOWS = "follows from another fault, so it is named last"
    EXPLAINS = "explains other holes, so it is named first"


class Section(Enum):
    """Where on a page a finding stands, in the order of pages."""

    STARTS = "starts"
    PICTURE = "picture"
    DATA = "data"
    LINK = "link"
    HEAT = "heat"
    SUPPLY = "supply"
    HAND = "hand"


class Harm(Enum):
    """How bad a failure is beside failures of other kinds, the worst first. Our own order.

    What can hurt somebody comes before what spoils the use, and what a buyer would notice all the
    time before what shows now and then.
    """

    SAFETY = "a person saw damage, or the power had to be cut"
    HEAT = "too hot"
    RESTART = "the unit restarts or hangs by itself"
    LOSS = "the picture is lost or spoilt"
    START = "a start fails"
    DATA = "data is lost, damaged or slow"
    LINK = "a port loses its device"
    SUPPLY = "supply and current"
    HAND = "what shows when it is moved or plugged in"


HARM_OF_SECTION = {
    Section.STARTS: Harm.START,
    Section.PICTURE: Harm.LOSS,
    Section.DATA: Harm.DATA,
    Section.LINK: Harm.LINK,
    Section.HEAT: Harm.HEAT,
    Section.SUPPLY: Harm.SUPPLY,
    Section.HAND: Harm.HAND,
}
"""How bad a failure is of a rule that does not say."""


class Plain(TypedDict):
    """The parts of a requirement that are the same for all rules; see `Requirement`."""

    id: str
    check: str
    stretch: str
    limit: NotRequired[float | None]
    guarded: NotRequired[bool]
    confidence: NotRequired[float | None]
    needs: NotRequired[frozenset[Role]]
    blind_allowed: NotRequired[float]
    longest_blind_s: NotRequired[float | None]
    shows_repair: NotRequired[frozenset[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule(Generic[T]):
    """A judging rule.

    Attributes
    ----------
    name : str
        As requirements in a header call it.
    terms : type
        Its typed parameters, a class under `soak.terms.terms`.
    judge : callable
        Judges one requirement over the soaks that hold it, in order of time; pure.
    demands : callable
        Says what is demanded, a sentence without its full stop.
    reads : Reads
        How findings are read: direction of the limit, what is counted over what, words.
    lacks : callable
        What has to be run again where nothing was shown; None: nothing that running on would add.
    section : Section
        Its place on a page.
    bounds : Bounds
        What `bound_low` and `bound_high` of its findings are.
    unit : str or None
        Measurement unit of its limit and values; None: that of the quantity.
    weight : Weight
        How it counts in the reason of a grade.
    harm : Harm or None
        How bad its failure is beside others; None: as failures of its section are.
    beyond : callable or None
        Finds what broke the demand, for tables that say what happened when: the first reading
        beyond a limit, each of what is counted one by one.
    wants : callable or None
        Says which instrument is wanting in a soak that the requirement's `needs` cannot name.
    shortest_s : callable or None
        Says how long a soak must be at least to meet it, s.
    anywhere : bool
        Whether a demand by it may be put to every stretch that ran its check, however that was
        called and set: what it forbids is a fault wherever it was seen.
    failures : FailureKind or None
        What its findings count one by one, so that the quiet after a repair is held against that
        count; None: a demand that was not met must be met again.
    by_person : bool
        Whether a person judges it, by hand or by eye, and no instrument.
    """

    name: str
    terms: type[T]
    judge: Callable[[Requirement, T, Sequence[Course]], Finding]
    demands: Callable[[Requirement, T], Message]
    reads: Reads[T]
    lacks: Callable[[Finding, T, float | None], Lack | None]
    section: Section
    bounds: Bounds
    unit: str | None = "1"
    weight: Weight = Weight.PLAIN
    harm: Harm | None = None
    beyond: Callable[[Requirement, T, Course], Sequence[UnitFault]] | None = None
    wants: Callable[[T, Course], Message] | None = None
    shortest_s: Callable[[Requirement, T], float] | None = None
    anywhere: bool = False
    failures: FailureKind | None = None
    by_person: bool = False

    def demand(
        self, told: T, *, quantity: str = "", unit: str | None = None, **plain: Unpack[Plain]
    ) -> Requirement:
        """Make a requirement by this rule, as a header freezes it.

        Parameters
        ----------
        told : terms
            The rule's terms.
        quantity : str
            What it is about: a quantity, a source of states, or a question.
        unit : str or None
            Measurement unit, where the rule leaves it to the quantity.

        Raises
        ------
        ValueError
            If neither says the measurement unit.
        """
        of = unit or self.unit
        if of is None:
            raise ValueError(f"{plain['id']}: the rule {self.name!r} needs a measurement unit")
        bare = Requirement(
            text="",
            quantity=quantity,
            rule=self.name,
            unit=of,
            params=params_of(told),
            **plain,
        )
        return replace(bare, text=str(self.demands(bare, told)))

    def terms_of(self, need: Requirement) -> T:
        """Read the terms of a requirement by this rule.

        Raises
        ------
        TermsError
            If a key is missing, unknown or impossible.
        """
        return terms_from(self.terms, need.params)

    def among(self, needs: Sequence[Requirement]) -> Iterator[tuple[Requirement, T]]:
        """Yield those of some requirements that are by this rule, where something depends on them.

        Raises
        ------
        JournalError
            If the terms of one cannot be read.
        """
        for need in needs:
            if need.rule == self.name:
                try:
                    yield need, self.terms_of(need)
                except TermsError as fault:
                    raise JournalError(
                        f"the demand {need.id} cannot be read: its parameter {fault}; update soak"
                    ) from fault

    def legible(self, needs: Sequence[Requirement]) -> Iterator[tuple[Requirement, T]]:
        """Yield those that can be read, for tables beside findings, which name the rest."""
        for need in needs:
            with suppress(JournalError):
                yield from self.among([need])


AnyRule = Rule[Any]


def no_probe(source: str, course: Course) -> Message:
    """Say that a probe is not wired; empty if it is, or if the source is none of a probe."""
    kind, _, name = source.partition(".")
    if kind == "probe" and name not in course.header.fixture.probes:
        return msg("no probe called {name} was wired", name=named(name))
    return NOTHING_SAID


def alike(need: Requirement, demanded: Iterable[Requirement]) -> list[Requirement]:
    """Return the demands that are by the same rule and about the same quantity as one."""
    return [
        requirement
        for requirement in demanded
        if (requirement.rule, requirement.quantity) == (need.rule, need.quantity)
    ]
