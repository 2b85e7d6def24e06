"""Wiggle the plug of a port of a unit: a short soak of the job, with hands."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soak.checks.base import all_checks
from soak.checks.wiggle import MOVEMENTS, watched
from soak.desk.bench_folder import BenchFolder
from soak.desk.hands.moved import by_movement
from soak.desk.orders import fixture_file, read_any_fixture, read_order
from soak.desk.soaking.run import run_script
from soak.desk.units import open_ledger
from soak.errors import UsageError
from soak.frozen.fixture import Fixture
from soak.frozen.sheet import ModelSheet
from soak.frozen.wiring import ServoWired
from soak.journal import open_evidence
from soak.rules.wiggle import movement_words
from soak.run.script import script_from
from soak.settings import nearest_name
from soak.words import Tell, joined, lines_of, msg

_FILE = "soak wiggle"
HOT_AFTER_S = 3600.0
"""A unit that is to be hot is on for so long first, s. Common practice."""


@dataclass(frozen=True, slots=True)
class Wiggling:
    """What is wiggled, and how.

    Attributes
    ----------
    port : str
        The unit's port, as the model sheet calls it.
    hot : bool
        Whether the unit is to be hot.
    warm_up_s : float or None
        So long it is on before the first cue, s; None: an hour where it is to be hot.
    repeats : int
        Rounds of seven movements.
    force_n : float
        Force of the hand, N.
    by_eye : bool
        Whether the operator watches the port where no instrument does.
    servo : bool
        Whether a servo must move it; without, one does where the fixture has one at the port.
    """

    port: str
    hot: bool = False
    warm_up_s: float | None = None
    repeats: int = 3
    force_n: float = 8.0
    servo: bool = False
    by_eye: bool = False


def wiggle(
    bench_path: Path,
    unit: str,
    what: Wiggling,
    said: Tell,
    seed: int | None = None,
) -> int:
    """Wiggle one plug; return the exit code of the grade.

    Raises
    ------
    UsageError
        If the model has no such port, or nothing on the fixture watches it.
    """
    sheet, fixture = looked_up(bench_path, unit)
    sources = watching(what.port, fixture, sheet, by_eye=what.by_eye)
    by_servo = moved_by_servo(what, fixture, said)
    script = script_from(script_of(what, sources, by_servo=by_servo), _FILE, all_checks())
    bench = BenchFolder(bench_path)
    before = set(bench.soaks())
    code = run_script(bench_path, script, [unit], seed=seed, may_sleep=True)
    tag = open_ledger(bench_path).find_unit(read_order(unit).unit).tag
    for soak in new_soaks(bench, before, tag):
        said(lines_of(by_movement(open_evidence(bench.find_soak(soak)))))
    return code


def moved_by_servo(what: Wiggling, fixture: Fixture, said: Tell) -> bool:
    """Return whether a servo moves the plug, and say which movements it cannot make.

    Raises
    ------
    UsageError
        If one is wanted and the fixture has none at that port.
    """
    servo = fixture.of(ServoWired)
    if servo is None or servo.at_port != what.port:
        if what.servo:
            at = (
                msg("its servo is at {at_port}", at_port=repr(servo.at_port))
                if servo
                else msg("add [servo] with its positions")
            )
            raise UsageError(
                msg(
                    "{file}: no servo moves the plug of {port}; {at}",
                    file=fixture.file,
                    port=repr(what.port),
                    at=at,
                )
            )
        return False
    settings = servo.model_dump()
    can = settings.get("positions") or settings.get("movements") or MOVEMENTS
    lacking = [movement for movement in MOVEMENTS if movement not in can]
    if lacking:
        said(
            msg(
                "MIND: this servo cannot move it {movements}: that stays not shown",
                movements=joined(", ", map(movement_words, lacking)),
            )
        )
    return True


def new_soaks(bench: BenchFolder, before: Collection[str], tag: str) -> list[str]:
    """Return the soaks of a unit that came since; other units may be soaked at the same time."""
    return [soak for soak in bench.soaks() if soak not in before and soak.startswith(f"{tag}-")]


def looked_up(bench_path: Path, unit: str) -> tuple[ModelSheet, Fixture]:
    """Return the model sheet and the fixture of `UNIT@FIXTURE`."""
    bench = BenchFolder(bench_path)
    order = read_order(unit)
    sheet = bench.model_sheet(open_ledger(bench_path).find_unit(order.unit).model)
    return sheet, read_any_fixture(fixture_file(bench, order.fixture), sheet)


def watching(
    port: str, fixture: Fixture, sheet: ModelSheet, *, by_eye: bool | None = None
) -> list[str]:
    """Return what watches a port.

    Parameters
    ----------
    by_eye : bool or None
        Whether the operator does where nothing else does; None: that is not to be had here.

    Raises
    ------
    UsageError
        If the model has no such port, or nothing watches it.
    """
    if port not in sheet.ports:
        nearest = nearest_name(port, list(sheet.ports))
        hint = msg("it has {ports}", ports=joined(", ", sheet.ports))
        if nearest:
            hint = msg("did you mean {nearest}?", nearest=nearest)
        raise UsageError(
            msg("{model} has no port {port}; {hint}", model=sheet.model, port=repr(port), hint=hint)
        )
    sources = watched(port, fixture, sheet)
    if not sources and not by_eye:
        others = watched_ports(fixture, sheet)
        listed = (
            msg("it watches {others}", others=joined(", ", others))
            if others
            else msg("it watches none")
        )
        if by_eye is False:
            listed = msg("{listed}; or watch it yourself: --by-eye", listed=listed)
        raise UsageError(
            msg(
                "{file}: nothing watches the port {port}; {listed}",
                file=fixture.file,
                port=repr(port),
                listed=listed,
            )
        )
    return sources


def watched_ports(fixture: Fixture, sheet: ModelSheet) -> list[str]:
    """Return the ports of the model that something on the fixture watches."""
    return [port for port in sheet.ports if watched(port, fixture, sheet)]


def script_of(what: Wiggling, sources: list[str], *, by_servo: bool = False) -> dict[str, Any]:
    """Return the script of a wiggle, as a script file would say it."""
    return {
        "name": "wiggle",
        "about": "A plug moved seven ways on cue, against rest: the port must keep contact.",
        "not_after": "24 h",
        "listing": False,
        "beside": True,
        "stretch": [{**stretch_of(what, sources), "attended": what.by_eye or not by_servo}],
    }


def stretch_of(what: Wiggling, sources: list[str], wait_s: float = 600.0) -> Mapping[str, Any]:
    """Return the stretch; data crosses the port meanwhile where a stick is wired through it."""
    heat = "hot" if what.hot else "cold"
    warm_up_s = what.warm_up_s
    if warm_up_s is None:
        warm_up_s = HOT_AFTER_S if what.hot else 0.0
    settings = {
        "port": what.port,
        "heat": heat,
        "warm_up_s": warm_up_s,
        "repeats": what.repeats,
        "force_n": what.force_n,
        "moved_by": "servo" if what.servo else "either",
        "wait_s": wait_s,
        "by_eye": what.by_eye,
    }
    meanwhile: dict[str, Any] = {"transfer": {}} if "stick" in sources else {}
    name = f"wiggle {what.port.lower()} {heat}"
    return {"name": name, "attended": True, "wiggle": settings, **meanwhile}
