"""What an operator typed wrong, put right by the commands themselves: nothing is erased."""

import json
import re
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta

import pytest
from one_unit_bench import narrow
from typed_bench import BRIEF, SHEET, SIMULATED, TypedBench, typed

from soak.desk.bench_folder import BenchFolder
from soak.desk.soaking import in_window
from soak.errors import ExitCode
from soak.journal import open_evidence
from soak.ledger import days

READY = (ExitCode.DONE, ExitCode.AS_FAR_AS_TESTED)
WHO = ("--because", "typed wrong", "--by", "SM")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Make a bench: K1 repaired, wiped and soaked to ready; K2 and K3 sold unsoaked, K4 there."""
    bench = TypedBench(tmp_path_factory.mktemp("mistyped") / "bench")
    bench.write("fixtures/models/ferrow-sp-40.toml", SHEET.read_text())
    bench.write("fixtures/sim.toml", SIMULATED)
    bench.write("scripts/brief.toml", BRIEF)
    for number in range(1, 4):
        narrow(bench.path, f"K1-{number}", "service_usb", "cooling")
    for tag, serial in (("K1", "SP40-1071"), ("K2", "SP40-2044"), ("K3", "AX-31"), ("K4", "BD-8")):
        do(bench, "add", serial, "--model", "ferrow-sp-40", "--tag", tag)
    do(bench, "repair", "K1", "video port re-soldered", "--function", "video", "--by", "SM")
    do(bench, "wiped", "K1", "--how", "reset", "--verified", "read back", "--by", "SM")
    for tag in ("K2", "K3"):
        do(bench, "sold", tag, "--where", "own shop", "--price", "49.90", "--anyway")
    assert soak(bench, "run", "brief", "--unit", "K1@sim").code == 6
    return bench


@pytest.fixture
def bench(made, copied):
    return copied(made)


@pytest.fixture
def copied(tmp_path):
    """Give a copy of a bench to mistype on."""

    def copy(bench: TypedBench) -> TypedBench:
        shutil.copytree(bench.path, tmp_path / "bench")
        return TypedBench(tmp_path / "bench")

    return copy


def soak(bench, *words):
    return typed("--bench", str(bench.path), *words, within=bench.path)


def do(bench, *words):
    """Give a verb of `soak unit` that must succeed; return what it says."""
    said = soak(bench, "unit", *words)
    assert said.code == 0, said.err
    return said.out


def refused(bench, *words):
    """Give a verb of `soak unit` that must be refused; return the one sentence."""
    said = soak(bench, "unit", *words)
    assert (said.code, len(said.err.strip().splitlines())) == (2, 1), said
    return said.sentence


def card(bench, unit):
    return json.loads(do(bench, "show", unit, "--json"))


def entry(bench, unit, kind, nth=-1):
    """Return the number of a unit's entry of a kind, as its card lists it."""
    return str([line["entry"] for line in card(bench, unit)["lines"] if line["kind"] == kind][nth])


def page(bench, unit="K1"):
    """Make the report of a unit's newest soak; return the bench's data and the buyer's."""
    folder = BenchFolder(bench.path).find_soak(unit)
    assert soak(bench, "report", folder.name).code == 0
    names = ("report.json", "report-buyer.json")
    return [json.loads((folder / name).read_text(encoding="utf-8")) for name in names]


def in_tables(bench):
    """Return every row of every table of entries, but where a unit is and the grades."""
    with closing(sqlite3.connect(bench.path / "ledger.sqlite")) as plain:
        names = [
            row[0] for row in plain.execute("SELECT name FROM sqlite_master WHERE type='table'")
        ]
        return {
            (name, row)
            for name in names
            if name not in ("units", "grades", "sqlite_sequence")
            for row in plain.execute(f"SELECT * FROM {name}")
        }


# --- what stands on the card and the pages


