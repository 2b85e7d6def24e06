"""Earlier units of the same model and repair are counted into the header, others are not."""

from pathlib import Path

import pytest
from typed_bench import BRIEF, EVENING, SHEET, SIMULATED, TypedBench, soak_brief, typed, words

from soak.desk.bench_folder import BenchFolder
from soak.desk.grading import grade_job
from soak.desk.orders import Order, prepare
from soak.ledger.ledger import Ledger
from soak.run.script import read_script


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """Make a bench: K1 and K2 soaked with different repairs, K3 like K1 and not yet soaked."""
    path = tmp_path_factory.mktemp("pool")
    bench = TypedBench(path)
    bench.write("fixtures/models/ferrow-sp-40.toml", SHEET.read_text())
    bench.write("fixtures/sim.toml", SIMULATED)
    bench.write("scripts/brief.toml", BRIEF)
    ledger = Ledger(path / "ledger.sqlite")
    for tag, function in (("K1", "video"), ("K2", "sound"), ("K3", "video")):
        ledger.add_unit(model="ferrow-sp-40", tag=tag, serial=f"SP40-{tag}")
        ledger.record_repair(tag, what="mended", function=function)
    for tag in ("K1", "K2"):
        soak_brief(path, tag, 1e9)
        folder = BenchFolder(path)
        grade_job(folder, ledger, folder.find_soak(tag))
    return bench


def pool_of(bench, tag):
    folder = BenchFolder(bench.path)
    script = read_script(bench.path / "scripts" / "brief.toml")
    order = Order(tag, Path("fixtures/sim.toml"))
    prepared = prepare(folder, Ledger(folder.ledger), script, order, EVENING, 1)
    return prepared.wanted.references.get("pool", [])


def test_only_units_of_the_same_repair_are_counted(bench):
    """K3, whose picture was mended, is set beside K1, whose picture was, and not beside K2."""
    [entry] = pool_of(bench, "K3")
    assert entry["soak_id"].startswith("K1-")
    assert (entry["starts"], entry["failed"], entry["faults"]) == (2, 0, 0)
    assert entry["hours"] > 0


def test_a_unit_is_never_set_beside_itself(bench):
    """K1's own earlier soak is judged with it; it is no reference."""
    assert pool_of(bench, "K1") == []


def test_judge_prints_the_confidence_of_all_bounds(bench):
    """Below the findings stands how sure it is that all bounds hold at once."""
    said = typed(*words(bench, "judge", "K1"))
    assert "bounds are stated; that all of them hold at once" in said.out
