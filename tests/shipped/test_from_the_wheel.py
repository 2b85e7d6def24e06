"""The wheel, installed by the users' lock into a folder of its own, does the whole job there.

It needs the registry that pip is set up for, and runs alone: `make shipped`.
"""

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pypdf
import pytest
from wheel import HOUSE, build

import soak

pytestmark = pytest.mark.shipped

MOST_MB = 650
"""A user's environment, with what the demo compiled; MB are 2^20 bytes, as `du -m` has them."""

WATCH = """
import os, sys
HOUSE, SEEN = {house!r}, {seen!r}

def look(event, given):
    if event == "open" and str(given[0]).startswith(HOUSE):
        os.write(LOG, f"{{given[0]}}\\n".encode())

LOG = os.open(SEEN, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
sys.addaudithook(look)
"""
"""Notes each file of the repository that Python opens, whatever of the program does so."""


@dataclass(frozen=True)
class Installed:
    """A user's environment and an empty folder to work in."""

    environment: Path
    desk: Path
    seen: Path

    def run(self, *command: str) -> str:
        """Run a program of the environment in the folder; return what it printed."""
        program, *given = command
        kept = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
        done = subprocess.run(
            [self.environment / "bin" / program, *given],
            cwd=self.desk,
            env=kept,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def room_mb(self) -> float:
        """Return what the environment takes on the disk."""
        files = [path.lstat() for path in self.environment.rglob("*")]
        return sum(file.st_blocks for file in files) * 512 / 2**20


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """Install the wheel as the README says, watch what it opens, and run the demo."""
    folder = tmp_path_factory.mktemp("user")
    wheel = build(folder / "dist")
    subprocess.run([sys.executable, "-m", "venv", folder / "env"], check=True)
    user = Installed(folder / "env", folder / "desk", folder / "seen")
    user.desk.mkdir()
    lock = str(HOUSE / "requirements.lock")
    user.run("pip", "install", "-q", "--no-compile", "--require-hashes", "-r", lock)
    user.run("pip", "install", "-q", "--no-compile", "--no-deps", "--no-index", str(wheel))
    (packages,) = (folder / "env/lib").glob("python*/site-packages")
    told = WATCH.format(house=f"{HOUSE}/", seen=str(user.seen))
    (packages / "watched.py").write_text(told, encoding="utf-8")
    (packages / "watched.pth").write_text("import watched\n", encoding="utf-8")
    return user


@pytest.fixture(scope="module")
def demo(installed):
    """Run the demo in the empty folder; return what it printed."""
    return installed.run("soak", "demo")


def test_it_says_its_version_and_its_help(installed):
    """The program that is installed is the one that was built."""
    assert installed.run("soak", "--version").split() == ["soak", soak.__version__]
    assert "no electrical safety" in " ".join(installed.run("soak", "--help").split())


def test_it_runs_the_demo(installed, demo):
    """The table has the unit that is ready, those that failed and the one that is incomplete."""
    for grade in ("ready", "not ready: failed", "not ready: incomplete"):
        assert any(f"  {grade}  " in line for line in demo.splitlines()), demo
    samples = {path.name for path in (installed.desk / "reports/sample").iterdir()}
    assert samples == {"ready", "failed", "incomplete"}
    committed = sorted(path.name for path in (HOUSE / "reports/sample/ready").iterdir())
    made = sorted(path.name for path in (installed.desk / "reports/sample/ready").iterdir())
    assert made == committed


def test_its_report_is_said_in_german_in_its_own_letters(installed, demo):
    """Catalogue and fonts are found beside the program: the paper is German and set in them."""
    assert "Reports:" in demo
    bench = ("--bench", "reports/demo")
    installed.run("soak", *bench, "report", "K1", "--language", "de")
    (report,) = (installed.desk / "reports/demo").glob("reports/K1-*/report-buyer.pdf")
    paper = pypdf.PdfReader(report)
    text = " ".join(page.extract_text() for page in paper.pages)
    assert "Bericht über einen Dauerlauf" in text
    assert "Anforderungen" in text
    assert "requirement" not in text
    fonts = {
        font.get_object()["/BaseFont"].partition("+")[2]
        for page in paper.pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert fonts
    assert all(font.startswith("SoakSans") for font in fonts)


def test_nothing_of_the_repository_was_opened(installed, demo):
    """Neither the program nor a process that it starts reads a file of the repository."""
    assert "Reports:" in demo
    assert installed.seen.read_text(encoding="utf-8") == ""
    installed.run("python", "-c", f"open({str(HOUSE / 'README.md')!r}).close()")
    seen = installed.seen.read_text(encoding="utf-8")
    assert seen == f"{HOUSE / 'README.md'}\n", "the watch itself sees"


def test_a_users_environment_stays_small(installed, demo):
    """What is installed, and what running the demo compiled, takes no more room than promised."""
    assert "Reports:" in demo
    assert installed.room_mb() <= MOST_MB
