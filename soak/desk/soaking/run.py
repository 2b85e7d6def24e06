"""Soak units for the operator: echo, cautions, run, grade; and go on after a crash."""

import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from soak.bench.fixture import check_claims
from soak.clock import BootClock, LeapingClock, SoakClock, settle_order
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import Order, Prepared, fixture_file, prepare, read_order, with_references
from soak.desk.soaking.awake import kept_awake, pending_restart
from soak.desk.soaking.before_night import said_and_agreed
from soak.desk.soaking.carrying_out import Running, Watches, soak_all
from soak.desk.soaking.concluding import NOT_BEGUN, Concluding
from soak.desk.soaking.in_use import in_use, of_fixture, of_unit
from soak.desk.soaking.in_window import InWindow, Soaking
from soak.desk.soaking.restraints import cautions, check, restrained, unguarded
from soak.desk.soaking.resuming import Again, go_on, prepare_again
from soak.desk.units import open_ledger
from soak.errors import ExitCode, SoakError, UsageError
from soak.frozen.references import Stated
from soak.frozen.wiring import ServoWired
from soak.journal import open_evidence
from soak.ledger.ledger import Ledger
from soak.live.lines import say_line
from soak.run.script import Script, find_script, read_script
from soak.words import Amount, joined, msg

Begins = Callable[[BenchFolder, Ledger, Sequence[Prepared]], bool]
_NOTHING = Stated()
_WORST_FIRST = (
    ExitCode.STOPPED,
    ExitCode.FAILED,
    ExitCode.USAGE,
    ExitCode.BENCH_FAULT,
    ExitCode.INCOMPLETE,
    ExitCode.AS_FAR_AS_TESTED,
    ExitCode.DONE,
)


def run(
    bench_path: Path,
    script_name: str,
    units: Sequence[str],
    *,
    seed: int | None,
    may_sleep: bool,
    stated: Stated = _NOTHING,
    as_it_is: bool = False,
) -> int:
    """Soak units by a script; return the exit code of the worst.

    What stands open is listed first and asked about, unless the operator takes it `as_it_is`.
    """
    script = read_script(find_script(script_name, BenchFolder(bench_path).path))

    def begins(bench: BenchFolder, ledger: Ledger, prepared: Sequence[Prepared]) -> bool:
        return said_and_agreed(bench, ledger, prepared, say_line, as_it_is=as_it_is)

    return run_script(
        bench_path, script, units, seed=seed, may_sleep=may_sleep, stated=stated, begins=begins
    )


def run_script(
    bench_path: Path,
    script: Script,
    units: Sequence[str],
    *,
    seed: int | None,
    may_sleep: bool,
    stated: Stated = _NOTHING,
    complaint: str = "",
    begins: Begins = lambda *_: True,
) -> int:
    """Soak units by a script at hand, for an intake with its complaint; see `run`.

    `begins` has the last word before anything is switched.
    """
    bench = BenchFolder(bench_path)
    ledger = open_ledger(bench_path)
    when = datetime.now(UTC)
    orders = [read_order(unit) for unit in units]
    _nothing_twice(bench, orders)
    prepared = [
        restrained(
            _complained(
                prepare(bench, ledger, script, order=order, when=when, seed=seed), complaint
            ),
            stated,
        )
        for order in orders
    ]
    _not_mixed(prepared)
    check_claims([soak.fixture for soak in prepared])
    _units_once(prepared)
    with ExitStack() as held:
        for ready in prepared:
            held.enter_context(taken(bench, ready))
        say_line(msg("bench folder {path}", path=str(bench.path.resolve())))
        for ready in prepared:
            _echo(ready)
        if not begins(bench, ledger, prepared):
            say_line(msg("nothing was begun"))
            return int(ExitCode.STOPPED)
        if prepared[0].wanted.simulated:
            return carry_out(bench, ledger, prepared, LeapingClock(starts_utc=when))
        for line in cautions([soak.sheet for soak in prepared]):
            say_line(line)
        _warn(prepared)
        say_line(held.enter_context(kept_awake(may_sleep or not _unattended(prepared))))
        return carry_out(bench, ledger, prepared, BootClock())


