"""Prove a fixture: what the bench saw, and how small a break it can see, kept for reports."""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import fixture_file, read_any_fixture
from soak.desk.proof.challenges import ProvedOn, keep
from soak.desk.soaking.restraints import cautions
from soak.desk.soaking.standing import Standing, stand_up
from soak.desk.units import open_ledger
from soak.errors import ExitCode, UsageError
from soak.live.lines import say_line
from soak.report.contents.context import Challenge
from soak.run.proving import SWITCH_OFF
from soak.run.proving import prove as prove_all
from soak.run.stand import Stand, Step
from soak.words import joined, msg

_SIGNS = {"proved": "+", "not proved": "x", "not done": "-"}


def prove(bench_path: Path, fixture_name: str, model: str, unit: str = "") -> int:
    """Prove a fixture on a unit; return the exit code.

    Parameters
    ----------
    model : str
        The unit's model sheet; empty: the one of `unit`.
    unit : str
        Serial or tag of the unit; empty: one that the ledger need not know, so that what is proved
        holds for the fixture and for no soak of a unit.

    Raises
    ------
    UsageError
        If neither is given.
    """
    bench = BenchFolder(bench_path)
    known = open_ledger(bench_path).find_unit(unit) if unit else None
    model = model or (known.model if known else "")
    if not model:
        raise UsageError(msg("say which unit is on the fixture, --unit UNIT, or its --model"))
    sheet = bench.model_sheet(model)
    fixture = read_any_fixture(fixture_file(bench, Path(fixture_name)), sheet)
    simulated = bool(fixture.simulated)
    for line in [] if simulated else cautions([sheet]):
        say_line(line)
    for worn in [] if simulated else open_ledger(bench_path).worn(fixture):
        say_line(msg("MIND: {worn}", worn=worn))
    today = f"{datetime.now(UTC):%Y-%m-%d}"
    tag = known.tag if known else ""
    steps = prove_fixture(bench, Path(fixture.file), model, tell=_tell, on=today, tag=tag)
    say_line(msg("kept for the reports of soaks on this fixture"))
    if not tag:
        say_line(
            msg("MIND: no --unit was named, so this proves no instrument to be at a certain unit")
        )
    failed = any(step.result == "not proved" for step in steps)
    return int(ExitCode.BENCH_FAULT if failed else ExitCode.DONE)


def prove_fixture(
    bench: BenchFolder,
    file: Path,
    model: str,
    tell: Callable[[Step], None],
    on: str,
    tag: str = "",
) -> Sequence[Step]:
    """Prove a fixture and keep what it saw for the headers and reports of soaks on it.

    Parameters
    ----------
    tag : str
        The unit that is on it; empty: not said, and then nothing is proved of any.
    """
    sheet = bench.model_sheet(model)
    fixture = read_any_fixture(file, sheet)
    steps: list[Step] = []
    opened = fixture

    async def body(stand: Stand) -> None:
        nonlocal opened
        opened = stand.fixture
        steps.extend(await prove_all(stand, tell))

    stand_up(Standing(fixture, sheet, bench.reports, say=say_line, verb="soak prove"), body)
    seen = [
        Challenge(step.source, str(step.what), step.smallest_s)
        for step in steps
        if step.challenge and step.result != "not done"
    ]
    proved = ProvedOn(tag, datetime.now(UTC), opened, proved_by(steps)) if tag else None
    keep(bench.path, fixture.file, on, seen=seen, proved=proved)
    return steps


def proved_by(steps: Sequence[Step]) -> dict[str, str]:
    """Return by which step each instrument was proved to be at the unit.

    One that failed a step is not, but for breaks on cue: a unit may ride through them.
    """
    failed = {step.source for step in steps if step.result == "not proved" and not step.challenge}
    good = [step for step in steps if step.result == "proved" and step.source not in failed]
    sources = {step.source: str(step.what) for step in reversed(good)}
    gone = next((step for step in good if step.what == SWITCH_OFF), None)
    return sources if gone is None or "switch" in failed else {**sources, "switch": str(gone.what)}


def _tell(step: Step) -> None:
    sign = f"{_SIGNS[step.result]} {step.source:<16}"
    say_line(joined(" ", [sign, msg("{step}: {seen}", step=step.what, seen=step.seen)]))
