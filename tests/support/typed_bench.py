"""A bench folder to mistype on, and the command line as it is typed.

Run as a program in a bench's folder it soaks a unit and dies at a soak time:
`typed_bench.py UNIT T_S`.
"""

import contextlib
import io
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

import trio

from soak.clock import LeapingClock
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import Order, prepare
from soak.desk.soaking.carrying_out import Running, soak_all
from soak.ledger.ledger import Ledger
from soak.live.prompt import as_wanted
from soak.run.script import read_script

SHEET = resources.files("soak.sim") / "ferrow-sp-40.toml"
SIMULATED = """\
name = "simulated bench"
simulated = "good"
[switch]
driver = "simulated"
[capture]
driver = "simulated"
port = "video"
[stick]
driver = "simulated"
port = "usb1"
path = "through"
[probe.heatsink]
driver = "simulated"
spot = "heatsink"
accuracy = 1.0
guards = true
"""
REAL = """\
name = "real bench"
[switch]
driver = "serial_text"
port = "/dev/there-is-no-relay"
channel = "1"
on = "ON {channel}"
off = "OFF {channel}"
[probe.heatsink]
driver = "serial_lines"
port = "/dev/there-is-no-thermometer"
pattern = 'T=([0-9.]+)'
spot = "heatsink"
"""
BRIEF = """\
name = "brief"
not_after = "1 h"
[[stretch]]
name = "starts"
[stretch.power_cycles]
warm = 2
off_s = 10
on_s = 40
[[stretch]]
name = "run"
lasts = "2 min"
[stretch.picture]
[stretch.spots]
"""
EVENING = datetime(2026, 1, 5, 20, 0, tzinfo=UTC)


@dataclass(frozen=True)
class TypedBench:
    """A bench folder that exists for one test."""

    path: Path

    def write(self, name: str, text: str | bytes) -> str:
        """Write a file below the bench; return its path."""
        file = self.path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return str(file)

    def edit(self, name: str, old: str, new: str, source: str | None = None) -> str:
        """Write a file (or what `source` says) with one thing changed."""
        text = (self.path / name).read_text() if source is None else source
        assert old in text
        return self.write(name, text.replace(old, new, 1))

    def soaks(self) -> dict[str, bytes]:
        """Return the journals by soak."""
        found = (self.path / "reports").glob("*/journal.sqlite")
        return {file.parent.name: file.read_bytes() for file in found}

    def units(self) -> list[object]:
        """Return all that the ledger knows of units."""
        return [str(unit) for unit in Ledger(self.path / "ledger.sqlite").list_units()]


@dataclass(frozen=True)
class Said:
    """What came of a command."""

    code: int
    out: str
    err: str

    @property
    def sentence(self) -> str:
        """The last line on stderr."""
        return self.err.strip().splitlines()[-1] if self.err.strip() else ""


def typed(*words: str, within: Path | None = None) -> Said:
    """Run the real command line in this process."""
    from soak.cli.main import main

    before, sys.argv = sys.argv, ["soak", *words]
    out, err, code = io.StringIO(), io.StringIO(), 0
    try:
        with (
            contextlib.redirect_stdout(out),
            contextlib.redirect_stderr(err),
            contextlib.chdir(within or Path.cwd()),
        ):
            main()
    except SystemExit as ended:
        code = int(ended.code or 0)
    finally:
        sys.argv = before
    return Said(code, out.getvalue(), err.getvalue())


def make_bench(path: Path) -> TypedBench:
    """Make a bench: K1 soaked, K2 sold, K3 cut off in mid-soak, K4 never soaked."""
    bench = TypedBench(path)
    bench.write("fixtures/models/ferrow-sp-40.toml", SHEET.read_text())
    bench.write("fixtures/sim.toml", SIMULATED)
    bench.write("fixtures/real.toml", REAL)
    bench.write("scripts/brief.toml", BRIEF)
    ledger = Ledger(path / "ledger.sqlite")
    for tag, serial in (
        ("K1", "SP40-1017"),
        ("K2", "SP40-2044"),
        ("K3", "SP40-3071"),
        ("K4", "SP40-4098"),
    ):
        ledger.add_unit(model="ferrow-sp-40", tag=tag, serial=serial)
    ledger.sold("K2", where="own shop", anyway=True)
    soak_brief(path, "K1", 1e9)
    subprocess.run([sys.executable, __file__, "K3", "100"], check=False, cwd=path)
    return bench


def soak_brief(path: Path, tag: str, killed_at_s: float) -> None:
    """Soak a unit by the brief script; die at a soak time."""
    bench, clock, running = BenchFolder(path), LeapingClock(starts_utc=EVENING), Running()
    script = read_script(path / "scripts" / "brief.toml")
    order = Order(tag, Path("fixtures/sim.toml"))
    one = prepare(bench, Ledger(bench.ledger), script, order, EVENING, 1)

    def maybe_die(record: object) -> None:
        if clock.now_s() > killed_at_s:
            os._exit(9)

    async def main() -> None:
        await soak_all([one], clock, as_wanted(lambda _: None), running, lambda *_: [maybe_die])

    trio.run(main, clock=clock)


def words(bench: TypedBench, *argv: str) -> Sequence[str]:
    """Put the bench's folder before a verb."""
    return ["--bench", str(bench.path), *argv]


if __name__ == "__main__":
    soak_brief(Path(), sys.argv[1], float(sys.argv[2]))