def taken(bench: BenchFolder, one: Prepared) -> AbstractContextManager[None]:
    """Take unit and fixture of a soak for this process alone."""
    things = {**of_unit(one.wanted.unit.tag), **of_fixture(one.fixture)}
    return in_use(bench.reports, things, one.wanted.soak_id)


def resume(bench_path: Path, soak: str, *, may_sleep: bool) -> int:
    """Go on with a soak that was cut off, or after its seal; return its exit code."""
    bench = BenchFolder(bench_path)
    ledger = open_ledger(bench_path)
    folder = bench.find_soak(soak)
    evidence = open_evidence(folder)
    tag = evidence.header.unit.tag
    if evidence.seal is not None:
        with in_use(bench.reports, of_unit(tag), folder.name):
            return int(Concluding(bench, ledger, folder, tag=tag, say=say_line).finish(evidence))
    again = prepare_again(bench, soak)
    with taken(bench, again.prepared):
        return _go_on(bench, ledger, again, may_sleep=may_sleep)


def _go_on(bench: BenchFolder, ledger: Ledger, again: Again, *, may_sleep: bool) -> int:
    prepared = again.prepared
    _refuse_opened(ledger, prepared)
    say_line(msg("bench folder {path}", path=str(bench.path.resolve())))
    _echo(prepared)
    gap = again.session.gap_s
    known = msg("for an unknown time") if gap is None else msg("for {gap}", gap=Amount(gap, "s"))
    say_line(
        msg(
            "{tag}  nobody looked {known} ({gap_from})",
            tag=prepared.wanted.unit.tag,
            known=known,
            gap_from=again.session.gap_from,
        )
    )
    before = prepared.wanted.references.stated
    check(
        prepared.sheet,
        prepared.script,
        prepared.wanted.unit,
        stated=before,
        fixture=prepared.fixture,
    )
    for line in [] if prepared.wanted.simulated else cautions([prepared.sheet]):
        say_line(line)
    shown = InWindow.of(bench, [prepared], again.clock)

    async def soaks(watches: Watches) -> None:
        await go_on(again, shown.ask, shown.running, watches)

    with ExitStack() as held:
        if not again.clock.leaping:
            say_line(held.enter_context(kept_awake(may_sleep)))
        return _graded(bench, ledger, shown, soaks)


def _conclude(bench: BenchFolder, ledger: Ledger, one: Prepared, running: Running) -> ExitCode:
    concluding = Concluding(bench, ledger, one.folder, tag=one.wanted.unit.tag, say=running.say)
    return concluding.conclude(running.ended.get(one.wanted.soak_id, NOT_BEGUN))


@contextmanager
def outliving(wanted: bool) -> Iterator[None]:
    """Let a closed terminal end nothing meanwhile, neither here nor in what is started here."""
    if not wanted or not hasattr(signal, "SIGHUP"):
        yield
        return
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGHUP, before)


def _refuse_opened(ledger: Ledger, one: Prepared) -> None:
    """Refuse to go on with evidence of a unit that was opened since."""
    tag = one.wanted.unit.tag
    job_id = one.wanted.job_id
    now = ledger.current_job(tag)
    if now.job_id != job_id:
        raise UsageError(
            msg(
                "{name}: belongs to job {job_id}, and {later} has begun since ({why}, "
                "{when}); begin a new one with `soak run`",
                name=one.folder.name,
                job_id=job_id,
                later=now.job_id,
                why=now.why,
                when=str(now.when),
            )
        )


