"""Prove a fixture: what the bench saw, and how small a break it can see, kept for reports."""

import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from soak.desk.bench_folder import BenchFolder
from soak.desk.cautions import cautions
from soak.desk.challenges import keep
from soak.desk.orders import fixture_file, read_any_fixture
from soak.desk.standing import Standing, stand_up
from soak.desk.units import open_ledger
from soak.errors import ExitCode
from soak.report.context import Challenge
from soak.run.proving import prove as prove_all
from soak.run.stand import Stand, Step

_SIGNS = {"proved": "+", "not proved": "x", "not done": "-"}


def prove(bench_path: Path, fixture_name: str, model: str) -> int:
    """Prove a fixture on a unit of a model; return the exit code."""
    bench = BenchFolder(bench_path)
    sheet = bench.model_sheet(model)
    fixture = read_any_fixture(fixture_file(bench, Path(fixture_name)), sheet)
    simulated = bool(fixture.simulated)
    for line in [] if simulated else cautions([sheet]):
        _say(line)
    for worn in [] if simulated else open_ledger(bench_path).worn(fixture.as_json()):
        _say(f"MIND: {worn}")
    steps = prove_fixture(bench, Path(fixture.file), model, _tell, f"{datetime.now(UTC):%Y-%m-%d}")
    _say("kept for the reports of soaks on this fixture")
    failed = any(step.result == "not proved" for step in steps)
    return int(ExitCode.BENCH_FAULT if failed else ExitCode.DONE)


def prove_fixture(
    bench: BenchFolder, file: Path, model: str, tell: Callable[[Step], None], on: str
) -> Sequence[Step]:
    """Prove a fixture and keep what it saw for the headers and reports of soaks on it."""
    sheet = bench.model_sheet(model)
    fixture = read_any_fixture(file, sheet)
    steps: list[Step] = []

    async def body(stand: Stand) -> None:
        steps.extend(await prove_all(stand, tell))

    stand_up(Standing(fixture, sheet, bench.reports, _say), body)
    seen = [
        Challenge(step.source, step.what, step.smallest_s)
        for step in steps
        if step.challenge and step.result != "not done"
    ]
    keep(bench.path, fixture.file, on, seen)
    return steps


def _tell(step: Step) -> None:
    _say(f"{_SIGNS[step.result]} {step.source:<16} {step.what}: {step.seen}")


def _say(text: str) -> None:
    sys.stderr.write(f"{text}\n")