def test_a_withdrawn_repair_is_no_longer_said_and_stays_on_the_card(bench):
    """The page of a soak that stated it says so, the next soak's header lacks it."""
    before = in_tables(bench)
    number = entry(bench, "K1", "repair")
    said = do(bench, "withdraw", "K1", number, "--because", "that was K4", "--by", "SM")
    assert f"entry {number} (repair) is withdrawn" in said
    assert "judged anew: ready" in said
    assert before <= in_tables(bench)
    shown = do(bench, "show", "K1")
    assert "--R1, repair: video port re-soldered (for video)--; WITHDRAWN by entry" in shown
    assert "that was K4 (SM)" in shown
    for report in page(bench):
        assert report["repairs"] == []
        assert report["claim"]["words"] == "tested"
        (told,) = report["corrections"]
        assert re.match(r"Repair: withdrawn on \S+ by SM \(that was K4\)", told["words"])
        assert "video port re-soldered" in told["words"]
    first = BenchFolder(bench.path).find_soak("K1")
    assert len(open_evidence(first).header.unit.repairs) == 1
    soak(bench, "run", "brief", "--unit", "K1@sim")
    folders = sorted((bench.path / "reports").iterdir(), key=lambda one: one.stat().st_mtime)
    assert open_evidence(folders[-1]).header.unit.repairs == ()


def test_a_repair_of_another_function_must_be_shown_by_a_soak_that_names_it(bench):
    """A grade that stood on the wrong function is taken back at once, and a sale knows it."""
    number = entry(bench, "K1", "repair")
    said = do(bench, "correct", "K1", number, "--function", "usb2", *WHO)
    assert "judged anew: not ready: incomplete" in said
    assert page(bench)[0]["repairs"][0]["shown_by"] == []
    assert "graded not ready: incomplete" in refused(bench, "sold", "K1", "--where", "own shop")
    of_it = entry(bench, "K1", "corrected")
    assert "judged anew: ready" in do(bench, "withdraw", "K1", of_it, *WHO)
    assert page(bench)[0]["corrections"] == []


def test_a_withdrawn_wiping_leaves_the_unit_not_wiped(bench):
    """What was wiped by mistake of another unit is open again, on the page and for the grade."""
    said = do(bench, "withdraw", "K1", entry(bench, "K1", "wiped"), *WHO)
    assert "not ready: incomplete: This model holds data, and no wiping was recorded" in said
    bench_page, buyer_page = page(bench)
    assert buyer_page["unit"]["wiped"] == "no record that data was removed"
    assert "Data: withdrawn" in bench_page["corrections"][0]["words"]


def test_what_cannot_be_judged_anew_is_not_ready_any_more(bench):
    """Without its journal the old grade does not outlive what it stood on."""
    (BenchFolder(bench.path).find_soak("K1") / "journal.sqlite").unlink()
    said = do(bench, "withdraw", "K1", entry(bench, "K1", "wiped"), *WHO)
    assert "cannot be judged anew and counts as not judged" in said
    assert "was not judged" in refused(bench, "sold", "K1", "--where", "own shop")


def test_a_corrected_serial_finds_the_unit_and_so_does_the_mistyped_one(bench):
    """Pages made now show the right one and note the other; the sealed header keeps what it had."""
    do(bench, "correct", "K1", entry(bench, "K1", "job"), "--serial", "SP40-1017", *WHO)
    assert "SP40-1071 is a serial once recorded for K1 by mistake; it is SP40-1017" in do(
        bench, "show", "SP40-1071"
    )
    assert card(bench, "SP40-1017")["unit"]["tag"] == "K1"
    bench_page, buyer_page = page(bench)
    assert bench_page["unit"]["serial"] == "SP40-1017"
    assert "stated so: SP40-1071" in bench_page["corrections"][0]["words"]
    assert "SP40" not in json.dumps(buyer_page["corrections"])
    folder = BenchFolder(bench.path).find_soak("K1")
    assert open_evidence(folder).header.unit.serial == "SP40-1071"
    assert "SP40-1017" in soak(bench, "run", "brief", "--unit", "SP40-1071@sim").err
    assert "the same serial: K1" in do(bench, "add", "SP40-1071", "--model", "ferrow-sp-40")


