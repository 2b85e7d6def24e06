"""By eye through the verbs, by a simulated operator: a port nothing watches, and the picture."""

import json
from pathlib import Path

import pytest
from wiggled_bench import make_bench

from soak.desk.bench_folder import BenchFolder
from soak.desk.hands.wiggle import Wiggling, wiggle
from soak.desk.morning.show import show
from soak.desk.soaking.run import run

SCRIPT = """\
name = "looks"
not_after = "1 h"
[[stretch]]
name = "looks"
lasts = "10 min"
attended = true
[stretch.picture]
by_eye = true
look_every_s = 60
"""
FIXTURE = 'name = "eye"\nsimulated = "good"\n[switch]\ndriver = "simulated"\n'


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    return make_bench(tmp_path)


def test_a_port_that_nothing_watches_is_wiggled_by_eye(bench):
    """Asked after each of seven movements and the rest; no table of breaks is made of it."""
    lines: list[str] = []
    wiggle(bench, "S1@good.toml", Wiggling("usb2", repeats=1, by_eye=True), lines.append, seed=3)
    (told,) = lines
    assert "stayed in 8 of 8 movements and rests" in told
    assert "a short break can be missed" in told
    assert "By eye, by simulated operator." in told
    assert told in show(bench, "last", "", as_json=False)
    assert "moved" not in json.loads(show(bench, "last", "", as_json=True))


def test_the_picture_is_looked_at_through_a_stretch(bench):
    """Ten minutes, from a start of 50 s on: ten looks; and nothing is said of short breaks."""
    (bench / "fixtures" / "eye.toml").write_text(FIXTURE)
    (bench / "scripts").mkdir(exist_ok=True)
    (bench / "scripts" / "looks.toml").write_text(SCRIPT)
    run(bench, "looks", ["S1@eye"], seed=3, may_sleep=True)
    folder = BenchFolder(bench).find_soak("last")
    data = json.loads((folder / "report.json").read_text())
    (looks,) = [one for one in data["tested"] if one["id"] == "looks/picture/by eye"]
    assert looks["found"] == "10 of 10 worked, by eye, by simulated operator"
    assert looks["bound"] == ""
    untested = [one["what"] for one in data["not_tested"]]
    assert any("never lost" in what for what in untested), untested
    assert any("looked at by eye" in one for one in data["known_limits"])
    assert data["simulated"]
