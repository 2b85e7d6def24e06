"""A simulated bench with a ledger, on which jobs are soaked for the corpus; for `make.py` alone."""

import os
import tempfile
from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import trio

from soak.checks.base import all_checks
from soak.clock import LeapingClock, settle_order
from soak.desk.bench_folder import BenchFolder
from soak.desk.demo.demo import EVENING, MODEL
from soak.desk.orders import Order, Prepared, prepare, with_references
from soak.desk.proof.prove import prove_fixture
from soak.desk.soaking.carrying_out import Running, soak_all
from soak.desk.soaking.grading import grade_job
from soak.desk.soaking.restraints import restrained
from soak.desk.soaking.resuming import go_on, prepare_again
from soak.errors import SoakError
from soak.frozen.references import Stated
from soak.journal import open_evidence, plan_resume
from soak.ledger.ledger import Ledger
from soak.live.prompt import as_wanted
from soak.records import Observed, Reading
from soak.run.script import find_script, read_script, script_from
from soak.sim.samples import MODEL_SHEET_NAME, fixture_text, model_sheet_text

Watch = Callable[[Observed], None]
_silent = as_wanted(lambda _: None)


class Workshop(AbstractContextManager["Workshop"]):
    """One bench folder with its ledger; its units are repaired and wiped unless said otherwise."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="corpus-", ignore_cleanup_errors=True)
        self.bench = BenchFolder(Path(self._folder.name) / "bench")
        models = self.bench.path / "fixtures" / "models"
        models.mkdir(parents=True)
        (models / MODEL_SHEET_NAME).write_text(model_sheet_text())
        self.ledger = Ledger(self.bench.ledger, now=lambda: EVENING)

    def __exit__(self, *_: object) -> None:
        self._folder.cleanup()

    def unit(self, tag: str, function: str = "video", *, repaired: bool = True, wiped: bool = True):
        """Add a unit."""
        day = (EVENING - timedelta(days=90)).date()
        self.ledger.add_unit(model=MODEL, tag=tag, serial=f"SP40-{tag}", bought=day)
        if repaired:
            self.repair(tag, function, 60)
        if wiped:
            on = (EVENING - timedelta(days=60)).date()
            self.ledger.wiped(tag, how="storage reset", verified="read back", by="KY", on=on)

    def repair(self, tag: str, function: str, days_ago: int, part: str = "") -> None:
        """Open a unit and record a repair; a new job begins."""
        on = (EVENING - timedelta(days=days_ago)).date()
        if self.ledger.soaks(tag):
            self.ledger.opened(tag, why="the fault is still there", on=on)
        self.ledger.record_repair(
            tag, what="part renewed", function=function, part=part, on=on, by="KY"
        )

    def soak(
        self,
        tag: str,
        scene: str = "good",
        script: str | Mapping[str, Any] = "quick",
        *,
        day: int = 0,
        seed: int = 1,
        fixture: Callable[[str], str] = lambda text: text,
        dies_at_s: float | None = None,
        stops_at_s: float | None = None,
        as_reference: bool = False,
        complaint: str = "",
    ) -> Path:
        """Soak a unit by a script; return the soak's folder.

        Parameters
        ----------
        day : int
            Days after the first evening.
        fixture : callable
            Changes the text of the fixture, on which all instruments are simulated.
        dies_at_s : float or None
            Soak time at which the program is gone from one moment to the next.
        """
        file = self.bench.path / "fixtures" / f"{tag.lower()}-{day}-{seed}.toml"
        file.write_text(fixture(fixture_text(scene)))
        when = EVENING + timedelta(days=day)
        read = (
            read_script(find_script(script, self.bench.path))
            if isinstance(script, str)
            else script_from(script, "made.toml", all_checks())
        )
        prove_fixture(self.bench, file, MODEL, lambda _: None, f"{EVENING:%Y-%m-%d}")
        one = prepare(self.bench, self.ledger, read, Order(tag, file), when, seed)
        one = restrained(one, Stated(as_reference=as_reference))
        intake = replace(one.wanted.references, intake=bool(complaint), complaint=complaint)
        one = with_references(one, intake)
        if dies_at_s is not None:
            _in_a_child(lambda: _run(one, when, dies_at_s=dies_at_s))
        else:
            _run(one, when, stops_at_s=stops_at_s)
            self.graded(one.folder)
        return one.folder

    def graded(self, folder: Path) -> None:
        """Take a soak into the ledger, as the program does after each."""
        try:
            grade_job(self.bench, self.ledger, folder)
        except ZeroDivisionError:
            self.ledger.ingest(open_evidence(folder))

    def resume(self, folder: Path, gap_s: float, dies_at_s: float | None = None) -> None:
        """Go on with a soak that died."""
        again = prepare_again(self.bench, folder.name)
        evidence = open_evidence(folder)
        began = datetime.fromisoformat(evidence.sessions()[0].utc)
        utc = began + timedelta(seconds=evidence.ends_s + gap_s)
        session = plan_resume(evidence, program="0", boot_id="", boot_s=None, utc=utc)
        clock = LeapingClock(session.begins_at_s, starts_utc=utc)
        again = replace(again, session=session, clock=clock)
        running = Running()

        def go() -> None:
            watches = [] if dies_at_s is None else [_dying(dies_at_s, running)]
            settle_order(again.prepared.wanted.seed)
            trio.run(go_on, again, _silent, running, watches, clock=clock)

        if dies_at_s is None:
            go()
            self.graded(folder)
        else:
            _in_a_child(go)

    def job(self, tag: str) -> list[Any]:
        """Return the evidence of all soaks of a unit's current job."""
        current = self.ledger.current_job(tag).job_id
        found = [open_evidence(path.parent) for path in sorted(self._journals())]
        return [one for one in found if one.header.job_id == current]

    def all_of(self, tag: str) -> dict[str, list[Any]]:
        """Return the evidence of all jobs of a unit, by job."""
        jobs: dict[str, list[Any]] = {}
        for path in sorted(self._journals()):
            evidence = open_evidence(path.parent)
            if evidence.header.unit.tag == tag:
                jobs.setdefault(evidence.header.job_id, []).append(evidence)
        return jobs

    def _journals(self) -> Sequence[Path]:
        return list(self.bench.reports.glob("*/journal.sqlite"))


