"""A unit that was opened again: what the jobs before saw still counts, by the real commands."""

import json
import shutil
from pathlib import Path

import pytest
from nights_bench import DROPS, GOOD, PICTURE, PROBES, STICK, Nights, script
from one_unit_bench import narrow
from scipy.stats import binomtest, fisher_exact

from soak.derive.course import course_of
from soak.derive.jobs_before import FailureKind
from soak.desk.paper import reporting
from soak.journal import open_evidence
from soak.judge.before.outlived import Standing, of_job
from soak.judge.before.words import to_outlive
from soak.report.output.files import Outputs

HOUR = script("1 h")


def standings(nights: Nights) -> dict[FailureKind, Standing]:
    """Return how each kind of failure stands after the last soak."""
    before = of_job([course_of(open_evidence(nights.last))])
    return {one.before.kind: one for one in before.failures}


def soak_five_nights(path: Path, *, mended: bool) -> Nights:
    """Soak S1 for five nights with a fault of 2.5 an hour, opened after each, and mended or not."""
    nights = Nights(path)
    nights.fixture("drops", DROPS.format(per_hour=2.5))
    for seed in range(10, 15):
        assert nights.soak("drops", HOUR, seed) == 1
        nights.opened()
        if mended:
            nights.mended()
    return nights


@pytest.fixture(scope="module")
def soaked_five_nights(tmp_path_factory) -> Path:
    """Soak five nights without a repair, for the tests that go on from there."""
    path = tmp_path_factory.mktemp("five") / "bench"
    soak_five_nights(path, mended=False)
    return path


@pytest.fixture
def nights(soaked_five_nights, tmp_path) -> Nights:
    """Give a copy of five nights without a repair, to go on with."""
    return Nights.copied(soaked_five_nights, tmp_path / "bench")


def test_five_nights_of_a_fault_are_not_washed_by_opening_the_unit(tmp_path):
    """The sixth hour is quiet by luck with a chance of (T0/(T0+T1))^n of n bouts; not above 5 %."""
    nights = soak_five_nights(tmp_path, mended=True)
    code = nights.soak("good", HOUR, 20)
    judgement = nights.judged()
    told = standings(nights)[FailureKind.PICTURE]
    before, since = told.before, told.since
    exact = binomtest(
        0, before.bouts_told, since.over / (since.over + before.live), alternative="less"
    ).pvalue
    assert code == 4
    assert judgement.because == "incomplete"
    assert before.bouts_told <= before.events
    assert told.chance == pytest.approx(exact, rel=1e-4)
    assert told.chance > 0.05
    assert f"{before.events} losses of the picture in 4 h 58 min" in judgement.reason
    assert "more without one would bring it below 5 %" in judgement.reason
    assert "it failed again after such a repair" in judgement.reason


def test_enough_quiet_hours_outlive_what_five_nights_saw(nights):
    """The hours that are asked for are enough, and those of one job add up."""
    assert nights.soak("good", HOUR, 20) == 4
    needed_s = standings(nights)[FailureKind.PICTURE].needed
    assert needed_s is not None
    assert nights.soak("good", script(f"{needed_s / 60 + 1:.0f} min"), 21) == 0
    line = json.loads(nights.page("report-buyer.json"))["soaks_in_one_line"]
    assert line.startswith("Second soak since the repair")
    assert "It was soaked in 5 jobs before this one." in line
    assert "14 losses of the picture in 4 h 58 min before; none in" in line
    assert "luck with a chance of" in line


def test_the_first_repair_that_names_what_failed_stands_in_for_quiet_and_is_told(tmp_path):
    """Ready, and every page of it says how often it failed before this repair."""
    nights = Nights(tmp_path)
    nights.fixture("drops", DROPS.format(per_hour=2.5))
    nights.soak("drops", HOUR, 13)
    nights.opened()
    nights.mended("video")
    assert nights.soak("good", script("10 min"), 20) == 0
    told = "1 loss of the picture in 59 min 39 s before this repair (joint re-soldered); none in "
    reporting.report_soak(tmp_path, "last", "", Outputs())
    for page in ("report.html", "report-buyer.html", "listing.txt", "report-buyer.json"):
        assert told in nights.page(page), page
        assert "First and only soak since the repair" in nights.page(page)
    (job,) = json.loads(nights.page("report.json"))["jobs_before"]
    assert job["soaks"][0]["saw"] == "1 loss of the picture in 59 min 39 s"


