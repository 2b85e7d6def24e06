"""Whether a unit's entries, as they stand, could have been recorded one after the other.

A correction may leave only a history that could have been written right the first time: no repair
of a sold unit, no come-back without its sale, no soak in a job that never began.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from sqlalchemy import Connection

from soak.ledger.amending.corrected import (
    BACK,
    HAZARD_SETTLED,
    JOB,
    REPAIR,
    SOAK,
    SOLD,
    WIPING,
    Corrections,
    Fact,
    UnitRow,
    facts,
)
from soak.ledger.days import When
from soak.ledger.jobs import AFTER_INTAKE
from soak.ledger.units import bought_on
from soak.words import Message, msg

_KINDS = (JOB, REPAIR, SOAK, WIPING, SOLD, BACK, HAZARD_SETTLED)


@dataclass(frozen=True, slots=True)
class Misfit:
    """An entry that could not have been recorded where it stands."""

    entry: int
    kind: str
    why: Message


@dataclass(slots=True)
class Course:
    """Where a unit's entries lead.

    Attributes
    ----------
    state : str
        Where the unit is at the end: `on the bench`, `sold` or `came back`.
    """

    bought: When | None
    state: str = "on the bench"
    misfits: set[Misfit] = field(default_factory=set)
    job: Fact | None = None
    sale: Fact | None = None
    back: Fact | None = None
    hazards: set[int] = field(default_factory=set)

    def wrong(self, fact: Fact, why: Message) -> None:
        """Keep what does not fit."""
        self.misfits.add(Misfit(fact.entry, fact.kind, why))

    def follows(self, fact: Fact, earlier: When | None, since: Message) -> None:
        """Ask that an entry is not dated before what it follows."""
        if earlier is not None and fact.when.before(earlier):
            self.wrong(
                fact,
                msg(
                    "its day {when} would lie before {since} ({earlier})",
                    when=str(fact.when),
                    since=since,
                    earlier=str(earlier),
                ),
            )

    def here(self, fact: Fact) -> None:
        """Ask that the unit is on the bench."""
        if self.state == "sold":
            self.wrong(fact, msg("the unit would be sold by then"))

    def in_job(self, fact: Fact) -> None:
        """Ask that the entry's job is the current one."""
        current = self.job["job_id"] if self.job is not None else ""
        if fact["job_id"] != current:
            self.wrong(
                fact,
                msg("it is part of job {job}, which would not be running", job=fact["job_id"]),
            )


def replay(connection: Connection, unit: UnitRow, corrections: Corrections) -> Course:
    """Play a unit's entries as they stand, in the order they were recorded."""
    course = Course(bought_on(unit))
    courses = [
        fact
        for kind in _KINDS
        for fact in facts(connection, kind, unit=unit, corrections=corrections)
    ]
    for fact in sorted(courses, key=lambda one: one.entry):
        _PLAYS[fact.kind](course, fact)
    return course


def _job(course: Course, job: Fact) -> None:
    if course.job is not None and job["begun_by"] is None:
        course.here(job)
        course.follows(job, course.bought, msg("the day it was bought"))
        course.state = "on the bench"
    course.job = job


def _repair(course: Course, repair: Fact) -> None:
    course.here(repair)
    course.in_job(repair)
    course.follows(repair, course.bought, msg("the day it was bought"))
    if course.job is not None and course.job["why"] != AFTER_INTAKE:
        course.follows(repair, course.job.when, msg("the day its job began"))
    course.state = "on the bench"


def _soak(course: Course, soak: Fact) -> None:
    course.here(soak)
    course.in_job(soak)


def _wiped(course: Course, wiping: Fact) -> None:
    course.here(wiping)
    course.follows(wiping, course.bought, msg("the day it was bought"))
    if course.back is not None:
        course.follows(wiping, course.back.when, msg("the day it came back"))


def _sold(course: Course, sale: Fact) -> None:
    course.here(sale)
    course.in_job(sale)
    course.follows(sale, course.bought, msg("the day it was bought"))
    if course.job is not None:
        course.follows(sale, course.job.when, msg("the day its last job began"))
    course.state = "sold"
    course.sale = sale


def _came_back(course: Course, back: Fact) -> None:
    if course.state != "sold" or course.sale is None or course.sale.entry != back["sale"]:
        course.wrong(back, msg("the unit would not be sold by then"))
    else:
        course.follows(back, course.sale.when, msg("the day it was sold"))
    course.state = "came back"
    course.back = back
    if back["hazard"]:
        course.hazards.add(back.entry)


def _settled(course: Course, settled: Fact) -> None:
    if settled["came_back"] not in course.hazards:
        course.wrong(settled, msg("there would be no open hazard that it settles"))
    course.hazards.discard(settled["came_back"])


_PLAYS: Mapping[str, Callable[[Course, Fact], None]] = {
    JOB: _job,
    REPAIR: _repair,
    SOAK: _soak,
    WIPING: _wiped,
    SOLD: _sold,
    BACK: _came_back,
    HAZARD_SETTLED: _settled,
}