def test_a_serial_cannot_be_corrected_to_that_of_another_unit(bench):
    """One label belongs to one unit; one that only reads like it needs to be insisted on."""
    first = entry(bench, "K1", "job")
    same = ("correct", "K1", first, "--serial", "SP40-2044", *WHO)
    assert "is in the ledger already as K2" in refused(bench, *same)
    alike = ("correct", "K1", first, "--serial", "SP40-2O44", *WHO)
    assert "reads like that of K2" in refused(bench, *alike)
    do(bench, *alike, "--anyway")


# --- sales and come-backs


def test_a_withdrawn_sale_puts_the_unit_on_the_bench_and_a_corrected_one_says_the_price(bench):
    """The wrong tag was sold: K2 is on the bench again; of K3 only the price was wrong."""
    do(bench, "withdraw", "K2", entry(bench, "K2", "sold"), "--because", "K3 went", "--by", "SM")
    assert card(bench, "K2")["unit"]["state"] == "on the bench"
    do(bench, "correct", "K3", entry(bench, "K3", "sold"), "--price", "59,90", *WHO)
    do(bench, "correct", "K3", entry(bench, "K3", "sold"), "--where", "market", *WHO)
    assert "market for 59.90" in do(bench, "show", "K3")
    do(bench, "withdraw", "K3", entry(bench, "K3", "corrected", 0), *WHO)
    assert "market for 49.90" in do(bench, "show", "K3")
    assert card(bench, "K3")["unit"]["state"] == "sold"


def test_a_sale_that_came_back_stays_until_its_come_back_is_withdrawn(bench):
    """The one sentence names what to withdraw first; then the unit is sold, then on the bench."""
    do(bench, "back", "K2", "no picture")
    sold, back = entry(bench, "K2", "sold"), entry(bench, "K2", "came back")
    said = refused(bench, "withdraw", "K2", sold, *WHO)
    assert f"withdraw that one first: soak unit withdraw K2 {back}" in said
    do(bench, "withdraw", "K2", back, *WHO)
    assert (card(bench, "K2")["unit"]["state"], card(bench, "K2")["job"]["job_id"]) == (
        "sold", "K2-1",
    )  # fmt: skip
    do(bench, "back", "K2", "it came back after all")
    assert card(bench, "K2")["job"]["job_id"] == "K2-3"
    do(bench, "withdraw", "K2", entry(bench, "K2", "came back"), *WHO)
    do(bench, "withdraw", "K2", sold, *WHO)
    assert card(bench, "K2")["unit"]["state"] == "on the bench"


def test_a_withdrawn_withdrawal_restores_what_was_there(bench):
    """Whoever withdrew the wrong entry has it back, and cannot withdraw it twice meanwhile."""
    sold = entry(bench, "K2", "sold")
    do(bench, "withdraw", "K2", sold, *WHO)
    again = entry(bench, "K2", "withdrawn")
    assert f"soak unit withdraw K2 {again}" in refused(bench, "withdraw", "K2", sold, *WHO)
    do(bench, "withdraw", "K2", again, *WHO)
    assert card(bench, "K2")["unit"]["state"] == "sold"
    assert "sold" in refused(bench, "repair", "K2", "x", "--function", "video")


