"""The demo: it tells its story, the same seed tells the same, and the samples are its own."""

import json
from datetime import timedelta
from pathlib import Path

import pytest

from soak.desk.demo.demo import EVENING, PLAYERS, demo, prepare_night, soak_simulated
from soak.desk.paper.reporting import write_reports
from soak.desk.soaking.grading import grade_job

MORNING = EVENING + timedelta(hours=12)


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """Run the whole demo, as typed; return what it said, its rows and its folder."""
    said: list[str] = []
    folder = tmp_path_factory.mktemp("demo")
    return said, demo(1, said.append, folder), folder


def test_the_same_seed_writes_the_same_report(whole):
    """Two units of the demo, soaked again in this process, give the same bytes, page by page."""
    reports = whole[2] / "demo" / "reports"
    first = {
        f"{file.parent.name}/{file.name}": file.read_bytes() for file in reports.glob("*/rep*")
    }
    again = night_of(
        ("K3", "K4"), whole[2]
    )  # in the same place: a journal names its fixture's file
    assert len(again) == 6
    assert again == {name: first[name] for name in again}


def night_of(tags, folder: Path) -> dict[str, bytes]:
    """Soak some units of the night and report as the demo does; return the pages by name."""
    night = prepare_night(1, folder / "demo")
    pages = {}
    for one in (one for one in night.overnight if one.folder.name.startswith(tags)):
        soak_simulated(one)
        graded = grade_job(night.bench, night.ledger, one.folder)
        files = write_reports(night.bench, night.ledger, graded, one.folder, issued=MORNING)
        for page in (files.bench_page, files.buyer_page, files.data):
            pages[f"{one.folder.name}/{page.name}"] = page.read_bytes()
    return pages


def test_the_demo_tells_what_the_unit_came_back_for(whole):
    """Sighting, table, reports and samples are there."""
    said, rows, folder = whole
    text = "\n".join(said)
    assert "new clips arrive broken" in text
    assert "K8" in text
    assert "SIMULATED" in said[1]
    assert [row.tag for row in rows] == [player.tag for player in PLAYERS]
    for sample in ("ready", "failed", "incomplete"):
        assert (folder / "sample" / sample / "report.html").stat().st_size > 10_000
        pictures = list((folder / "sample" / sample).glob("listing-*.jpg"))
        assert len(pictures) == (2 if sample == "ready" else 0)


COMMITTED = Path(__file__).parents[2] / "reports" / "sample"


@pytest.mark.parametrize("sample", ["ready", "failed", "incomplete"])
def test_the_committed_samples_are_not_stale(whole, sample):
    """What `make sample` writes says what the committed samples say.

    Left out is what another machine's last digit changes: ids made of a hash, and hashes.
    """
    made, kept = (
        plain(json.loads((folder / sample / "report.json").read_text(encoding="utf-8")))
        for folder in (whole[2] / "sample", COMMITTED)
    )
    assert made == kept
    made, kept = ({file.name for file in (folder / sample).iterdir()}
                  for folder in (whole[2] / "sample", COMMITTED))  # fmt: skip
    assert made == kept


def plain(said):
    """Return a report's data without hashes, its numbers to six digits."""
    if isinstance(said, dict):
        return {key: plain(one) for key, one in said.items() if key not in OF_THIS_RUN}
    if isinstance(said, list):
        return [plain(one) for one in said]
    return float(f"{said:.6g}") if isinstance(said, float) else said


OF_THIS_RUN = {"report_id", "end", "seal_sha256", "sha256", "program", "signature"}
