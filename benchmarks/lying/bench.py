"""A liar's bench folder, the commands as they are typed there, and what a buyer gets."""

import html
import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

HOUSE = Path(__file__).parents[2]
sys.path.insert(0, str(HOUSE / "tests" / "support"))

from typed_bench import typed  # noqa: E402 it stands in tests/support

BEGIN = "from soak.cli.main import main; main()"
CLOCK_MOVED = """\
import datetime as module
true, moved = module.datetime, module.timedelta(days={days})
class Moved(true):
    @classmethod
    def now(cls, tz=None):
        return true.now(tz) + moved
class Day(module.date):
    @classmethod
    def today(cls):
        return (true.now() + moved).date()
module.datetime, module.date = Moved, Day
"""
"""Plays a host whose clock was set to another day before the program started."""

SHEET = HOUSE / "fixtures" / "models" / "ferrow-sp-40.toml"
FIXTURE = HOUSE / "fixtures" / "simulated" / "good.toml"
SHIPPED = HOUSE / "soak" / "run" / "scripts"

SCENES = {
    "good": "",
    "drops": "[contacts.video.opens]\nper_hour = 60\nlasts_s = [1, 8]\n",
    "flickers": "[contacts.video.opens]\nper_hour = 2\nlasts_s = [1, 8]\n",
    "balks": "[start]\nfails_cold = 0.2\nfails_warm = 0.2\n",
    "slow": "[start]\nwarm_s = 45\ncold_s = 50\n",
    "overheats": "[spots.heatsink]\nrise_k = 63\ntau_s = 300\n"
    "[spots.outside]\nrise_k = 36\ntau_s = 400\n",
}
"""What is really wrong with a unit. Each number is an invention that is plausible for a player."""
FAILS, LUCKY = 3, 2
"""Seeds of an evening on the unit that flickers: it shows its fault, or happens to be quiet."""


@dataclass(frozen=True, slots=True)
class Said:
    """What came of a command."""

    code: int
    out: str
    err: str

    @property
    def last(self) -> str:
        """The last line that was said."""
        lines = (self.err.strip() or self.out.strip()).splitlines()
        return lines[-1] if lines else ""


@dataclass(frozen=True, slots=True)
class Ending:
    """What the liar can show a buyer in the end.

    Attributes
    ----------
    ready : bool
        Whether anything of it says so: the data, the text, the exit code.
    grade : str
        As the text says it.
    code : int
        Exit code of the command that says the grade.
    text, page : str
        What a buyer reads: the listing's text, and the page.
    """

    ready: bool
    grade: str
    code: int
    text: str
    page: str = ""


Command = Callable[[Path, Sequence[str], int], Said]
"""Types a command in a folder, on a host whose clock is so many days off."""


