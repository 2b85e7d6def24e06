"""`soak compare` on two nights of a simulated bench: what a person would see at once is there."""

from planned_bench import GOOD, planned_bench, soak_planned
from typed_bench import typed

PROBE = """\
[probe.heatsink]
driver = "simulated"
spot = "heatsink"
accuracy = 1.0
guards = true
"""
SCRIPT = """\
name = "planned"
not_after = "6 h"
[[stretch]]
name = "run"
lasts = "3 h"
[stretch.picture]
[stretch.spots]
"""
DEAD_FAN = '[fan]\ndies_after_s = ["1 h", "61 min"]\nfactor = 2.4\n'


def test_a_fan_that_died_is_not_missed(tmp_path, monkeypatch):
    """The guard cut the power of a hot unit: grade, length, trip and the spot's maximum tell it."""
    bench = planned_bench(tmp_path / "bench", GOOD, SCRIPT)
    left = bench / "fixtures" / "left.toml"
    left.write_text(left.read_text() + PROBE)
    monkeypatch.chdir(bench)
    one = soak_planned(bench)
    (bench / "scene.toml").write_text(GOOD + DEAD_FAN)
    other = soak_planned(bench)
    ids = [evidence.header.soak_id for evidence in (one, other)]
    said = typed("--bench", str(bench), "compare", *ids)
    assert said.code == 0, said.err
    rows = dict(line.split("  ", 1) for line in said.out.splitlines()[1:])
    assert "failed" in rows["grade, this soak alone"]
    assert rows["trips of the guard"].split()[0] == "none"
    assert "1, heatsink" in rows["trips of the guard"]
    assert "heatsink, highest" in rows
    assert "length" in rows
