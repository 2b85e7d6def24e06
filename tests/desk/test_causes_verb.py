"""`soak causes` on soaks of a simulated bench: what points somewhere, and what a swap can tell."""

from planned_bench import GOOD, planned_bench, soak_planned
from typed_bench import typed

LINK = '[link]\ndriver = "simulated"\nport = "usb1"\n'
PROBE = '[probe.heatsink]\ndriver = "simulated"\nspot = "heatsink"\naccuracy = 1.0\n'
SCRIPT = """\
name = "planned"
not_after = "3 h"
[[stretch]]
name = "run"
lasts = "90 min"
[stretch.picture]
[stretch.link]
at_least_speed_mbps = 5000
[stretch.spots]
"""
SUPER = "[link]\nspeed_mbps = 5000\nfallen_mbps = 480\n"
SLOW = '[data]\nfalls_spot = "heatsink"\nfalls_above_degc = 40\n'
DROPS = "[contacts.video.opens]\nper_hour = 20.0\nlasts_s = [0.5, 1.0]\n"


def causes(path, monkeypatch, scene):
    """Soak a unit that does what the scene says; return what `soak causes last` prints."""
    bench = planned_bench(path / "bench", GOOD + scene, SCRIPT)
    left = bench / "fixtures" / "left.toml"
    left.write_text(left.read_text() + LINK + PROBE)
    monkeypatch.chdir(bench)
    soak_planned(bench)
    said = typed("--bench", str(bench), "causes", "last")
    assert said.code == 0, said.err
    return said.out


def test_a_unit_that_failed_by_its_links_speed_points_at_the_link(tmp_path, monkeypatch):
    """Nobody reads "no event is on record" of a unit whose port fell back to a slow speed."""
    said = causes(tmp_path, monkeypatch, SUPER + SLOW)
    assert "Looks like a link that fell back" in said
    assert "No event" not in said
    assert "soak swap" not in said


def test_losses_of_the_picture_send_to_the_swap_that_watches_it(tmp_path, monkeypatch):
    """The swap that is named is one that sees the loss."""
    assert "soak swap UNIT@FIXTURE --of picture" in causes(tmp_path, monkeypatch, SUPER + DROPS)
