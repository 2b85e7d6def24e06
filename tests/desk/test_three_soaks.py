"""A job of three soaks: one report on few sheets, all three listed."""

from one_unit_bench import bench_with_k1
from pypdf import PdfReader

from soak.desk.bench_folder import BenchFolder
from soak.desk.paper import reporting
from soak.desk.soaking import run
from soak.report.output.files import Outputs


def test_the_paper_of_three_soaks_takes_three_sheets_and_names_all(tmp_path):
    """Quick, evening, overnight: the buyer's paper stays within three sheets and lists each."""
    bench_with_k1(tmp_path)
    for script in ("quick", "evening", "overnight"):
        run.run(tmp_path, script, ["K1@left.toml"], seed=3, may_sleep=False)
    reporting.report_soak(tmp_path, "last", "", Outputs())
    bench = BenchFolder(tmp_path)
    pages = PdfReader(bench.find_soak("last") / "report-buyer.pdf").pages
    words = " ".join(page.extract_text() for page in pages)
    assert len(pages) <= 3
    assert all(script in words for script in ("quick", "evening", "overnight"))
