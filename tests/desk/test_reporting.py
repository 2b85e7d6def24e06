"""Reports as an operator makes them: editions, what only people know, the sale, the label."""

import json
import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import cv2
import pytest
from typer.testing import CliRunner

from soak.cli.app import app
from soak.desk.bench_folder import BenchFolder
from soak.desk.demo.demo import EVENING, PLAYERS, prepare_night, soak_simulated
from soak.desk.paper.details import SKELETON, begin_details, details_file, read_details
from soak.desk.paper.labels import make_label
from soak.desk.paper.reporting import details_to_fill_in, report_soak, usual_claim, write_reports
from soak.desk.soaking.grading import grade_job
from soak.desk.units import open_ledger, sold
from soak.errors import FixtureError, UsageError
from soak.journal import open_evidence
from soak.report.output.files import Outputs


@pytest.fixture(scope="module")
def soaked(tmp_path_factory):
    """Soak one good unit of the demo overnight; return its bench's folder."""
    folder = tmp_path_factory.mktemp("bench")
    good = [player for player in PLAYERS if player.tag == "K1"]
    night = prepare_night(3, folder / "bench", good)
    soak_simulated(night.overnight[0])
    return folder / "bench"


@pytest.fixture
def bench(soaked, tmp_path):
    """Return a copy of the bench that a test may write in."""
    shutil.copytree(soaked, tmp_path / "bench")
    return tmp_path / "bench"


def written(bench, days: int = 0, **how):
    """Write the report of the bench's soak; return its data."""
    there, ledger = BenchFolder(bench), open_ledger(bench)
    folder = there.find_soak("last")
    issued = EVENING + timedelta(days=days)
    graded = grade_job(there, ledger, folder)
    files = write_reports(there, ledger, graded, folder, issued=issued, how=Outputs(**how))
    return json.loads(files.data.read_text(encoding="utf-8")), folder


def details(bench, **said):
    """Write the details of the bench's job."""
    file = details_file(BenchFolder(bench), "K1-1")
    file.parent.mkdir(exist_ok=True)
    lines = [f"{key} = {json.dumps(value)}" for key, value in said.items()]
    file.write_text("\n".join(lines), encoding="utf-8")


def test_the_same_words_keep_edition_date_and_bytes(bench):
    """A report made again days later, with nothing new, is the report that was issued."""
    first, folder = written(bench)
    page = (folder / "report.html").read_bytes()
    again, _ = written(bench, days=5)
    assert first["edition"] == again["edition"] == 1
    assert again["issued_utc"] == first["issued_utc"]
    assert (folder / "report.html").read_bytes() == page


def test_new_words_are_a_new_edition_and_the_old_data_stay(bench):
    """What was issued can still be shown after a correction."""
    first, folder = written(bench)
    details(bench, condition="a crack in the lid")
    second, _ = written(bench, days=1)
    assert (second["edition"], second["unit"]["condition"]) == (2, "a crack in the lid")
    assert second["issued_utc"] > first["issued_utc"]
    kept = json.loads((folder / "report-edition-1.json").read_text(encoding="utf-8"))
    assert kept == first


def test_a_sale_keeps_the_report_that_was_shown(bench):
    """Id and edition of the current report stand with the sale, unless another is named."""
    said, _ = written(bench)
    given = dict.fromkeys(("price", "report", "on", "by"), "")
    text = sold(bench, "K1", "own shop", given, anyway=True)
    expected = f"{said['report_id']}, edition 1"
    assert expected in text
    sale = next(line for line in open_ledger(bench).unit_card("K1").lines if line.kind == "sold")
    assert expected in f"{sale.text} {sale.detail}"


def test_nothing_is_called_repaired_without_a_repair(bench):
    """The word on the report is the one that the job's record bears out."""
    header = open_evidence(BenchFolder(bench).find_soak("last")).header
    assert usual_claim(header.unit) == "repaired and tested"
    assert usual_claim(replace(header.unit, repairs=())) == "tested"


def test_all_files_of_a_sale_come_by_one_command(bench):
    """Pages, paper, data, table, text, picture in both shapes and forms, record."""
    text = report_soak(bench, "last", "", Outputs(record=True)).text
    names = {line.rpartition("/")[2] for line in text.splitlines()}
    assert names >= {
        "report.html", "report-buyer.html", "report.json", "report-buyer.json", "report.csv",
        "report-buyer.pdf", "listing.txt", "listing-portrait.png", "listing-portrait.jpg",
        "listing-square.png", "listing-square.jpg", "record.png", "record.pdf",
    }  # fmt: skip


