"""How long a start may take is never the unit's own choice."""

import pytest
from one_unit_bench import bench_with_k1, narrow
from typed_bench import BRIEF, TypedBench, typed, words

from soak.ledger.ledger import Ledger

SHEET = "fixtures/models/ferrow-sp-40.toml"
SLOW = """\
truth = "every start takes 45 s"
truth_grade = "not ready: failed"
fault = "start"
[start]
warm_s = 45
cold_s = 45
spread = 0.001
"""
STARTS = BRIEF.replace("on_s = 40", "on_s = 90").replace("warm = 2", "warm = 3")


def bench_of(path):
    """Make a bench with a slow unit's fixture beside that of a good one."""
    bench = TypedBench(bench_with_k1(path))
    scene = bench.write("scene.toml", SLOW)
    fixture = (path / "fixtures" / "left.toml").read_text()
    slow = fixture.replace('simulated = "good"', f'simulated = "{scene}"')
    bench.write("fixtures/slow.toml", slow)
    bench.write("scripts/brief.toml", STARTS)
    for number in (1, 2, 3, 4):
        narrow(path, f"K{number}-1", "service_usb", "cooling", "video")
    return bench


def soaked(bench, unit="K1", fixture="slow"):
    return typed(*words(bench, "run", "brief", "--unit", f"{unit}@{fixture}.toml", "--seed", "3"))


def test_a_unit_whose_every_start_is_slow_is_not_ready(tmp_path):
    """The sheet says 20 s, each start takes 45 s; the limit and its source are told."""
    bench = bench_of(tmp_path)
    assert soaked(bench).code == 1
    said = typed(*words(bench, "judge", "last"))
    assert "limit 40 s, from the model's usual start of 20 s" in said.out
    typed(*words(bench, "report", "last"))
    folder = next((tmp_path / "reports").glob("K1-*"))
    assert "limit 40 s, from the model&#39;s usual start of 20 s" in (
        folder / "report.html"
    ).read_text().replace("'", "&#39;")


def test_a_sheet_that_was_wrong_is_mended_for_later_soaks(tmp_path):
    """The earlier soak keeps the limit that it was frozen with, so it stays on the page."""
    bench = bench_of(tmp_path)
    assert soaked(bench).code == 1
    bench.edit(SHEET, 'start_s = "20 s"', 'start_s = "45 s"')
    Ledger(tmp_path / "ledger.sqlite").add_unit(model="ferrow-sp-40", tag="K2", serial="SP40-2")
    typed(*words(bench, "unit", "wiped", "K2", "--how", "reset", "--verified", "yes", "--by", "KY"))
    said = soaked(bench, "K2")
    assert said.code == 6
    assert "limit 77.5 s" in typed(*words(bench, "judge", "K2", "--whole")).out
    assert "limit 40 s" in typed(*words(bench, "judge", "K1", "--whole")).out


def test_units_like_it_only_draw_the_limit_closer(tmp_path):
    """The sheet's 30 s would allow 55 s; three others that start in 20 s allow 40 s."""
    bench = bench_of(tmp_path)
    bench.edit(SHEET, 'start_s = "20 s"', 'start_s = "30 s"')
    ledger = Ledger(tmp_path / "ledger.sqlite")
    for number in (2, 3, 4):
        tag = f"K{number}"
        ledger.add_unit(model="ferrow-sp-40", tag=tag, serial=f"SP40-{number}")
        wiped = ("--how", "reset", "--verified", "yes", "--by", "KY")
        typed(*words(bench, "unit", "wiped", tag, *wiped))
        assert soaked(bench, tag, "left").code == 6
    assert soaked(bench, "K1", "left").code == 6
    header = _header(tmp_path, "K1")
    assert [one.tag for one in header.references.start_times] == ["K4", "K3", "K2"]
    assert header.terms["start_limit_from"] == "units like it"
    assert header.terms["start_limit_s"] == pytest.approx(1.5 * 20 + 10, abs=1)
    assert "from 3 units like it" in typed(*words(bench, "judge", "K1", "--whole")).out


def _header(path, tag):
    from soak.journal import open_evidence

    return open_evidence(next((path / "reports").glob(f"{tag}-*"))).header