def carry_out(
    bench: BenchFolder, ledger: Ledger, prepared: Sequence[Prepared], clock: SoakClock
) -> int:
    """Run prepared soaks to their seals, grade them, write their reports."""
    shown = InWindow.of(bench, prepared, clock)
    running = shown.running

    def began(one: Prepared) -> None:
        # From its beginning, so that one that is killed and deleted is known of all the same.
        try:
            ledger.ingest(open_evidence(one.folder))
        except SoakError as fault:  # a ledger that another holds ends no night
            running.say(joined("  ", [one.wanted.unit.tag, fault.told]))

    async def soaks(watches: Watches) -> None:
        await soak_all(prepared, clock, shown.ask, running=running, watches=watches, began=began)

    if clock.leaping:
        settle_order(prepared[0].wanted.seed)
    return _graded(bench, ledger, shown, soaks)


def _graded(bench: BenchFolder, ledger: Ledger, shown: InWindow, soaks: Soaking) -> int:
    """Run soaks in their window, then grade them; return the exit code of the worst."""
    with shown.window.opened():
        shown.run(soaks)
        codes = [_conclude(bench, ledger, soak, shown.running) for soak in shown.prepared]
    return int(next((code for code in _WORST_FIRST if code in codes), codes[0]))


def _complained(one: Prepared, complaint: str) -> Prepared:
    """Return a soak, as an intake if there is a complaint."""
    if not complaint:
        return one
    references = replace(one.wanted.references, intake=True, complaint=complaint)
    return with_references(one, references)


def _echo(one: Prepared) -> None:
    unit = one.wanted.unit
    fixture = one.fixture
    tag = unit.tag
    say_line(
        msg(
            "{tag}  {model}, serial {serial}, on {name}",
            tag=tag,
            model=one.sheet.model,
            serial=unit.serial,
            name=fixture.name,
        )
    )
    script = repr(one.script.head.name)
    say_line(
        msg("{tag}  soak {soak}, script {name}", tag=tag, soak=one.wanted.soak_id, name=script)
    )
    for repair in unit.repairs:
        say_line(
            msg(
                "{tag}  repaired: {what} ({function})",
                tag=tag,
                what=repair.what,
                function=repair.function,
            )
        )
    for warning in one.warnings:
        say_line(msg("{tag}  MIND: {warning}", tag=tag, warning=warning))
    if one.wanted.simulated:
        scene = repr(fixture.simulated)
        say_line(msg("{tag}  SIMULATED by the scene {scene}; time leaps", tag=tag, scene=scene))


def _warn(prepared: Sequence[Prepared]) -> None:
    """Say what the operator should know before a night alone."""
    for soak in prepared:
        for line in unguarded(soak.fixture, soak.sheet):
            say_line(msg("{tag}  MIND: {line}", tag=soak.wanted.unit.tag, line=line))
        if (servo := soak.fixture.of(ServoWired)) is not None:
            at = servo.at_port
            say_line(
                msg(
                    "MIND: the servo moves the plug of {at} without asking: keep your fingers off",
                    at=at,
                )
            )
    restart = pending_restart()
    if restart:
        say_line(msg("MIND: {restart}", restart=restart))


def _unattended(prepared: Sequence[Prepared]) -> bool:
    return any(not stretch.attended for soak in prepared for stretch in soak.script.stretches)


def _not_mixed(prepared: Sequence[Prepared]) -> None:
    if len({soak.wanted.simulated for soak in prepared}) > 1:
        raise UsageError(msg("simulated and real fixtures cannot run together; run them apart"))


def _nothing_twice(bench: BenchFolder, orders: Sequence[Order]) -> None:
    """Refuse one fixture for two units: a fixture is wired to one."""
    taken: dict[Path, Order] = {}
    for order in orders:
        file = fixture_file(bench, order.fixture).resolve()
        other = taken.setdefault(file, order)
        if other is not order:
            raise UsageError(
                msg(
                    "{fixture} is ordered for two units, {unit} and {other}; give each its own "
                    "fixture",
                    fixture=str(order.fixture),
                    unit=other.unit,
                    other=order.unit,
                )
            )


def _units_once(prepared: Sequence[Prepared]) -> None:
    tags = [soak.wanted.unit.tag for soak in prepared]
    for tag in tags:
        if tags.count(tag) > 1:
            raise UsageError(
                msg("{tag} is ordered twice; a unit is soaked on one fixture at a time", tag=tag)
            )