def test_what_people_know_stands_on_the_report(bench):
    """Each key of the details has its place; the safety test is said done, by whom and how."""
    text = (
        'claim = "reconditioned"\ncondition = "scratched"\nreceived_on = "2026-01-02"\n'
        'customer = "a customer"\nrecall_checked_on = "2026-01-03"\nrecall_result = "none"\n'
        'known_defects = ["no remote control"]\ndeviations = ["lid off at first"]\n'
        '[safety_test]\nby = "KY"\non = "2026-01-04"\nmethod = "touch current"\nresult = "passed"\n'
    )
    details(bench)
    (bench / "details" / "K1-1.toml").write_text(text, encoding="utf-8")
    said, _ = written(bench)
    assert said["claim"]["words"] == "reconditioned"
    assert (said["unit"]["condition"], said["unit"]["received_on"]) == ("scratched", "2026-01-02")
    assert said["issuer"]["customer"] == "a customer"
    assert said["recall_checked"] == "checked on 2026-01-03: none"
    assert "no remote control" in said["known_limits"]
    assert "lid off at first" in said["deviations"]
    assert said["safety"]["words"] == (
        "Electrical safety test: passed, by KY on 2026-01-04, touch current"
    )


def test_the_details_file_begins_as_comments_and_is_never_overwritten(bench):
    """The skeleton says nothing until somebody fills it in, and stays what they wrote."""
    path = Path(details_to_fill_in(bench, "last").splitlines()[0])
    assert read_details(BenchFolder(bench), "K1-1").condition == ""
    filled = SKELETON.replace('# condition = "light', 'condition = "light')
    path.write_text(filled, encoding="utf-8")
    begin_details(BenchFolder(bench), "K1-1")
    assert read_details(BenchFolder(bench), "K1-1").condition == "light scratches on the lid"
    uncommented = "\n".join(line.removeprefix("# ") for line in SKELETON.splitlines()[3:])
    path.write_text(uncommented, encoding="utf-8")
    assert read_details(BenchFolder(bench), "K1-1").safety_test is not None


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('condtion = "x"', r"condtion: there is no such key.*condition"),
        ('claim = "as new"', r"'as new' cannot be vouched for by a soak"),
        ("year_made = 1492", r"year_made.*1950"),
    ],
)
def test_a_mistake_in_the_details_is_one_sentence(bench, line, says):
    """File, key and what to do; a claim that no soak can show is refused."""
    details(bench)
    (bench / "details" / "K1-1.toml").write_text(line, encoding="utf-8")
    with pytest.raises((FixtureError, UsageError), match=says):
        written(bench)


def test_a_label_is_made_of_any_unit_of_the_ledger(bench):
    """By serial too; picture and PDF lie in the folder `labels`."""
    files = make_label(bench, "SP40-1017", "62x29").splitlines()
    assert [file.rpartition("/")[2] for file in files] == ["K1.png", "K1.pdf"]
    assert cv2.imread(files[0]).shape[:2] == (348, 744)
    with pytest.raises(UsageError, match="--size wide: write width and height in mm"):
        make_label(bench, "K1", "wide")


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--paper", "b5"], "--paper b5: there is a4 and us-letter"),
        (["--language", "tlh"], "--language tlh: there is de, en"),
        (["--claim", "as new"], "cannot be vouched for by a soak"),
    ],
)
def test_a_wrong_option_is_one_sentence(bench, options, says):
    """What was asked for and what there is."""
    result = CliRunner().invoke(app, ["--bench", str(bench), "report", "last", *options])
    assert says in str(result.exception)


def test_two_reports_at_once_are_two_editions(tmp_path):
    """Two programs, two claims, started at once: the next edition and the one after, both kept."""
    import json
    import subprocess
    import sys

    from one_unit_bench import bench_with_k1, soaked_and_reported

    bench = bench_with_k1(tmp_path)
    folder = soaked_and_reported(bench, "K1@left.toml")
    before = json.loads((folder / "report.json").read_text())["edition"]
    code = "from soak.cli.main import main; main()"
    command = [sys.executable, "-c", code, "--bench", str(bench), "report", "--claim"]
    both = [subprocess.Popen([*command, claim]) for claim in ("repaired", "tested")]
    assert [program.wait() for program in both] == [0, 0]
    kept = [json.loads(file.read_text()) for file in folder.glob("report-edition-*.json")]
    now = json.loads((folder / "report.json").read_text())
    said = {data["edition"]: data["claim"]["words"] for data in (*kept, now)}
    assert set(said) == {*range(1, before + 1), before + 1, before + 2}
    assert {said[before + 1], said[before + 2]} == {"repaired", "tested"}