def test_a_repair_of_another_function_stands_in_for_nothing(tmp_path):
    """Nor does one that was recorded before the failures."""
    nights = Nights(tmp_path)
    nights.fixture("drops", DROPS.format(per_hour=2.5))
    nights.mended("video")
    nights.soak("drops", HOUR, 13)
    nights.opened()
    nights.soak("good", script("10 min"), 20)
    assert not nights.judged().ready
    nights.opened()
    nights.mended("service_usb")
    nights.soak("good", script("10 min"), 21)
    assert standings(nights)[FailureKind.PICTURE].repair is None
    assert any("The jobs before saw 1 loss" in one for one in nights.judged().open_points)


def test_opening_it_twice_forgets_nothing(nights):
    """A quiet job between is time before, for the unit was opened since."""
    nights.soak("good", script("10 min"), 20)
    nights.opened()
    nights.soak("good", script("10 min"), 21)
    told = standings(nights)[FailureKind.PICTURE]
    assert told.before.events == 14
    assert told.before.over == pytest.approx(5 * 3579 + 600, abs=60)
    assert told.since.over == pytest.approx(600, abs=60)


def test_what_was_outlived_in_a_job_before_is_asked_for_no_more(nights):
    """A unit that was quiet long enough may be opened again without starting anew."""
    assert nights.soak("good", script("2 h"), 20) == 0
    nights.opened()
    assert nights.soak("good", script("10 min"), 21) == 0
    line = json.loads(nights.page("report.json"))["soaks_in_one_line"]
    assert line.endswith("What failed then was outlived since.")


def test_a_looser_script_counts_by_the_shortest_loss_ever_demanded(nights):
    """Losses that no script called too long before do not become quiet by a new limit."""
    loose = PICTURE + "shortest_dropout_s = 60\n"
    nights.soak("drops", script("2 h", loose), 22)
    told = standings(nights)[FailureKind.PICTURE]
    assert told.since.events > 0
    assert told.chance > 0.05
    assert not nights.judged().ready


def test_deleted_journals_help_nobody(nights):
    """What a later header had read of them still counts; what none had read cannot be outlived."""
    for folder in list(nights.bench.reports.iterdir()):
        shutil.rmtree(folder)
    nights.soak("good", script("2 h"), 20)
    points = nights.judged().open_points
    assert len([one for one in points if "(journal missing)" in one]) == 5
    assert not nights.judged().ready


def test_what_a_later_soak_had_read_outlives_the_journal(nights):
    """The header of the fifth night says what the four before saw."""
    newest = nights.last
    for folder in list(nights.bench.reports.iterdir()):
        if folder != newest:
            shutil.rmtree(folder)
    nights.soak("good", HOUR, 20)
    assert standings(nights)[FailureKind.PICTURE].before.events == 14
    assert not any("missing" in one for one in nights.judged().open_points)


def test_an_exchanged_journal_is_as_good_as_none(tmp_path):
    """A good unit's journal in its place is not the one that the ledger took in."""
    nights = Nights(tmp_path)
    nights.fixture("drops", DROPS.format(per_hour=2.5))
    nights.unit("S2", "SN-2")
    nights.soak("drops", HOUR, 13)
    failed = nights.last
    nights.soak("good", script("10 min"), 14, tag="S2")
    for name in ("journal.sqlite", "seal.json"):
        (failed / name).chmod(0o644)
        shutil.copy(nights.last / name, failed / name)
    nights.opened()
    assert nights.soak("good", script("3 h"), 15) == 4
    (point,) = nights.judged().open_points
    assert "its seal is another" in point