def _run(
    one: Prepared,
    when: datetime,
    *,
    dies_at_s: float | None = None,
    stops_at_s: float | None = None,
) -> None:
    running = Running()
    watches = [] if dies_at_s is None else [_dying(dies_at_s, running)]

    async def main() -> None:
        async with trio.open_nursery() as nursery:
            if stops_at_s is not None:
                nursery.start_soon(_stop, running, stops_at_s)
            await soak_all([one], clock, _silent, running, lambda *_: watches)
            nursery.cancel_scope.cancel()

    clock = LeapingClock(starts_utc=when)
    settle_order(one.wanted.seed)
    trio.run(main, clock=clock)
    if not (one.folder / "journal.sqlite").exists():
        raise SoakError(running.ended[one.wanted.soak_id].why)


async def _stop(running: Running, at_s: float) -> None:
    await trio.sleep(at_s)
    running.stop("Ctrl-C by the operator")


def _dying(at_s: float, running: Running) -> Watch:
    def watch(record: Observed) -> None:
        if isinstance(record, Reading) and record.t_s > at_s:
            # In simulated time records are written by count: what was said must be on disk.
            running.soaks[0]._journal.close()
            os._exit(0)

    return watch


def _in_a_child(go: Callable[[], None]) -> None:
    """Run in a process that may die."""
    child = os.fork()
    if child == 0:
        go()
        os._exit(1)
    os.waitpid(child, 0)
