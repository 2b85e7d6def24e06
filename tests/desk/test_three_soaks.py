"""A job of three soaks: one report on few sheets, all three listed."""

from pathlib import Path

from pypdf import PdfReader

from soak.desk import reporting, run, units
from soak.desk.bench_folder import BenchFolder
from soak.report.files import Outputs
from soak.sim.samples import MODEL_SHEET_NAME, fixture_text, model_sheet_text


def test_the_paper_of_three_soaks_takes_three_sheets_and_names_all(tmp_path):
    """Quick, evening, overnight: the buyer's paper stays within three sheets and lists each."""
    models = tmp_path / "fixtures" / "models"
    models.mkdir(parents=True)
    (models / MODEL_SHEET_NAME).write_text(model_sheet_text())
    (tmp_path / "fixtures" / "left.toml").write_text(fixture_text("good"))
    model = Path(MODEL_SHEET_NAME).stem
    units.add(tmp_path, "SP40-1", model=model, tag="K1", bought="", by="", anyway=False)
    units.wiped(tmp_path, "K1", how="reset", verified="read back", by="KY", on="")
    for script in ("quick", "evening", "overnight"):
        run.run(tmp_path, script, ["K1@left.toml"], seed=3, may_sleep=False)
    reporting.report_soak(tmp_path, "last", "", Outputs())
    bench = BenchFolder(tmp_path)
    pages = PdfReader(bench.find_soak("last") / "report-buyer.pdf").pages
    words = " ".join(page.extract_text() for page in pages)
    assert len(pages) <= 3
    assert all(script in words for script in ("quick", "evening", "overnight"))