@pytest.mark.parametrize("serial", ["sn 1", "SN-I"])
def test_another_tag_with_the_same_serial_is_the_same_unit(tmp_path, serial):
    """A model spelt otherwise does not make it another, nor a serial that reads alike."""
    nights = Nights(tmp_path)
    nights.fixture("drops", DROPS.format(per_hour=2.5))
    shutil.copy(
        tmp_path / "fixtures" / "models" / "plain.toml",
        tmp_path / "fixtures" / "models" / "plain-2.toml",
    )
    nights.soak("drops", HOUR, 10)
    nights.unit("X9", serial, model="plain-2", anyway=True)
    assert nights.soak("good", script("10 min"), 20, tag="X9") == 4
    assert any("The jobs before saw 4 losses" in one for one in nights.judged().open_points)


def test_a_soak_that_the_ledger_does_not_know_is_counted_and_told(tmp_path, capsys):
    """An older ledger that is put back loses the entry, not the journal."""
    nights = Nights(tmp_path)
    nights.fixture("drops", DROPS.format(per_hour=2.5))
    kept = tmp_path / "ledger-before"
    shutil.copy(nights.bench.ledger, kept)
    nights.soak("drops", HOUR, 10)
    for file in tmp_path.glob("ledger.sqlite*"):
        file.unlink()
    shutil.copy(kept, nights.bench.ledger)
    nights.opened()
    capsys.readouterr()
    assert nights.soak("good", script("10 min"), 20) == 4
    assert "the ledger does not know it; what it saw counts" in capsys.readouterr().err
    assert any("The jobs before saw 4 losses" in one for one in nights.judged().open_points)


def test_a_soak_of_the_job_that_never_came_to_a_grade_is_graded_with_it(tmp_path):
    """Whether it was killed or the ledger was put back: its journal is there, so it counts."""
    nights = Nights(tmp_path)
    nights.fixture("drops", DROPS.format(per_hour=2.5))
    kept = tmp_path / "ledger-before"
    shutil.copy(nights.bench.ledger, kept)
    nights.soak("drops", HOUR, 10)
    for file in tmp_path.glob("ledger.sqlite*"):
        file.unlink()
    shutil.copy(kept, nights.bench.ledger)
    assert nights.soak("good", script("3 h"), 20) == 1
    judgement = nights.judged()
    assert len(judgement.soaks) == 2
    assert judgement.because == "failed"


def test_simulated_soaks_say_nothing_of_a_real_unit(nights):
    """Nor real ones of a simulated unit."""
    from soak.desk.from_before.jobs_before import seen_by_jobs_before
    from soak.desk.units import open_ledger

    ledger = open_ledger(nights.path)
    job_id, unit, _ = ledger.for_header("S1")
    jobs = seen_by_jobs_before(nights.bench, ledger, unit, job_id, simulated=False)
    assert not any(job.soaks for job in jobs)


STARTS = "[stretch.power_cycles]\nwarm = {count}\noff_s = 10\non_s = 30\n"
FAILS_STARTS = GOOD + "[start]\nfails_warm = 0.2\nfails_cold = 0.2\n"


def test_starts_are_held_against_the_starts_before_by_fishers_test(tmp_path):
    """Withheld until so many starts worked that it is luck with a chance of 5 % at most."""
    nights = Nights(tmp_path)
    nights.fixture("fails", FAILS_STARTS)
    nights.soak("fails", script("", STARTS.format(count=20)), 3)
    nights.opened()
    narrow(tmp_path, "S1-2", "video")
    assert nights.soak("good", script("", STARTS.format(count=5)), 4) == 4
    told = standings(nights)[FailureKind.STARTS]
    failed, tried = told.before.events, round(told.before.over)
    now = round(told.since.over)
    table = [[0, now], [failed, tried - failed]]
    assert told.chance == pytest.approx(fisher_exact(table, alternative="less").pvalue)
    assert failed
    assert f"{failed} failed of {tried} starts" in nights.judged().reason
    more = round(told.needed)
    assert f"{more} more starts without a failed one" in nights.judged().reason
    assert nights.soak("good", script("", STARTS.format(count=more)), 5) == 6


