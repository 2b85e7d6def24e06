"""A looser script, a journal taken away and a word taken back do not unmake a failure."""

import shutil

import pytest
from one_unit_bench import bench_with_k1, narrow
from typed_bench import Said, typed

from soak.errors import ExitCode
from soak.journal import open_evidence

SCENE = """\
truth = "video port drops its picture"
truth_grade = "not ready: failed"
fault = "video"
[contacts.video]
looks = "no signal"
[contacts.video.opens]
per_hour = 40
lasts_s = [0.3, 0.9]
"""
FIXTURE = """\
name = "simulated bench"
simulated = "scene.toml"
[switch]
driver = "simulated"
[capture]
driver = "simulated"
port = "video"
"""
SCRIPT = """\
name = "evening"
not_after = "4 h"
[[stretch]]
name = "{stretch}"
lasts = "44 min"
[stretch.picture]
shortest_dropout_s = "{shortest}"
shorter_per_h = {rate}
"""


class Bench:
    """A bench with one unit whose picture breaks for less than a second, 40 times an hour."""

    def __init__(self, path):
        path.mkdir()
        self.path = path
        (path / "scene.toml").write_text(SCENE)
        bench_with_k1(path, FIXTURE.replace('"scene.toml"', f'"{path / "scene.toml"}"'))
        narrow(path, "K1-1", "service_usb", "cooling", "start")
        (path / "scripts").mkdir()

    def script(self, shortest, rate, stretch="on"):
        text = SCRIPT.format(shortest=shortest, rate=rate, stretch=stretch)
        (self.path / "scripts" / "evening.toml").write_text(text)

    def soak(self) -> Said:
        return self("run", "evening", "--unit", "K1@left.toml", "--seed", "3")

    def __call__(self, *words) -> Said:
        return typed("--bench", str(self.path), *words)

    def soaks(self):
        return sorted(file.parent for file in (self.path / "reports").glob("*/journal.sqlite"))

    def page(self, name):
        return max(self.soaks(), key=lambda one: one.stat().st_mtime).joinpath(name).read_text()


@pytest.fixture
def bench(tmp_path):
    """Return a bench whose unit failed under a strict script."""
    made = Bench(tmp_path / "bench")
    made.script("0.2 s", 1)
    assert made.soak().code == 1
    return made


def test_a_looser_script_does_not_unmake_a_failure(bench):
    """Failed at 0.2 s; edited to 5 s and 1000 an hour, the job stays failed."""
    bench.script("5 s", 1000)
    said = bench.soak()
    assert said.code == 1, said.err


def test_a_looser_script_judges_no_soak_again_to_ready(bench):
    """`soak judge --script` adds its word and takes none away."""
    bench.script("5 s", 1000)
    said = bench("judge", "last", "--script", "evening")
    assert said.code == 1, said.out


def test_the_page_counts_by_the_shortest_length_ever_demanded(bench):
    """No page says that there were no breaks where the first script had counted them."""
    bench.script("5 s", 1000)
    bench.soak()
    bench("report", "last")
    listing = bench.page("listing.txt")
    assert "0 breaks" not in listing
    assert "breaks in the picture in" in listing


def test_a_script_that_was_loose_before_is_judged_by_the_newest_word_too(tmp_path):
    """Loose first, in a stretch called otherwise, then strict: the first soak's breaks count."""
    made = Bench(tmp_path / "bench")
    made.script("5 s", 1000, stretch="otherwise")
    made.soak()
    made.script("0.2 s", 1)
    (made.path / "scene.toml").write_text(SCENE.replace("per_hour = 40", "per_hour = 0"))
    assert made.soak().code == 1


def test_a_journal_taken_away_does_not_unmake_a_failure(bench):
    """The failed soak's folder is deleted; a clean one after it is no ready."""
    shutil.rmtree(bench.soaks()[0])
    (bench.path / "scene.toml").write_text(SCENE.replace("per_hour = 40", "per_hour = 0"))
    said = bench.soak()
    assert said.code == 1, said.err
    assert "journal" in said.err


def test_the_newest_journal_taken_away_does_not_unmake_its_failure(tmp_path):
    """Ready, then failed; with the failed soak's folder deleted the older one is no ready."""
    made = Bench(tmp_path / "bench")
    (made.path / "scene.toml").write_text(SCENE.replace("per_hour = 40", "per_hour = 0"))
    made.script("0.2 s", 1)
    assert made.soak().code == 6
    (made.path / "scene.toml").write_text(SCENE)
    made.soak()
    older, newer = made.soaks()
    shutil.rmtree(newer)
    assert made("judge", older.name).code == 1


