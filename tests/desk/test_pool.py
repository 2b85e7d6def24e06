"""Earlier units of the same model and repair are counted into the header, others are not."""

import json
from pathlib import Path

import pytest
from typed_bench import BRIEF, EVENING, SHEET, SIMULATED, TypedBench, soak_brief, typed, words

from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import Order, prepare
from soak.desk.soaking.grading import grade_job
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
    return list(prepared.wanted.references.pool)


def test_only_units_of_the_same_repair_are_counted(bench):
    """K3, whose picture was mended, is set beside K1, whose picture was, and not beside K2."""
    [entry] = pool_of(bench, "K3")
    assert entry.soak_id.startswith("K1-")
    assert (entry.starts, entry.failed, entry.faults) == (2, 0, 0)
    assert entry.hours > 0


def test_a_unit_is_never_set_beside_itself(bench):
    """K1's own earlier soak is judged with it; it is no reference."""
    assert pool_of(bench, "K1") == []


def test_judge_prints_the_confidence_of_all_bounds(bench):
    """Below the findings stands what the bounds say together, and which of them overlap."""
    said = typed(*words(bench, "judge", "K1"))
    assert "for all at once to hold at 95 % each would have to be stated at" in said.out


def test_lives_take_the_hours_soaked_before_a_sale_from_the_ledger(bench):
    """K1 and K2 are soaked and sold: a table without ages at entry gets them, and says whence."""
    ledger = Ledger(bench.path / "ledger.sqlite")
    for tag in ("K1", "K2"):
        ledger.sold(tag, where="shop", by="SM", anyway=True)
    soaked_h = {
        tag: sum(line.wear.powered_s for line in ledger.soaks(tag)) / 3600 for tag in ("K1", "K2")
    }
    table = bench.path / "sold.csv"
    table.write_text("unit,hours,failed\nK1,30,1\nSP40-K2,50,0\n")
    found = json.loads(typed(*words(bench, "evidence", "lives", str(table), "--json")).out)
    assert found["entries"].startswith("Age at entry of 2 units by the ledger")
    assert found["survival"]["from_h"] == pytest.approx(min(soaked_h.values()))
    table.write_text("unit,hours,failed\nK1,30,1\nK3,50,0\n")
    found = json.loads(typed(*words(bench, "evidence", "lives", str(table), "--json")).out)
    assert "not all units that were sold" in found["entries"]
    assert found["survival"]["from_h"] == 0