def by_process(folder: Path, words: Sequence[str], days: int) -> Said:
    """Type a command as a process of its own."""
    begin = CLOCK_MOVED.format(days=days) + BEGIN if days else BEGIN
    done = subprocess.run(
        [sys.executable, "-c", begin, *words],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(HOUSE)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    return Said(done.returncode, done.stdout, done.stderr)


def by_main(folder: Path, words: Sequence[str], days: int) -> Said:
    """Type a command in this process, unless its clock has to be another one."""
    if days:
        return by_process(folder, words, days)
    said = typed(*words, within=folder)
    return Said(said.code, said.out, said.err)


@dataclass
class Bench:
    """A bench folder; `truth` is the scene of the unit K1 that is wired to `fixtures/left.toml`."""

    path: Path
    truth: str = "drops"
    command: "Command" = field(default_factory=lambda: by_process)
    told: list[str] = field(default_factory=list)

    def types(self, *words: str, days: int = 0) -> Said:
        """Type a command in the bench's folder, on a host whose clock may be some days off."""
        said = self.command(self.path, words, days)
        self.told.append(f"$ soak {' '.join(words)}\n{said.out}{said.err}[{said.code}]")
        return said

    def must(self, *words: str, **given: int) -> Said:
        """Type a command that is needed to tell the lie at all.

        Raises
        ------
        RuntimeError
            If it is refused.
        """
        said = self.types(*words, **given)
        if said.code:
            raise RuntimeError(f"soak {' '.join(words)}: {said.last}")
        return said

    def soaks(
        self, script: str = "evening", *, seed: int = FAILS, unit: str = "K1", **given
    ) -> Said:
        """Soak a unit on the fixture `left`."""
        fixture = given.pop("fixture", "left")
        words = ("run", script, "--unit", f"{unit}@{fixture}", "--seed", str(seed))
        return self.types(*words, **given)

    def interrupted(self, when: str, how: signal.Signals, *words: str) -> None:
        """Type a command, and send a signal as soon as it says something."""
        process = subprocess.Popen(
            [sys.executable, "-c", BEGIN, *words],
            cwd=self.path,
            env={**os.environ, "PYTHONPATH": str(HOUSE)},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert process.stderr is not None
        for line in process.stderr:
            if when in line:
                process.send_signal(how)
                break
        process.communicate()
        self.told.append(f"$ soak {' '.join(words)}   # {how.name} at {when!r}")

    def adds(
        self, tag: str, serial: str, function: str = "video", model: str = "ferrow-sp-40"
    ) -> None:
        """Enter a unit, its repair and its wiping."""
        known = ("--model", model, "--tag", tag, "--bought", "2025-01-02")
        self.must("unit", "add", serial, *known)
        self.must("unit", "repair", tag, "mended", "--function", function, "--by", "KY")
        self.must("unit", "wiped", tag, "--how", "reset", "--verified", "read back", "--by", "KY")

    def writes(self, name: str, text: str) -> Path:
        """Write a file of the bench's folder."""
        file = self.path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
        return file

    def edits(self, name: str, *pairs: tuple[str, str], source: Path | None = None) -> Path:
        """Edit a file by an editor; what is to be changed must be there."""
        text = (source or self.path / name).read_text(encoding="utf-8")
        for old, new in pairs:
            if not re.search(old, text, re.MULTILINE):
                raise RuntimeError(f"{name} does not say {old!r} any more")
            text = re.sub(old, new, text, flags=re.MULTILINE)
        return self.writes(name, text)

    def script(self, *pairs: tuple[str, str], name: str = "evening") -> None:
        """Put a script into the bench's own folder: the one that ships, edited."""
        self.edits(f"scripts/{name}.toml", *pairs, source=SHIPPED / "evening.toml")

    def wires(self, truth: str, fixture: str = "left", *pairs: tuple[str, str]) -> None:
        """Wire a unit of another truth to a simulated fixture."""
        scene = ('simulated = "good"', f'simulated = "scenes/{truth}.toml"')
        self.edits(f"fixtures/{fixture}.toml", scene, *pairs, source=FIXTURE)

    def sheet(self, *pairs: tuple[str, str]) -> None:
        """Edit the model sheet."""
        self.edits("fixtures/models/ferrow-sp-40.toml", *pairs)

    def reports(self, unit: str = "K1") -> list[Path]:
        """Return the folders of a unit's soaks, the oldest first."""
        found = (self.path / "reports").glob(f"{unit}-*/journal.sqlite")
        return [file.parent for file in sorted(found, key=lambda file: file.stat().st_mtime_ns)]

    def removes(self, path: Path) -> None:
        """Delete a file or folder."""
        shutil.rmtree(path) if path.is_dir() else path.unlink()

    def ends(self, soak: str = "last") -> Ending:
        """Say what a buyer gets of a soak: the report that is made last, by the usual command."""
        judged = self.types("judge", soak)
        made = self.types("report", soak)
        if made.code:
            return Ending(
                judged.code == 0, made.last, judged.code, judged.out + judged.err + made.err
            )
        folder = self.path / Path(made.out.splitlines()[0]).parent
        data = json.loads((folder / "report-buyer.json").read_text(encoding="utf-8"))
        page, text = plain(folder / "report-buyer.html"), folder / "listing.txt"
        text = text.read_text(encoding="utf-8") if text.is_file() else page
        ready = judged.code == 0 or data["grade"]["ready"] or "Ready for sale" in text
        grade = f"{data['grade']['words']}: {data['grade']['reason']}"
        return Ending(ready, grade, judged.code, text, page)


def plain(page: Path) -> str:
    """Return what is to be read on a page."""
    text = re.sub(r"(?s)<(style|svg|script).*?</\1>", "", page.read_text(encoding="utf-8"))
    return html.unescape(re.sub(r"\s*<[^>]+>\s*", "\n", text))


def new_bench(
    path: Path, truth: str = "drops", function: str = "video", command: Command = by_process
) -> Bench:
    """Make a bench folder with one unit, K1, said to be mended, and really not."""
    bench = Bench(path, truth, command)
    bench.writes("fixtures/models/ferrow-sp-40.toml", SHEET.read_text(encoding="utf-8"))
    bench.writes(
        "bench.toml", 'name = "Kittiwake Yard"\naddress = "Harbour Row"\nauthorised_by = "KY"\n'
    )
    for name, wrong in SCENES.items():
        told = 'truth = "invented"\ntruth_grade = "not ready: failed"\nfault = "video"\n'
        bench.writes(f"scenes/{name}.toml", told + wrong)
    bench.wires(truth)
    bench.wires("good", "good")
    bench.adds("K1", "SP40-1017", function)
    return bench