def test_a_soak_cut_off_and_deleted_is_still_known(tmp_path):
    """What began is in the ledger from its beginning, so deleting a killed soak helps nobody."""
    made = Bench(tmp_path / "bench")
    made.script("0.2 s", 1)
    assert cut_off(made) == 9
    (folder,) = made.soaks()
    shutil.rmtree(folder)
    (made.path / "scene.toml").write_text(SCENE.replace("per_hour = 40", "per_hour = 0"))
    said = made.soak()
    assert said.code == 4, said.err
    assert folder.name in said.err


PLANNED = """\
name = "evening"
not_after = "4 h"
[[stretch]]
name = "starts"
[stretch.plan]
of = "warm starts"
good = 0.01
bad = 0.20
[stretch.power_cycles]
off_s = 5
on_s = 60
"""


def test_tries_count_though_the_ledger_of_before_is_put_back(tmp_path):
    """A stopped try lies among the reports: what the ledger forgot goes on under the plan."""
    made = Bench(tmp_path / "bench")
    (made.path / "scripts" / "evening.toml").write_text(PLANNED)
    ledger = made.path / "ledger.sqlite"
    kept = ledger.read_bytes()
    assert cut_off(made, "os.kill(os.getpid(), 2)", after_s=200) == ExitCode.STOPPED
    ledger.write_bytes(kept)
    for beside in made.path.glob("ledger.sqlite-*"):
        beside.unlink()
    made.soak()
    first, last = (open_evidence(folder) for folder in made.soaks())
    (told,) = last.header.references.carried.values()
    assert len(told.failed) == len(first.marks("start ended")) > 0


def cut_off(made, how="os._exit(9)", after_s=600):
    """Kill a soak in the middle, or end it otherwise; return the exit code."""
    import subprocess
    import sys

    dies = (
        "import os, sys\n"
        "import soak.desk.soaking.in_window as shows\n"
        "class Dies(shows.Terminal):\n"
        "    def watch(self, record):\n"
        f"        if getattr(record, 't_s', 0) > {after_s}:\n"
        f"            {how}\n"
        "shows.Terminal = Dies\n"
        "from soak.cli.main import main\n"
        f"sys.argv = ['soak', '--bench', {str(made.path)!r}, 'run', 'evening', "
        "'--unit', 'K1@left.toml', '--seed', '3']\n"
        "main()\n"
    )
    return subprocess.run([sys.executable, "-c", dies], check=False).returncode


@pytest.fixture
def mistyped(tmp_path):
    """Return a bench with a good unit that failed a limit which somebody mistyped."""
    made = Bench(tmp_path / "bench")
    (made.path / "scene.toml").write_text(SCENE.replace("per_hour = 40", "per_hour = 2"))
    made.script("0.2 s", 1)
    assert made.soak().code == 1
    return made


def test_a_withdrawn_demand_shows_nothing_until_the_right_one_is_soaked(mistyped):
    """Withdrawing mends no unit: the newest soak lacks what should have been demanded."""
    said = mistyped("withdraw", "last", "no dropout", "--because", "2 s was meant", "--by", "SM")
    assert said.code == 0, said.err
    judged = mistyped("judge", "last")
    assert judged.code == 4, judged.out
    assert "2 s was meant" in judged.out


def test_a_withdrawn_failure_stays_where_the_buyer_reads(mistyped):
    """By the right limit the unit is ready, and its page tells what failed, who withdrew, why."""
    mistyped("withdraw", "last", "no dropout", "--because", "2 s was meant", "--by", "SM")
    mistyped.script("2 s", 3)
    assert mistyped.soak().code == 6
    mistyped("report", "last")
    for page in ("listing.txt", "report-buyer.html"):
        text = mistyped.page(page)
        assert "2 s was meant" in text
        assert "withdrawn by SM" in text
        assert "The picture is never lost for 0.2" in text


def test_a_demand_is_withdrawn_only_with_a_reason_and_a_name(mistyped):
    """One clear sentence each; nothing is recorded."""
    assert "why it was wrong is missing" in mistyped("withdraw", "last", "no dropout").err
    nobody = mistyped("withdraw", "last", "no dropout", "--because", "x")
    assert "who withdraws it is missing" in nobody.err
    nothing = mistyped("withdraw", "last", "no dropuot", "--because", "x", "--by", "SM")
    assert nothing.code == 2
    assert "on/picture/no dropout" in nothing.err
    assert mistyped("judge", "last").code == 1


def test_what_is_withdrawn_is_listed_on_the_units_card(mistyped):
    """The ledger keeps who withdrew what and why."""
    mistyped("withdraw", "last", "no dropout", "--because", "2 s was meant", "--by", "SM")
    card = mistyped("unit", "show", "K1").out
    assert "demand withdrawn" in card
    assert "2 s was meant" in card