def test_restarts_are_outlived_by_hours_or_by_a_repair_of_what_feeds_the_unit(tmp_path):
    """A restart may come from the picture's side or from the inlet."""
    nights = Nights(tmp_path)
    often = 'kind = "restart"\nafter_s = ["20 min", "25 min"]\n'
    nights.fixture("restarts", GOOD + f"[interruption]\n{often}")
    nights.soak("restarts", HOUR, 3)
    nights.opened()
    assert nights.soak("good", script("10 min"), 4) == 4
    told = standings(nights)[FailureKind.RESTARTS]
    assert told.before.events
    assert set(told.before.functions) == {"start", "video"}
    nights.opened()
    nights.mended("start")
    nights.soak("good", script("10 min"), 5)
    assert standings(nights)[FailureKind.RESTARTS].word_counts


DATA = "[stretch.transfer]\nwrite_budget_bytes = 100_000_000\n"
LOSES_DATA = GOOD + '[data]\nkind = "flips"\n[data.damage]\nper_hour = 6\nlasts_s = [2, 20]\n'


def test_wrong_data_is_not_washed_by_a_script_without_a_transfer(tmp_path):
    """A night of picture says nothing of a port that lost data."""
    nights = Nights(tmp_path, STICK)
    nights.fixture("data", LOSES_DATA)
    assert nights.soak("data", script("1 h", DATA), 3) == 1
    nights.opened()
    assert nights.soak("good", HOUR, 4) == 4
    told = standings(nights)[FailureKind.DATA]
    assert told.before.events
    assert told.chance is None
    assert "since then nothing watched" in nights.judged().reason
    assert "more of transfer without wrong data would bring it below 5 %" in nights.judged().reason
    assert nights.soak("good", script("60 min", DATA), 5) == 0
    assert standings(nights)[FailureKind.DATA].since.over > told.needed


SPOTS = "[stretch.spots]\n"
HOT = GOOD + '[spots.heatsink]\nrise_k = 48\ntau_s = "7 min"\nslow_rise_k = 14\n'


def test_heat_is_outlived_only_where_the_same_limit_held_for_as_long(tmp_path):
    """A short soak or another spot shows nothing of a limit that was passed in an hour."""
    nights = Nights(tmp_path, PROBES)
    nights.fixture("hot", HOT)
    assert nights.soak("hot", script("1 h", SPOTS), 3) == 1
    nights.opened()
    assert nights.soak("good", script("20 min", SPOTS), 4) == 4
    (point,) = [one for one in nights.judged().open_points if "did not meet" in one]
    assert "Middle of the heatsink stays at or below 60 °C" in point
    assert "in a room of" in point
    assert nights.soak("good", HOUR, 5) == 4
    assert nights.soak("good", script("1 h", SPOTS), 6) == 0


def test_a_repair_that_names_the_cooling_stands_in_for_heat(tmp_path):
    """Once, as for what is counted."""
    nights = Nights(tmp_path, PROBES)
    nights.fixture("hot", HOT)
    nights.soak("hot", script("1 h", SPOTS), 3)
    nights.opened()
    nights.mended("cooling")
    narrow(tmp_path, "S1-2", "video")
    assert nights.soak("good", script("20 min", SPOTS), 4) == 6
    assert "Not met before this repair (joint re-soldered)" in nights.page()


def test_what_is_to_be_outlived_is_known_before_the_night(nights):
    """From the header's references alone, with the time that it takes: 10 in 8 h need 2.8 h."""
    nights.soak("good", script("10 min"), 20)
    (point,) = to_outlive(open_evidence(nights.last).header)
    assert "since then nothing watched. They may have come in 8 bouts" in point
    assert "1 h 15 min more without one" in point
