"""The ledger: the bench's units over the years.

A unit is named by its tag, its serial, or the unique beginning of either. Every method is one
transaction; several programs may use the same file at a time.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path

from soak.evidence import Evidence
from soak.frozen.fixture import Fixture
from soak.frozen.references import References
from soak.frozen.unit import UnitStated
from soak.judge.stricter import Withdrawn
from soak.ledger import bench_wear, jobs, photographs, sales, sightings, soaks, units
from soak.ledger.amending import withdrawing
from soak.ledger.amending.correcting import Correcting, Day
from soak.ledger.bench_wear import PartWear
from soak.ledger.days import read_price
from soak.ledger.entries import (
    CameBack,
    Job,
    Photograph,
    Repair,
    Sale,
    Sighting,
    SoakLine,
    Unit,
    UnitCard,
    Wiped,
)
from soak.ledger.returning import before, for_header, hazards, history
from soak.ledger.returning.hazards import Hazard
from soak.rules.core.verdict import Judgement
from soak.words import msg

__all__ = ("Day", "Ledger")


class Ledger(Correcting):
    """Open the ledger, making it where there is none yet.

    Parameters
    ----------
    path : Path
        The file, `ledger.sqlite` in the bench's folder.
    wait_s : float
        How long to wait for another program that is writing, s.
    now : callable
        Says what time it is, with its UTC offset.

    Raises
    ------
    LedgerError
        If the file is not a ledger, is of a newer version, is in use, or cannot be written.
    """

    @property
    def path(self) -> Path:
        """The file."""
        return self._store.path

    def add_unit(
        self,
        *,
        model: str,
        tag: str = "",
        serial: str = "",
        bought: Day = None,
        by: str = "",
        anyway: bool = False,
    ) -> Unit:
        """Add a unit and begin its first job; without a tag it gets the next free `U` number.

        Raises
        ------
        LedgerError
            If the tag is taken or cannot be used, the serial is known, or the day is impossible.
        NeedsAnyway
            If the serial reads like one of the ledger, unless `anyway`.
        """
        with self._store.writing() as connection:
            when = self._when(connection, bought, msg("the day it was bought"))
            unit_id, new_tag = units.add(
                connection, tag=tag, serial=serial, model=model, bought=when.day, anyway=anyway
            )
            jobs.begin_first(connection, unit_id, new_tag, by, when)
            return units.as_unit(units.of_id(connection, unit_id))

    def find_unit(self, text: str) -> Unit:
        """Find a unit by tag, serial, or the unique beginning of either.

        Raises
        ------
        LedgerError
            If there is no such unit (naming the nearest), or several are meant.
        """
        with self._store.reading() as connection:
            return units.as_unit(units.find(connection, text))

    def list_units(self) -> Sequence[Unit]:
        """Return all units in the order they were added."""
        with self._store.reading() as connection:
            return [units.as_unit(row) for row in units.rows(connection)]

    def unit_card(self, unit: str) -> UnitCard:
        """Return everything about one unit in order of time.

        Raises
        ------
        LedgerError
            If the unit is unknown.
        """
        with self._store.reading() as connection:
            return history.card(connection, units.find(connection, unit))

    def record_repair(
        self,
        unit: str,
        *,
        what: str,
        function: str,
        kind: str = "repair",
        part: str = "",
        batch: str = "",
        by: str = "",
        on: Day = None,
    ) -> Repair:
        """Record a repair in the unit's current job; `function` is the model sheet's name.

        Raises
        ------
        LedgerError
            If the unit is unknown or sold, was soaked since it was opened, or a word is wrong.
        """
        with self._store.writing() as connection:
            when = self._when(connection, on, msg("the day of the repair"))
            return jobs.mend(
                connection,
                units.find(connection, unit),
                what=what,
                function=function,
                kind=kind,
                part=part,
                batch=batch,
                by=by,
                when=when,
            )

    def opened(self, unit: str, *, why: str, by: str = "", on: Day = None) -> Job:
        """Record that the unit was opened: a new job begins, earlier evidence no longer counts.

        Raises
        ------
        LedgerError
            If the unit is unknown or sold.
        """
        with self._store.writing() as connection:
            when = self._when(connection, on, msg("the day it was opened"))
            return jobs.opened(connection, units.find(connection, unit), why=why, by=by, when=when)

    def current_job(self, unit: str) -> Job:
        """Return the job that evidence taken now belongs to.

        Raises
        ------
        LedgerError
            If the unit is unknown.
        """
        with self._store.reading() as connection:
            return jobs.current(connection, units.find(connection, unit))

    def ingest(self, evidence: Evidence, judgement: Judgement | None = None) -> SoakLine:
        """Take in one soak; again changes nothing unless the journal or its grade has moved on.

        A soak that has just begun is taken in without a judgement, so that repairs recorded while
        it runs are refused.

        Raises
        ------
        LedgerError
            If its job is not in this ledger, or the journal is not the one taken in before.
        """
        with self._store.reading() as connection:
            known = soaks.is_taken_in(connection, evidence, judgement)
        if not known:
            with self._store.writing() as connection:
                soaks.take_in(connection, evidence, judgement, self._recorded_utc())
        return next(line for line in self.soaks() if line.soak_id == evidence.header.soak_id)

    def soaks(self, unit: str = "") -> Sequence[SoakLine]:
        """Return the soaks of a unit, or of all units, in the order they were recorded.

        Raises
        ------
        LedgerError
            If the unit is unknown.
        """
        with self._store.reading() as connection:
            row = units.find(connection, unit) if unit else None
            return soaks.soaks(connection, unit=row)

    def earlier(self, unit: str) -> before.Earlier:
        """Return the jobs of a unit before its current one, under whatever tag.

        Raises
        ------
        LedgerError
            If the unit is unknown.
        """
        with self._store.reading() as connection:
            return before.earlier(connection, units.find(connection, unit))

    def sold(
        self,
        unit: str,
        *,
        where: str,
        on: Day = None,
        price: Decimal | str | float | None = None,
        report: str = "",
        by: str = "",
        anyway: bool = False,
    ) -> Sale:
        """Record a sale; `report` says which report the listing showed.

        Raises
        ------
        LedgerError
            If the unit is unknown or sold already, or day or price cannot be read.
        NeedsAnyway
            If it is not graded ready on real instruments, or only as far as tested, or a hazard
            of its model is open, unless `anyway`.
        """
        amount = read_price(price)
        with self._store.writing() as connection:
            when = self._when(connection, on, msg("the day of the sale"))
            return sales.sell(
                connection,
                units.find(connection, unit),
                where=where,
                price=amount,
                report=report,
                by=by,
                when=when,
                anyway=anyway,
            )

    def back(
        self,
        unit: str,
        *,
        complaint: str,
        answers: Mapping[str, str] | None = None,
        hazard: str = "",
        by: str = "",
        on: Day = None,
    ) -> CameBack:
        """Record that a sold unit came back; a new job begins. Show its `warnings` at once.

        Raises
        ------
        LedgerError
            If the unit is unknown or not sold, or a word or the day is wrong.
        """
        with self._store.writing() as connection:
            when = self._when(connection, on, msg("the day it came back"))
            return sales.take_back(
                connection,
                units.find(connection, unit),
                complaint=complaint,
                answers=answers or {},
                hazard=hazard,
                by=by,
                when=when,
            )

    def settle_hazard(
        self, unit: str, *, found: str, done: str, by: str, on: Day = None
    ) -> Sequence[Hazard]:
        """Record what the open hazards of a unit turned out to be and what was done; return them.

        Raises
        ------
        LedgerError
            If the unit is unknown or has no open hazard, or a word is missing.
        """
        with self._store.writing() as connection:
            when = self._when(connection, on, msg("the day it was settled"))
            row = units.find(connection, unit)
            return hazards.settle(connection, row, found=found, done=done, by=by, when=when)

    def wiped(self, unit: str, *, how: str, verified: str, by: str, on: Day = None) -> Wiped:
        """Record that personal data was removed, and how that was verified.

        Raises
        ------
        LedgerError
            If the unit is unknown or sold, or something is not told.
        """
        with self._store.writing() as connection:
            when = self._when(connection, on, msg("the day it was wiped"))
            row = units.find(connection, unit)
            return jobs.wipe(connection, row, how=how, verified=verified, by=by, when=when)

    def photograph(
        self, unit: str, *, what: str, file: str, sha256: str, by: str = "", on: Day = None
    ) -> str:
        """Record a photograph; return the seal of the newest soak, which it is tied to.

        `what` is what it shows; `file` is where it lies in the bench's folder, with its SHA-256.

        Raises
        ------
        LedgerError
            If the unit is unknown or the day is impossible.
        """
        with self._store.writing() as connection:
            when = self._when(connection, on, msg("the day of the photograph"))
            row = units.find(connection, unit)
            return photographs.keep(connection, row, what, file, sha256, by, when)

    def photographs(self, unit: str) -> Sequence[Photograph]:
        """Return a unit's photographs in the order they were recorded, withdrawn ones too.

        Raises
        ------
        LedgerError
            If the unit is unknown.
        """
        with self._store.reading() as connection:
            return photographs.of_unit(connection, units.find(connection, unit))

    def withdraw_demand(self, soak_id: str, demand: str, *, because: str, by: str) -> Withdrawn:
        """Record that a demand of a soak was wrong; what failed it stays on the page.

        Raises
        ------
        LedgerError
            If the soak is unknown, the demand is withdrawn already, or something is not told.
        """
        with self._store.writing() as connection:
            at = self._when(connection, None, msg("the day it was withdrawn"))
            given = {"because": because, "by": by}
            return withdrawing.withdraw(connection, soak_id, demand, **given, when=at)

    def withdrawn(self, job_id: str) -> Sequence[Withdrawn]:
        """Return the demands that were withdrawn in a job."""
        with self._store.reading() as connection:
            return withdrawing.withdrawn(connection, job_id)

    def seen_before(self, serial: str) -> Sequence[Sighting]:
        """Return the units whose serial is, or reads like, this one; the nearest first."""
        with self._store.reading() as connection:
            return sightings.seen_before(connection, serial)

    def warnings(self, unit: str) -> Sequence[str]:
        """Return what must be said before this unit is powered: the hazards of its model.

        Raises
        ------
        LedgerError
            If the unit is unknown.
        """
        with self._store.reading() as connection:
            row = units.find(connection, unit)
            return hazards.warnings(connection, row)

    def own_hazards(self, unit: str) -> Sequence[Hazard]:
        """Return the hazards that a unit itself came back for, with what was found and done.

        Raises
        ------
        LedgerError
            If the unit is unknown.
        """
        with self._store.reading() as connection:
            return hazards.own_hazards(connection, units.find(connection, unit))

    def bench_wear(self) -> Sequence[PartWear]:
        """Return the wear of the bench's own cables and sticks, the most worn first."""
        with self._store.reading() as connection:
            return bench_wear.parts(connection)

    def worn(self, fixture: Fixture) -> Sequence[str]:
        """Return what must be said of worn parts on a fixture before it is relied on."""
        with self._store.reading() as connection:
            return bench_wear.warnings(connection, fixture)

    def for_header(self, unit: str) -> tuple[str, UnitStated, References]:
        """Return the current job's id, `header.unit` and `header.references` for a new soak.

        Raises
        ------
        LedgerError
            If the unit is unknown or sold.
        """
        with self._store.reading() as connection:
            return for_header.for_header(connection, units.find(connection, unit))
