"""A bench with one plain unit, S1, soaked night after night by the real commands; time leaps."""

import shutil
from pathlib import Path

from soak.desk import units
from soak.desk.bench_folder import BenchFolder
from soak.desk.soaking import run
from soak.desk.soaking.grading import grade_job
from soak.desk.units import open_ledger
from soak.ledger.ledger import Ledger
from soak.rules.core.verdict import Judgement

SHEET = """\
model = "Plain player"
picture_when_on = "moving"
start_s = "20 s"
mains = false
disk = false
lithium_cell = false
holds_data = false
[ports.video]
text = "video output"
kind = "video"
[ports.usb1]
text = "service port"
kind = "usb"
[ports.power]
text = "12 V inlet"
kind = "power"
[functions.video]
text = "plays clips on the video output"
key = true
check = "picture"
port = "video"
[functions.start]
text = "starts by itself when it gets power"
check = "power_cycles"
port = "power"
[functions.service_usb]
text = "takes clips over the service port"
check = "transfer"
port = "usb1"
[functions.cooling]
text = "stays cool enough"
check = "spots"
[spots.heatsink]
text = "middle of the heatsink"
limit_degc = 60
trip_degc = 90
"""
GOOD = 'truth = "nothing"\ntruth_grade = "ready"\nfault = "none"\n'
DROPS = """\
truth = "loses its picture now and then"
truth_grade = "not ready: failed"
fault = "video"
[contacts.video.opens]
per_hour = {per_hour}
lasts_s = [0.5, 8]
"""
FIXTURE = """\
name = "plain bench"
simulated = "{scene}"
[switch]
driver = "simulated"
[capture]
driver = "simulated"
port = "video"
"""
STICK = '[stick]\ndriver = "simulated"\nport = "usb1"\npath = "through"\n'
PROBES = """\
[probe.heatsink]
driver = "simulated"
spot = "heatsink"
accuracy = 1.0
[probe.ambient]
driver = "simulated"
spot = "ambient"
accuracy = 1.0
"""
PICTURE = "[stretch.picture]\nshorter_per_h = 1000\n"


def script(lasts: str, checks: str = PICTURE, name: str = "night") -> str:
    """Return the text of a script of one stretch."""
    times = f'lasts = "{lasts}"\n' if lasts else ""
    head = f'name = "{name}"\nnot_after = "300 h"\n'
    return f'{head}[[stretch]]\nname = "run"\nattended = true\n{times}{checks}'


class Nights:
    """A bench folder and what its operator does with S1."""

    def __init__(self, path: Path, wired: str = "") -> None:
        self.path, self.wired = path, wired
        (path / "fixtures" / "models").mkdir(parents=True)
        (path / "scripts").mkdir()
        (path / "fixtures" / "models" / "plain.toml").write_text(SHEET)
        self.fixture("good", GOOD)
        self.unit("S1", "SN-1")

    @classmethod
    def copied(cls, whole: Path, path: Path) -> "Nights":
        """Return a copy of a bench to go on with; its scenes stay where they are."""
        shutil.copytree(whole, path)
        nights = cls.__new__(cls)
        nights.path, nights.wired = path, ""
        return nights

    def unit(self, tag: str, serial: str, model: str = "plain", anyway: bool = False) -> None:
        """Add a unit."""
        units.add(self.path, serial, model=model, tag=tag, bought="", by="", anyway=anyway)

    def fixture(self, name: str, scene: str) -> None:
        """Wire a fixture to a unit that has what the scene says."""
        file = self.path / f"{name}-scene.toml"
        file.write_text(scene)
        text = FIXTURE.format(scene=file) + self.wired
        (self.path / "fixtures" / f"{name}.toml").write_text(text)

    def soak(self, scene: str, text: str, seed: int, tag: str = "S1") -> int:
        """Soak the unit by a script's text; return the exit code."""
        (self.path / "scripts" / "night.toml").write_text(text)
        order = [f"{tag}@{scene}.toml"]
        return run.run(self.path, "night", order, seed=seed, may_sleep=True)

    def opened(self, tag: str = "S1") -> None:
        """Say that the unit was opened again."""
        units.opened(self.path, tag, why="looked at the socket", by="KY", on="")

    def mended(self, function: str = "video", tag: str = "S1") -> None:
        """Record a repair of a function."""
        open_ledger(self.path).record_repair(
            tag, what="joint re-soldered", function=function, kind="repair"
        )

    @property
    def bench(self) -> BenchFolder:
        """The folder."""
        return BenchFolder(self.path)

    @property
    def last(self) -> Path:
        """The folder of the soak made last."""
        lines = Ledger(self.bench.ledger).soaks()
        return self.bench.reports / lines[-1].soak_id

    def judged(self) -> Judgement:
        """Judge the job of the last soak."""
        return grade_job(self.bench, Ledger(self.bench.ledger), self.last).judgement

    def page(self, name: str = "report-buyer.html") -> str:
        """Return a page of the last soak."""
        return (self.last / name).read_text(encoding="utf-8")