def test_an_opening_is_withdrawn_only_before_its_job_was_soaked(bench):
    """Without soaks the job is void and the old evidence counts; with one it is what happened."""
    do(bench, "opened", "K1", "paste renewed")
    assert "was not soaked" in refused(bench, "sold", "K1", "--where", "own shop")
    opened = entry(bench, "K1", "job")
    do(bench, "withdraw", "K1", opened, "--because", "K4 was opened", "--by", "SM")
    assert card(bench, "K1")["job"]["job_id"] == "K1-1"
    assert "was simulated" in refused(bench, "sold", "K1", "--where", "own shop")
    (told,) = page(bench)[1]["corrections"]
    assert "is withdrawn as recorded by mistake: K4 was opened" in told["words"]
    do(bench, "opened", "K1", "look inside")
    soak(bench, "run", "brief", "--unit", "K1@sim")
    said = refused(bench, "withdraw", "K1", entry(bench, "K1", "job"), *WHO)
    assert "what was measured stays" in said


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("withdraw", "K1", "99", *WHO), "K1 has no entry 99; soak unit show K1 numbers them"),
        (("withdraw", "K1", "{K2 sold}", *WHO), "it is one of K2"),
        (("withdraw", "K1", "{K1 job}", *WHO), "soak unit correct K1"),
        (("withdraw", "K1", "{K1 soak}", *WHO), "is a soak: what was measured stays as it is"),
        (("withdraw", "K2", "{K2 sold}", "--because", " ", "--by", "SM"), "why it is withdrawn"),
        (("withdraw", "K2", "{K2 sold}", "--because", "x", "--by", ""), "who has withdrawn it"),
        (("correct", "K2", "{K2 sold}", *WHO), "give one of --where, --price, --report, --on"),
        (("correct", "K2", "{K2 sold}", "--how", "x", *WHO), "has no --how"),
        (("correct", "K2", "{K2 sold}", "--price", "much", *WHO), "is not a number"),
        (("correct", "K2", "{K2 sold}", "--on", "1999-01-01", *WHO), "would lie before"),
        (("correct", "K2", "{K2 sold}", "--on", "2999-01-01", *WHO), "lies in the future"),
        (("correct", "K1", "{K1 repair}", "--function", "vidoe", *WHO), "did you mean video?"),
        (("correct", "K1", "{K1 repair}", "--kind", "magic", *WHO), "take one of rework"),
    ],
)  # fmt: skip
def test_a_correction_that_cannot_be_right_is_one_sentence(bench, words, sentence):
    """What was asked, what is wrong, what to do; the tables stay as they were."""
    before = in_tables(bench)
    place = re.compile(r"\{(\w+) (\w+)\}")
    told = [
        entry(bench, found[1], found[2]) if (found := place.fullmatch(word)) else word
        for word in words
    ]
    assert sentence in refused(bench, *told)
    assert in_tables(bench) == before


# --- hazards


def test_a_settled_hazard_lets_the_model_be_sold_again_and_is_told(bench):
    """Open, it speaks against every sale of the model; settled, its own pages tell it."""
    do(bench, "back", "K2", "it smoked", "--hazard", "smoke")
    do(bench, "back", "K3", "it tingles", "--hazard", "shock")
    sale = ("sold", "K4", "--where", "own shop")
    assert "HAZARD OPEN, SMOKE" in refused(bench, *sale)
    done = ("--found", "crumb in the fan", "--done", "cleaned", "--by", "SM")
    told = do(bench, "settle", "K2", *done)
    assert "found: crumb in the fan, done: cleaned (SM)" in told
    said = refused(bench, *sale)
    assert "SMOKE" not in said
    assert "HAZARD OPEN, SHOCK: K3" in said
    do(bench, "settle", "K3", *done)
    assert "HAZARD" not in refused(bench, *sale)
    assert "has no open hazard" in refused(bench, "settle", "K3", *done)
    assert "hazard settled, shock: K3" in do(bench, "show", "K3")
    soak(bench, "run", "brief", "--unit", "K3@sim")
    for report in page(bench, "K3"):
        (limit,) = [one for one in report["known_limits"] if "it tingles" in one]
        assert limit.endswith(
            "electric shock: it tingles); found: crumb in the fan; done: cleaned."
        )
    do(bench, "withdraw", "K3", entry(bench, "K3", "hazard settled"), *WHO)
    assert "HAZARD OPEN, SHOCK: K3" in refused(bench, *sale)


