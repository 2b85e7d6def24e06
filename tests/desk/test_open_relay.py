"""A relay that answers and stays open, beside a unit that is really dead: simulated nights."""

import pytest
from nights_bench import PROBES, STICK, Nights

VOLT = '[probe.inlet]\ndriver = "simulated"\nunit = "V"\n'
AMPERE = '[probe.inlet]\ndriver = "simulated"\nunit = "A"\n'
WATT = '[probe.inlet]\ndriver = "simulated"\nunit = "W"\n'
HEAD = 'truth = "{what}"\ntruth_grade = "not ready: incomplete"\nfault = "none"\n'
OPEN_AT_ONCE = HEAD.format(what="open") + '[bench.relay]\nfault = "open"\nfrom_on = 1\n'
OPEN = HEAD.format(what="open") + '[bench.relay]\nfault = "open"\nfrom_on = 4\n'
OPEN_ONCE = OPEN + "times = 1\n"
DIES = HEAD.format(what="dies") + "[start]\ndies_at = 4\n"
FUSE = DIES + "[supply]\nstuck_a = 0.0\n"
NIGHT = """\
name = "night"
not_after = "30 h"
[[stretch]]
name = "first"
lasts = "10 min"
attended = true
[stretch.picture]
shorter_per_h = 1000
[[stretch]]
name = "cycles"
[stretch.power_cycles]
warm = 5
off_s = "20 s"
on_s = "60 s"
[[stretch]]
name = "hot"
lasts = "10 min"
[stretch.picture]
shorter_per_h = 1000
[stretch.transfer]
[stretch.spots]
"""
PLAIN = PROBES + STICK


def bench(path, scene, wired=PLAIN):
    """Return a bench whose fixture `bad` is wired to what the scene says."""
    nights = Nights(path, wired)
    nights.fixture("bad", scene)
    return nights


def judged(path, scene, wired=PLAIN):
    """Soak one night and judge it."""
    nights = bench(path, scene, wired)
    nights.soak("bad", NIGHT, 3)
    return nights.judged()


def failed(judgement):
    """Return the ids of what was not met."""
    return [one.requirement.id for one in judgement.findings if one.verdict.value == "not met"]


def met(judgement):
    """Return the ids of what was met after the first stretch."""
    return [
        one.requirement.id
        for one in judgement.findings
        if one.verdict.value == "met" and not one.requirement.id.startswith("first/")
    ]


@pytest.mark.parametrize(
    ("scene", "since"),
    [
        (OPEN_AT_ONCE, "The unit never showed anything"),
        (OPEN, "From warm start 3 on the unit showed nothing to the end"),
        (DIES, "From warm start 3 on the unit showed nothing to the end"),
        (FUSE, "From warm start 3 on the unit showed nothing to the end"),
    ],
)
def test_without_a_meter_nobody_knows_whether_unit_or_switch_failed(tmp_path, scene, since):
    """Nothing is charged, nothing that came after is met, and what to swap is said."""
    judgement = judged(tmp_path, scene)
    assert judgement.because == "incomplete"
    assert failed(judgement) == []
    assert [one for one in met(judgement) if not one.endswith("off proved")] == []
    told = " ".join(judgement.open_points)
    assert since in told
    assert "a unit known to be good on this channel, or another channel under this unit" in told
    assert "another channel under this unit" in judgement.reason


@pytest.mark.parametrize("wired", [VOLT, WATT, AMPERE], ids=["V", "W", "A"])
def test_power_that_came_to_a_dead_unit_makes_it_the_units_failure(tmp_path, wired):
    """It died for good at its fourth start, and a meter at its inlet reads that it is fed."""
    judgement = judged(tmp_path, DIES, PLAIN + wired)
    assert judgement.because == "failed"
    assert "cycles/power_cycles/starts" in failed(judgement)


@pytest.mark.parametrize("scene", [OPEN_AT_ONCE, OPEN])
def test_no_voltage_at_the_inlet_is_the_bench(tmp_path, scene):
    """The meter reads that nothing came: nobody has to swap anything to know."""
    judgement = judged(tmp_path, scene, PLAIN + VOLT)
    assert judgement.because == "incomplete"
    assert failed(judgement) == []
    assert not any("another channel under this unit" in one for one in judgement.open_points)


@pytest.mark.parametrize("scene", [OPEN, FUSE])
def test_no_current_does_not_tell_an_open_relay_from_a_blown_fuse(tmp_path, scene):
    """Both read 0.000 A."""
    judgement = judged(tmp_path, scene, PLAIN + AMPERE)
    assert judgement.because == "incomplete"
    assert failed(judgement) == []
    assert any("another channel under this unit" in one for one in judgement.open_points)


def test_a_start_that_fails_among_good_ones_is_charged(tmp_path):
    """Later starts show that the channel works."""
    judgement = judged(tmp_path, OPEN_ONCE)
    assert judgement.because == "failed"
    assert failed(judgement) == ["cycles/power_cycles/starts"]


def test_dead_again_on_another_channel_it_is_the_unit(tmp_path):
    """Two switches do not fail alike."""
    nights = bench(tmp_path, DIES)
    nights.fixture("other", DIES)
    (tmp_path / "fixtures" / "other.toml").write_text(
        (tmp_path / "fixtures" / "other.toml").read_text().replace("plain bench", "other bench")
    )
    nights.soak("bad", NIGHT, 3)
    nights.soak("other", NIGHT, 4)
    judgement = nights.judged()
    assert judgement.because == "failed"
    assert "on another switch or channel: the unit failed" in judgement.reason


def test_alive_on_another_channel_it_was_the_switch(tmp_path):
    """A whole good night on another one makes the unit ready."""
    nights = bench(tmp_path, OPEN)
    good = (tmp_path / "fixtures" / "good.toml").read_text()
    (tmp_path / "fixtures" / "good.toml").write_text(good.replace("plain bench", "other bench"))
    nights.soak("bad", NIGHT, 3)
    nights.soak("good", NIGHT, 4)
    assert nights.judged().because == "all met"


def test_alive_on_the_same_channel_nobody_knows_yet(tmp_path):
    """A relay may have been mended, and a unit may come and go: it is not sold upon that."""
    nights = bench(tmp_path, OPEN)
    nights.soak("bad", NIGHT, 3)
    nights.soak("good", NIGHT, 4)
    judgement = nights.judged()
    assert judgement.because == "incomplete"
    assert "another channel under this unit" in judgement.reason


def test_dead_again_on_a_channel_that_ran_another_unit_it_is_the_unit(tmp_path):
    """That is what the swap of the unit is for."""
    nights = bench(tmp_path, DIES)
    nights.unit("S2", "SN-2")
    nights.soak("bad", NIGHT, 3)
    nights.soak("good", NIGHT, 4, tag="S2")
    nights.soak("bad", NIGHT, 5)
    judgement = nights.judged()
    assert judgement.because == "failed"
    assert "the same channel ran unit S2" in judgement.reason


def test_opening_the_unit_does_not_make_it_forgotten(tmp_path):
    """A new job begins, and what nobody knew stands open there."""
    nights = bench(tmp_path, OPEN)
    nights.soak("bad", NIGHT, 3)
    nights.opened()
    nights.soak("good", NIGHT, 4)
    judgement = nights.judged()
    assert judgement.because == "incomplete"
