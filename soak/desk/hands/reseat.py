"""Reseat a plug of a unit again and again: a short soak of the job, with hands."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soak.checks.base import all_checks
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import fixture_file, read_any_fixture, read_order
from soak.desk.soaking.run import run_script
from soak.desk.units import open_ledger
from soak.errors import UsageError
from soak.instruments import watchers_at
from soak.run.script import script_from

_FILE = "soak reseat"


@dataclass(frozen=True, slots=True)
class Reseating:
    """What is reseated, and how often.

    Attributes
    ----------
    port : str
        The unit's port, as the model sheet calls it.
    times, new_plug_times : int
        Plug-ins with the usual plug, and with a second, new one.
    type_c : bool
        Whether the plug goes in both ways up.
    at_least_speed_mbps : float or None
        Signalling rate that it must come up at, Mb/s; a capture tells none.
    """

    port: str
    times: int = 20
    new_plug_times: int = 5
    type_c: bool = False
    at_least_speed_mbps: float | None = None


def reseat(bench_path: Path, unit: str, what: Reseating) -> int:
    """Reseat one plug; return the exit code of the grade.

    Raises
    ------
    UsageError
        If the fixture has nothing at that port, or is a simulated one.
    """
    bench = BenchFolder(bench_path)
    order = read_order(unit)
    sheet = bench.model_sheet(open_ledger(bench_path).find_unit(order.unit).model)
    fixture = read_any_fixture(fixture_file(bench, order.fixture), sheet)
    if fixture.simulated:
        raise UsageError("a simulated fixture has no hand to move a plug; name a real one")
    ports = {*watchers_at(fixture).values()}
    ports |= {fixture.capture.port} - {""} if fixture.capture is not None else set()
    if what.port not in ports:
        listed = f"it watches {', '.join(sorted(ports))}" if ports else "it watches none"
        raise UsageError(
            f"{fixture.file} has nothing that watches the port {what.port!r}; {listed}"
        )
    script = script_from(script_of(what), _FILE, all_checks())
    return run_script(bench_path, script, [unit], seed=None, may_sleep=True)


def script_of(what: Reseating) -> dict[str, Any]:
    """Return the script of a reseating, as a script file would say it."""
    settings = {
        "port": what.port,
        "times": what.times,
        "new_plug_times": what.new_plug_times,
        "type_c": what.type_c,
    }
    if what.at_least_speed_mbps is not None:
        settings["at_least_speed_mbps"] = what.at_least_speed_mbps
    return {
        "name": "reseat",
        "about": "Plug-ins on cue: each must work within a limit and stay.",
        "not_after": "12 h",
        "listing": False,
        "stretch": [{"name": "reseat", "attended": True, "reseat": settings}],
    }