def test_a_hazard_left_out_is_put_in_by_a_correction(bench):
    """The complaint spoke of smoke and nobody flagged it: the correction makes it shout."""
    assert "soak unit correct K2 ENTRY --hazard" in do(bench, "back", "K2", "smoke came out")
    do(bench, "correct", "K2", entry(bench, "K2", "came back"), "--hazard", "smoke", *WHO)
    assert "HAZARD OPEN, SMOKE: K2" in refused(bench, "sold", "K4", "--where", "own shop")
    do(bench, "correct", "K2", entry(bench, "K2", "corrected"), "--hazard", "none", *WHO)
    assert "HAZARD" not in refused(bench, "sold", "K4", "--where", "own shop")


# --- hours


@pytest.fixture
def clock(monkeypatch):
    """Set the computer's clock; begin at the time it is."""
    now = [datetime.now(UTC).astimezone()]
    real = days.datetime

    class Set(real):
        @classmethod
        def now(cls, tz=None):
            return now[0].astimezone(tz)

    monkeypatch.setattr(days, "datetime", Set)

    def set_to(moment):
        now[0] = moment

    return set_to


def test_an_opening_knows_its_hour(bench, clock):
    """The card says the minute; one who writes only the day is not given an hour."""
    morning = datetime.now().astimezone().replace(hour=11, minute=5) + timedelta(days=2)
    clock(morning)
    said = do(bench, "opened", "K1", "paste renewed")
    assert f"opened {morning:%Y-%m-%d} 11:05; soaks before count only against it" in said
    do(bench, "opened", "K1", "look inside", "--on", f"{morning:%Y-%m-%d} 09:30")
    do(bench, "opened", "K1", "again", "--on", f"{morning:%Y-%m-%d}")
    jobs = [line for line in card(bench, "K1")["lines"] if line["kind"] == "job"]
    assert [(line["at"], line["text"].rpartition(": ")[2]) for line in jobs[1:]] == [
        ("09:30", "look inside"), ("11:05", "paste renewed"), ("", "again"),
    ]  # fmt: skip
    later = f"{morning:%Y-%m-%d} 11:06"
    assert "lies in the future" in refused(bench, "opened", "K1", "x", "--on", later)


def test_hours_of_one_day_are_kept_apart(bench, clock):
    """Sold at nine, back at eleven: not the other way round, though both are of one day."""
    noon = datetime.now().astimezone().replace(hour=12, minute=0) + timedelta(days=2)
    clock(noon)
    today = f"{noon:%Y-%m-%d}"
    do(bench, "sold", "K4", "--where", "own shop", "--anyway", "--on", f"{today} 09:00")
    said = refused(bench, "back", "K4", "no picture", "--on", f"{today} 08:30")
    assert f"08:30 lies before the day it was sold ({today} 09:00)" in said
    do(bench, "back", "K4", "no picture", "--on", f"{today} 11:00")
    wiping = ("wiped", "K4", "--how", "reset", "--verified", "read", "--by", "SM", "--on")
    assert "before the day it came back" in refused(bench, *wiping, f"{today} 10:00")
    repair = ("repair", "K4", "port", "--function", "video", "--on")
    assert "before the day its job began" in refused(bench, *repair, f"{today} 10:00")
    do(bench, *wiping, f"{today} 11:30")
    do(bench, *repair, today)


def test_an_entry_by_a_clock_set_back_is_taken_and_ordered_by_its_number(bench, clock):
    """A dead clock battery stops nobody: what was recorded last is last, and it is said."""
    clock(datetime.now().astimezone() - timedelta(days=3))
    for words in (
        ("opened", "K1", "paste renewed"),
        ("repair", "K1", "paste renewed", "--function", "video"),
    ):
        assert "clock says" in do(bench, *words)
    lines = card(bench, "K1")["lines"]
    assert [line["kind"] for line in lines[-3:]] == ["soak", "job", "repair"]
    assert all(
        line["notes"] == ["recorded by a clock that had been set back"] for line in lines[-2:]
    )
    assert "was not soaked" in refused(bench, "sold", "K1", "--where", "own shop")


