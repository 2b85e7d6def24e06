"""Intake: look for the fault before the repair, and say how often it came."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soak.checks.base import all_checks
from soak.derive.course import course_of
from soak.derive.jobs_before import FailureKind, Failures, moved_port
from soak.desk.bench_folder import BenchFolder
from soak.desk.hands.proposals import kinds, proposal
from soak.desk.hands.wiggle import (
    Wiggling,
    looked_up,
    new_soaks,
    stretch_of,
    watched_ports,
    watching,
)
from soak.desk.orders import read_order
from soak.desk.soaking.run import run_script
from soak.desk.units import open_ledger
from soak.errors import UsageError
from soak.frozen.fixture import Fixture
from soak.frozen.sheet import ModelSheet
from soak.journal import open_evidence
from soak.judge.before.saw import Measures, saw
from soak.judge.before.words import seen as seen_words
from soak.ledger.jobs import INTAKE
from soak.pasting import remark
from soak.run.script import script_from
from soak.words import Amount, Message, Output, Tell, counted, joined, lines_of, msg

_FILE = "soak intake"
_STARTS = 10
_WAIT_S = 4 * 3600.0
"""The hot movements wait so long for the operator, s: the unit stays on and hot meanwhile."""


@dataclass(frozen=True, slots=True)
class Intake:
    """What is looked for.

    Attributes
    ----------
    complaint : str
        What the owner says.
    ports : sequence of str
        Ports that are wiggled; none: all that the fixture watches.
    hours : float
        How long the unit is watched while it heats, h.
    """

    complaint: str
    ports: Sequence[str] = ()
    hours: float = 1.0


def intake(bench_path: Path, unit: str, what: Intake, said: Tell, seed: int | None = None) -> int:
    """Look for the fault; return 0 once it was looked for, else the exit code of the soak.

    Raises
    ------
    UsageError
        If there is no complaint, the job has a repair already, or nothing watches a port.
    """
    if not what.complaint.strip():
        raise UsageError(msg("--complaint is empty; write what the owner says is wrong"))
    sheet, fixture = looked_up(bench_path, unit)
    tag = _before_repair(bench_path, unit)
    ports = list(what.ports) or watched_ports(fixture, sheet)
    if not ports:
        raise UsageError(msg("{file}: nothing watches a port of the unit", file=fixture.file))
    script = script_from(script_of(what, ports, fixture, sheet), _FILE, all_checks())
    bench = BenchFolder(bench_path)
    before = set(bench.soaks())
    complaint = what.complaint.strip()
    code = run_script(bench_path, script, [unit], seed=seed, may_sleep=True, complaint=complaint)
    soaks = new_soaks(bench, before, tag)
    if not soaks:
        return code
    evidence = open_evidence(bench.find_soak(soaks[-1]))
    seen = saw(course_of(evidence), Measures(), whole=False).failures
    said(told(seen, complaint, tag))
    for part in proposed(seen, ports, sheet):
        said(part)
    whole = evidence.seal is not None and evidence.seal.ended == "complete"
    return 0 if whole else code


def script_of(
    what: Intake, ports: Sequence[str], fixture: Fixture, sheet: ModelSheet
) -> dict[str, Any]:
    """Return the script of an intake: movements cold, starts, heat, movements hot."""
    by_port = {port: watching(port, fixture, sheet) for port in ports}
    cold = [stretch_of(Wiggling(port), sources) for port, sources in by_port.items()]
    hot = [
        stretch_of(Wiggling(port, hot=True, warm_up_s=0.0), sources, _WAIT_S)
        for port, sources in by_port.items()
    ]
    starts = {"name": "starts", "attended": True, "power_cycles": {"warm": _STARTS}, "picture": {}}
    heat = {
        "name": "heat",
        "attended": True,
        "lasts": f"{what.hours:g} h",
        "picture": {"restarts": 0},
        "spots": {"limits": False},
    }
    return {
        "name": INTAKE,
        "about": "Before the repair: how often does the fault come, and when?",
        "not_after": f"{what.hours + 24:g} h",
        "listing": False,
        "beside": True,
        "stretch": [*cold, *([starts] if fixture.switch else []), heat, *hot],
    }


def told(seen: Sequence[Failures], complaint: str, tag: str) -> Message:
    """Say what an intake saw."""
    watched = [
        failures
        for failures in seen
        if failures.kind in (FailureKind.PICTURE, FailureKind.RESTARTS)
    ]
    events = sum(port.events for port in watched)
    time = Amount(max((port.over for port in watched), default=0.0), "s")
    at_rest = counted(
        events,
        "1 loss of the picture with hands off in {time}",
        "{count} losses of the picture with hands off in {time}",
        none=msg("no loss of the picture with hands off in {time}", time=time),
        time=time,
    )
    moved = _of_worst(seen)
    lines = [msg("complaint: {complaint}", complaint=complaint), at_rest, *map(seen_words, moved)]
    if not events and not any(move.events for move in moved):
        lines.append(msg("the fault did not come: a repair cannot be measured against it"))
    return lines_of(joined("  ", [tag, line]) for line in lines)


def _of_worst(seen: Sequence[Failures]) -> list[Failures]:
    """Return what the port showed, moved, that opened most: its repair must be shown."""
    moved = [failure for failure in seen if failure.kind is FailureKind.MOVED]
    by_port: dict[str, list[Failures]] = {}
    for failures in moved:
        by_port.setdefault(moved_port(failures.where)[0], []).append(failures)
    return max(by_port.values(), key=lambda all_: sum(seen.events for seen in all_), default=[])


def proposed(seen: Sequence[Failures], ports: Sequence[str], sheet: ModelSheet) -> Sequence[Output]:
    """Return the script proposed after the repair, for the port where the fault was seen."""
    worst = _of_worst(seen)
    port = moved_port(worst[0].where)[0] if worst else ports[0]
    kind = sheet.ports[port].kind
    if kind not in kinds():
        return [remark(msg("no script is proposed for a port of the kind {kind}", kind=kind))]
    head = msg(
        "after the repair of {port}; save it as scripts/after-{kind}.toml", port=port, kind=kind
    )
    return [remark(head), proposal(kind, port)]


def _before_repair(bench_path: Path, unit: str) -> str:
    """Return the unit's tag.

    Raises
    ------
    UsageError
        If a repair is recorded in the current job: then it is too late to look.
    """
    ledger = open_ledger(bench_path)
    tag = ledger.find_unit(read_order(unit).unit).tag
    job_id, described, _ = ledger.for_header(tag)
    if any(repair.job_id == job_id for repair in described.repairs):
        raise UsageError(
            msg(
                "{tag} is repaired already in this job; an intake comes before the repair. If "
                "it was opened again, say so first: soak unit opened {tag}",
                tag=tag,
            )
        )
    return tag
