"""A host that sleeps in the night: off on waking, on record, never charged to the unit."""

from pathlib import Path

from soak.desk import run, units
from soak.desk.bench_folder import BenchFolder
from soak.errors import ExitCode
from soak.journal import open_evidence
from soak.sim.samples import MODEL_SHEET_NAME, fixture_text, model_sheet_text


def test_a_sleeping_host_ends_the_soak_off_and_incomplete(tmp_path):
    """Forty minutes nobody watched: on record, power off at once, not the unit's fault."""
    models = tmp_path / "fixtures" / "models"
    models.mkdir(parents=True)
    (models / MODEL_SHEET_NAME).write_text(model_sheet_text())
    (tmp_path / "fixtures" / "left.toml").write_text(fixture_text("host_sleeps"))
    model = Path(MODEL_SHEET_NAME).stem
    units.add(tmp_path, "SP40-1", model=model, tag="K1", bought="", by="", anyway=False)
    units.wiped(tmp_path, "K1", how="reset", verified="read back", by="KY", on="")
    code = run.run(tmp_path, "overnight", ["K1@left.toml"], seed=3, may_sleep=False)
    evidence = open_evidence(BenchFolder(tmp_path).find_soak("last"))
    slept = evidence.marks("host slept")[0]
    off = next(m for m in evidence.marks("power") if m.t_s >= slept.t_s)
    assert code == ExitCode.INCOMPLETE
    assert slept.detail["for_s"] == 2400
    assert off.detail["on"] is False
    assert off.t_s - slept.t_s < 1
    assert evidence.seal.ended == "bench fault"
