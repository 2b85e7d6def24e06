"""How often something may come in an hour, held to by a count that is fixed before the soak.

The count follows from the rate and from the time that all stretches together demand of it; both
stand in the header. A unit just at a rate is no longer judged by four seconds more or less.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Generic, TypeVar

from soak.derive.course import Course
from soak.derive.spans import total_s
from soak.frozen.shape import as_json, kept, read_as
from soak.records import Requirement
from soak.rules.core.finding import Value
from soak.rules.core.reads import NONE, Reads
from soak.rules.core.rule import Rule, alike
from soak.rules.core.verdict import Finding
from soak.statistics.hourly import count_allowed
from soak.terms import LossTerms, terms
from soak.words import Amount, Message, Number, counted, msg

E = TypeVar("E")


@terms
class HourlyTerms(LossTerms):
    """What counts as a loss, and over how long the allowed ones are counted.

    Attributes
    ----------
    over_s : float or None
        Time that all stretches demand together, s; None in an old header: as its script has it.
    """

    over_s: float | None = None


@dataclass(frozen=True, slots=True)
class Hourly(Generic[E]):
    """What came in one soak, over all stretches that demand it together.

    Attributes
    ----------
    events : sequence
        What came.
    over_s : float
        Time demanded, s.
    allowed : int
        How many were allowed to come in it.
    """

    events: Sequence[E]
    over_s: float
    allowed: int

    @property
    def good(self) -> bool:
        """Whether no more came."""
        return len(self.events) <= self.allowed

    def per_h(self, number: int) -> float:
        """Return a count per hour of the time demanded."""
        return number / (self.over_s / 3600) if self.over_s else float(number)

    @property
    def words(self) -> Message:
        """What came over all stretches, against what was allowed, as a sentence."""
        number = len(self.events)
        time = Amount(self.over_s, "s")
        return counted(
            self.allowed,
            "Over all stretches that demand it {number} came; 1 was allowed in {time}, as was "
            "fixed before.",
            "Over all stretches that demand it {number} came; {count} were allowed in {time}, as "
            "was fixed before.",
            none=msg(
                "Over all stretches that demand it {number} came; none was allowed in {time}, as "
                "was fixed before.",
                number=number,
                time=time,
            ),
            number=number,
            time=time,
        )

    @property
    def detail(self) -> dict[str, Any]:
        """The figures for a report."""
        return as_json(_Detail(together=len(self.events), allowed=self.allowed, over_s=self.over_s))


@kept
class _Detail:
    """What a finding's detail says of a count; `allowed` is None in what an old header demands."""

    together: int = 0
    allowed: int | None = None
    over_s: float = 0.0


def hourly(
    need: Requirement,
    told: HourlyTerms,
    soaks: Sequence[Course],
    events: Callable[[Requirement, Course], Sequence[E]],
) -> Hourly[E]:
    """Return what came in the soak with least to spare; each soak has its own count.

    Parameters
    ----------
    events : callable
        Returns what came in the stretch of a requirement.
    """
    return min(
        (_of_one(need, told, course, events) for course in soaks),
        key=lambda one: one.allowed - len(one.events),
    )


def by_the_hour(found: Value, together: Hourly[E], shorter: int = 0) -> Value:
    """Return a value as so many an hour of the time demanded, with what was left of the count."""
    number = len(together.events)
    margin = together.per_h(together.allowed - number)
    return replace(found, value=together.per_h(number), margin=margin, shorter=shorter)


def _of_one(
    need: Requirement,
    told: HourlyTerms,
    course: Course,
    events: Callable[[Requirement, Course], Sequence[E]],
) -> Hourly[E]:
    like = alike(need, course.header.requirements)
    stretches = dict.fromkeys(requirement.stretch for requirement in [need, *like])
    came = [event for name in stretches for event in events(replace(need, stretch=name), course)]
    over_s = told.over_s
    if over_s is None:
        over_s = sum(_demanded_s(course, name) for name in stretches)
    return Hourly(came, over_s, count_allowed((need.limit or 0.0) * over_s / 3600))


def _demanded_s(course: Course, stretch: str) -> float:
    """Return how long an old script demands of a stretch; of one that ends by itself, its time."""
    entries = course.header.script.stretches
    lasts_s = sum(entry.lasts_s or 0.0 for entry in entries if stretch in ("", entry.name))
    return float(lasts_s or total_s(course.pieces(stretch)))


def fixed(
    needs: Iterable[Requirement],
    lasts_s: Mapping[str, float],
    rules: Iterable[Rule[HourlyTerms]],
) -> list[Requirement]:
    """Write into each demand on a rate over how long it counts, and so how many may come.

    Parameters
    ----------
    lasts_s : mapping of stretch name to float
        How long each stretch lasts if all goes well, s.
    rules : iterable of Rule
        Those on a rate.
    """
    requirements = list(needs)
    for rule in rules:
        for need, _ in list(rule.among(requirements)):
            like = alike(need, requirements)
            over_s = sum(lasts_s[name] for name in dict.fromkeys(need.stretch for need in like))
            held = replace(need, params={**need.params, "over_s": over_s})
            requirement = replace(held, text=str(rule.demands(held, rule.terms_of(held))))
            requirements[requirements.index(need)] = requirement
    return requirements


def allowed_by(need: Requirement, told: HourlyTerms) -> int | None:
    """Return how many a demand allows; None where an old header does not say over how long."""
    if told.over_s is None:
        return None
    return count_allowed((need.limit or 0.0) * told.over_s / 3600)


@dataclass(frozen=True, slots=True, kw_only=True)
class HourlyReads(Reads[HourlyTerms]):
    """A count over all stretches that demand it, against the count that was allowed before."""

    def found(self, finding: Finding) -> Message:
        detail = read_as(_Detail, finding.detail)
        if finding.value is None or detail.allowed is None:
            return Reads.found(self, finding)
        return _in_time(detail.together, detail.over_s)

    def limit(self, need: Requirement, terms: HourlyTerms | None) -> Message:
        allowed = allowed_by(need, terms) if terms else None
        if terms is None or allowed is None:
            return Reads.limit(self, need, terms)
        if not allowed:
            return msg("none in {time}", time=Amount(terms.over_s or 0.0, "s"))
        return msg("at most {value}", value=_in_time(allowed, terms.over_s or 0.0))

    def margin(self, finding: Finding) -> Message:
        detail = read_as(_Detail, finding.detail)
        if finding.value is None or detail.allowed is None:
            return Reads.margin(self, finding)
        spare = detail.allowed - detail.together
        if not spare:
            return msg("at the limit") if detail.allowed else NONE
        if spare > 0:
            return msg("{value} to spare", value=spare)
        return msg("{value} over", value=-spare)


def _in_time(number: int, over_s: float) -> Message:
    return msg("{number} in {time}", number=number, time=Amount(over_s, "s"))


def at_that_rate(need: Requirement) -> Number:
    """Say the rate that a count was fixed by, per hour."""
    return Number(need.limit or 0.0, "g")
