"""A bench folder with one fixture and one wiped unit, K1, of the invented model."""

import json
from pathlib import Path

from soak.desk import units
from soak.desk.bench_folder import BenchFolder
from soak.desk.paper import reporting
from soak.desk.soaking import run
from soak.report.output.files import Outputs
from soak.sim.samples import MODEL_SHEET_NAME, fixture_text, model_sheet_text


def bench_with_k1(bench: Path, fixture: str = "") -> Path:
    """Make the bench; `fixture` is the text of `fixtures/left.toml`, by default a good unit's."""
    models = bench / "fixtures" / "models"
    models.mkdir(parents=True)
    (models / MODEL_SHEET_NAME).write_text(model_sheet_text())
    (bench / "fixtures" / "left.toml").write_text(fixture or fixture_text("good"))
    model = Path(MODEL_SHEET_NAME).stem
    units.add(bench, "SP40-1", model=model, tag="K1", bought="", by="", anyway=False)
    units.wiped(bench, "K1", how="reset", verified="read back", by="KY", on="")
    return bench


def soaked_and_reported(bench: Path, order: str, claim: str = "repaired and tested") -> Path:
    """Soak a unit for a simulated evening, make everything of its report; return the folder."""
    run.run(bench, "evening", [order], seed=3, may_sleep=False)
    reporting.report_soak(bench, "last", claim, Outputs(record=True))
    return BenchFolder(bench).find_soak("last")


def narrow(bench: Path, job: str, *left_out: str) -> None:
    """Leave key functions out of a job's claim before its first soak."""
    (bench / "details").mkdir(exist_ok=True)
    (bench / "details" / f"{job}.toml").write_text(f"left_out = {json.dumps(left_out)}\n")
