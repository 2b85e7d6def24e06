"""Go on with a soak that was cut off: same header, a new session, power off first."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from soak import __version__
from soak.clock import BootClock, LeapingClock, SoakClock, boot_id, boot_time_s
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import Prepared, fixture_file, read_any_fixture
from soak.desk.proof.challenges import without_identity
from soak.desk.soaking.carrying_out import Begins, Running, Watches, run_session
from soak.desk.soaking.left_on import left_on_s
from soak.errors import BenchFault, FixtureError, UsageError
from soak.frozen.fixture import Fixture
from soak.journal import open_evidence, plan_resume, resume
from soak.natures import KINDS, NO_INSTRUMENT, nature_of
from soak.records import Session
from soak.roles import Operator
from soak.run.earlier import earlier
from soak.run.plan import Plan, Wanted
from soak.run.script import script_again
from soak.run.so_far import SoFar
from soak.words import msg


@dataclass(frozen=True, slots=True)
class Again:
    """A soak that can go on.

    Attributes
    ----------
    plan : Plan
        With what the earlier sessions already have.
    so_far : SoFar or None
        What they recorded, where a plan may end a stretch early.
    left_on_s : float or None
        Since when nobody has guarded a unit that they left on, s; None: it was off.
    """

    prepared: Prepared
    plan: Plan
    session: Session
    clock: SoakClock
    so_far: SoFar | None = None
    left_on_s: float | None = None


def prepare_again(bench: BenchFolder, soak: str) -> Again:
    """Check that a soak can go on.

    Raises
    ------
    UsageError, FixtureError, JournalError
        If it has ended, its fixture file is gone or says something else now, or the journal
        cannot be read.
    """
    folder = bench.find_soak(soak)
    evidence = open_evidence(folder)
    header = evidence.header
    if evidence.seal is not None:
        raise UsageError(
            msg("{name}: has ended; begin a new one with `soak run`", name=folder.name)
        )
    sheet = bench.model_sheet(header.unit.model)
    named = Path(header.fixture.file)
    inside = bench.path / "fixtures" / named.name  # the bench's folder may have moved since
    fixture = read_any_fixture(fixture_file(bench, named if named.is_file() else inside), sheet)
    script = script_again(header.script)
    wanted = Wanted.again(header)
    prepared = Prepared(folder, script, wanted, fixture=fixture, sheet=sheet, warnings=())
    if without_identity(fixture) != without_identity(header.fixture):
        raise FixtureError(
            fixture.file, "", msg("has changed since this soak began; begin a new one")
        )
    session = plan_resume(
        evidence,
        program=__version__,
        boot_id=boot_id(),
        boot_s=boot_time_s(),
        utc=datetime.now(UTC),
    )
    begins_at_s = session.begins_at_s
    since_s = boot_time_s() - (session.boot_s or 0.0)  # the clock goes on from the session's begin
    real = BootClock(begins_at_s + since_s)
    clock = LeapingClock(begins_at_s) if header.simulated else real
    plan = prepared.plan(header.fixture, earlier(evidence, script))
    gaps_s = sum(piece.gap_s or 0.0 for piece in [*evidence.sessions(), session])
    longer = replace(plan, not_after_s=plan.not_after_s + gaps_s)
    so_far = SoFar(header, evidence, session)
    return Again(
        prepared, longer, session, clock=clock, so_far=so_far, left_on_s=left_on_s(evidence)
    )


async def go_on(again: Again, ask: Operator, running: Running, watches: Watches) -> None:
    """Run what is left to the seal; how it ended stands in `running.ended`."""
    prepared = again.prepared
    clock = again.clock
    begins = Begins(
        plan=lambda fixture: _still_instruments(again.plan, fixture),
        journal=lambda _: resume(prepared.folder, again.session, clock=clock),
        session=again.session.number,
        so_far=again.so_far,
        left_on_s=again.left_on_s,
    )
    await run_session(prepared, begins, clock, ask=ask, running=running, watches=watches)


def _still_instruments(plan: Plan, fixture: Fixture) -> Plan:
    """Return the plan, if what is no instrument now was none when the soak began.

    Raises
    ------
    BenchFault
        Naming the one that was replaced: the header says of all sessions what it is.
    """
    for source in fixture.wired:
        was = nature_of(plan.header.fixture, source)
        now = nature_of(fixture, source)
        if now in NO_INSTRUMENT and was not in NO_INSTRUMENT:
            raise BenchFault(
                source,
                msg(
                    "was {kinds} when this soak began and is {now} now; wire it as it was, or "
                    "begin a new one",
                    kinds=KINDS[was],
                    now=KINDS[now],
                ),
            )
    return plan