class Meanwhile:
    """A screen that shows nothing: at a soak time a command is given at another terminal."""

    def __init__(self, at_s, command):
        self.at_s, self.command, self.said = at_s, command, []

    def watch(self, observed):
        if observed.t_s >= self.at_s and not self.said:
            self.said.append(self.command())


def test_a_repair_recorded_while_a_soak_runs_does_not_get_its_evidence(bench, monkeypatch):
    """Soaked from nine to ten, mended at half past nine: that soak says nothing of the repair."""
    do(bench, "opened", "K1", "paste renewed")
    screen = Meanwhile(
        60.0, lambda: soak(bench, "unit", "repair", "K1", "usb", "--function", "usb2")
    )
    monkeypatch.setattr(in_window, "make_terminal", lambda *_, **__: screen)
    soak(bench, "run", "brief", "--unit", "K1@sim")
    (said,) = screen.said
    assert "has been soaked since this repair began" in said.sentence
    assert "soak unit opened K1" in said.sentence


def test_a_soak_cut_off_before_the_unit_was_opened_does_not_go_on(whole_bench, copied):
    """What it saw before and what it would see now are two states of the unit."""
    bench = copied(whole_bench)
    cut_off = BenchFolder(bench.path).find_soak("K3").name
    assert "job K3-2 begins" in do(bench, "opened", "K3", "paste renewed")
    said = soak(bench, "resume", cut_off)
    assert said.code == 2
    assert "belongs to job K3-1, and K3-2 has begun since (paste renewed" in said.sentence


def test_a_demand_withdrawn_by_mistake_is_demanded_again(bench):
    """A withdrawn limit is an entry like any other: it is restored, and can be withdrawn anew."""
    soaked = BenchFolder(bench.path).find_soak("K1").name
    wrong = ("withdraw", soaked, "no dropout", *WHO)
    assert soak(bench, *wrong).code == 0
    assert soak(bench, "judge", soaked).code == 4
    number = entry(bench, "K1", "demand withdrawn")
    assert "nothing in it changed" in refused(bench, "correct", "K1", number, "--what", "x", *WHO)
    assert "judged anew: ready" in do(bench, "withdraw", "K1", number, *WHO)
    assert soak(bench, *wrong).code == 0


NEVER_STARTS = """\
truth = "never starts"
truth_grade = "not ready: failed"
fault = "start"
[start]
fails_warm = 1.0
fails_cold = 1.0
"""


def test_a_withdrawn_repair_excuses_no_failure_of_a_job_before(bench):
    """It failed, was opened, and a repair named what failed: without that it is not outlived."""
    scene = bench.write("never_starts.toml", NEVER_STARTS)
    bench.write("fixtures/dead.toml", SIMULATED.replace('"good"', f'"{scene}"', 1))
    assert soak(bench, "run", "brief", "--unit", "K1@dead").code == 1
    do(bench, "opened", "K1", "does not start")
    do(bench, "repair", "K1", "regulator replaced", "--function", "start", "--by", "SM")
    number = entry(bench, "K1", "repair")
    assert soak(bench, "run", "brief", "--unit", "K1@sim").code in READY
    assert "judged anew: not ready" in do(bench, "withdraw", "K1", number, *WHO)
    do(bench, "withdraw", "K1", entry(bench, "K1", "withdrawn"), *WHO)
    do(bench, "opened", "K1", "a look")
    assert soak(bench, "run", "brief", "--unit", "K1@sim").code in READY
    said = do(bench, "correct", "K1", number, "--function", "video", *WHO)
    assert "judged anew: not ready" in said
