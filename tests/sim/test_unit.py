"""The model of a unit: history by seed and power alone, starts, contacts, fan, restarts."""

from random import Random

import numpy as np
import pytest
import trio
from hypothesis import given
from hypothesis import strategies as st

from soak.sim.episodes import When
from soak.sim.scene import HOLDS_UP_S, Interruption, Scene, Start, read_scene, scene_names
from soak.sim.scene_ports import Contact
from soak.sim.unit import SimulatedUnit

POWER = st.lists(st.floats(0.5, 4000.0), min_size=1, max_size=12)


def _scene(**given_keys: object) -> Scene:
    keys: dict[str, object] = {"name": "own", "truth": "own", "fault": "own"}
    return Scene.model_validate({**keys, "truth_grade": "ready", **given_keys})


def _switched(unit: SimulatedUnit, dwells_s: list[float]) -> float:
    t_s = 1.0
    for number, dwell_s in enumerate(dwells_s):
        unit.power(t_s, number % 2 == 0)
        t_s += dwell_s
    return t_s


@given(st.sampled_from(scene_names()), st.integers(0, 2**32), POWER, st.randoms())
def test_asking_in_another_order_gives_the_same_history(
    name: str, seed: int, dwells_s: list[float], order: Random
) -> None:
    """Two units of one seed agree though one of them was asked at random times in between."""
    quiet, asked = (SimulatedUnit(read_scene(name), seed) for _ in range(2))
    end_s = _switched(quiet, dwells_s)
    t_s = 1.0
    for number, dwell_s in enumerate(dwells_s):
        asked.power(t_s, number % 2 == 0)
        for _ in range(4):
            at_s = t_s + order.random() * dwell_s
            asked.temperature_degc("outside", at_s)
            asked.current_a(at_s)
            asked.connected("usb1", at_s)
            asked.damaged(t_s, at_s)
        t_s += dwell_s
    assert asked.looks.since(0.0) == quiet.looks.since(0.0)
    for at_s in np.linspace(0.0, end_s, 50):
        assert asked.temperature_degc("heatsink", at_s) == quiet.temperature_degc("heatsink", at_s)
        assert asked.damaged(at_s, at_s + 5) == quiet.damaged(at_s, at_s + 5)


def test_another_seed_gives_another_history() -> None:
    """Two seeds do not give the same starts."""
    tracks = []
    for seed in (1, 2):
        unit = SimulatedUnit(read_scene("good"), seed)
        unit.power(10.0, True)
        tracks.append(unit.looks.since(0.0))
    assert tracks[0] != tracks[1]


def test_a_start_without_spread_shows_its_picture_on_time() -> None:
    """A cold start of 20 s median and no spread shows a picture 20 s after power."""
    unit = SimulatedUnit(_scene(start={"cold_s": 20, "warm_s": 10, "spread": 0}), 3)
    unit.power(100.0, True)
    assert unit.looks.since(100.0) == [
        (100.0, "no signal"),
        (105.0, "black"),
        (pytest.approx(120.0), "picture"),
    ]


def test_a_warm_start_takes_the_warm_time() -> None:
    """After hours with power and a second without, the start takes the warm median."""
    unit = SimulatedUnit(_scene(start={"cold_s": 20, "warm_s": 10, "spread": 0}), 3)
    unit.power(0.0, True)
    unit.power(40_000.0, False)
    unit.power(40_001.0, True)
    assert unit.looks.next_change_s(40_004.0) == pytest.approx(40_011.0, abs=0.05)


def test_off_ends_the_picture_when_the_capacitors_are_empty() -> None:
    """The picture goes just when the hold-up is over, and nothing is planned after it."""
    unit = SimulatedUnit(read_scene("restarts_at_night"), 3)
    unit.power(0.0, True)
    unit.power(1000.0, False)
    assert unit.looks.since(999.0) == [(999.0, "picture"), (1000.0 + HOLDS_UP_S, "no signal")]
    assert unit.current_a(1001.0) == 0.0


def test_the_share_of_failed_starts_is_the_scenes() -> None:
    """Of 2000 starts with an even chance half fail, within four standard deviations."""
    unit = SimulatedUnit(_scene(start={"fails_cold": 0.5, "fails_warm": 0.5}), 5)
    failed = 0
    for number in range(2000):
        unit.power(100.0 * number, True)
        failed += not unit.running(100.0 * number + 60.0)
        unit.power(100.0 * number + 70.0, False)
    assert abs(failed - 1000) < 4 * np.sqrt(2000 * 0.25)  # binomial standard deviation


def test_a_hot_contact_stays_closed_in_the_cold() -> None:
    """A contact that opens above 47 degC does not open while the heatsink is cooler."""
    for seed in range(20):
        unit = SimulatedUnit(read_scene("video_drops_when_hot"), seed)
        unit.power(0.0, True)
        opened = [t for t, look in unit.looks.since(60.0) if look == "no signal"]
        assert opened
        assert min(unit.temperature_degc("heatsink", t_s) for t_s in opened) > 47.0


def test_openings_of_a_contact_are_poisson() -> None:
    """Openings at 12 an hour, heat or not, come at that rate within four standard deviations."""
    opens = When(per_hour=12, lasts_s=(0.1, 0.2))
    scene = _scene(contacts={"video": Contact(opens=opens)})
    count = 0
    for seed in range(10):
        unit = SimulatedUnit(scene, seed)
        unit.power(0.0, True)
        count += sum(look == "no signal" for t, look in unit.looks.since(60.0) if t < 36_060.0)
    assert abs(count - 1200) < 4 * np.sqrt(1200)  # Poisson standard deviation


def test_moving_a_loose_plug_opens_it_and_a_firm_one_does_not() -> None:
    """A movement opens a contact of share 1 within its time, and leaves one of share 0 alone."""
    for share in (0.0, 1.0):
        contact = Contact(moved_cold=share, moved_hot=share, looks="black")
        unit = SimulatedUnit(_scene(contacts={"video": contact}), 9)
        unit.power(0.0, True)
        unit.move_plug("video", 100.0)
        seen = [t for t, look in unit.looks.since(100.0) if look == "black"]
        assert bool(seen) == (share == 1.0)
        assert all(100.0 <= t_s <= 110.0 for t_s in seen)


def test_the_same_movement_ends_the_same_whatever_moved_before_elsewhere() -> None:
    """Moving the plug of another port does not change what a movement does."""
    looks = []
    for others in (0, 5):
        both = {"moved_cold": 0.5, "moved_hot": 0.5}
        unit = SimulatedUnit(_scene(contacts={"video": both, "usb1": both}), 4)
        unit.power(0.0, True)
        for _ in range(others):
            unit.move_plug("usb1", 90.0)
        for number in range(8):
            unit.move_plug("video", 100.0 + 20 * number)
        looks.append(unit.looks.since(50.0))
    assert looks[0] == looks[1]


def test_a_restart_comes_in_its_range_and_shows_a_start() -> None:
    """The picture goes after 40 to 90 minutes and is back as after a start."""
    unit = SimulatedUnit(read_scene("restarts_at_night"), 11)
    unit.power(0.0, True)
    (_, _), (_, _), (began_s, _), *later = unit.looks.since(0.0)
    assert [look for _, look in later[:3]] == ["no signal", "black", "picture"]
    assert 2400 <= later[0][0] - began_s <= 5400
    assert 10 < later[2][0] - later[0][0] < 30


def test_a_hung_unit_stands_still_until_it_is_switched_off() -> None:
    """A hang shows a frozen picture, draws little, serves no data, and ends with power."""
    scene = _scene(interruption=Interruption(after_s=(100, 100), kind="hang"))
    unit = SimulatedUnit(scene, 11)
    unit.power(0.0, True)
    unit.power(900.0, False)
    unit.power(1000.0, True)
    assert unit.looks.at(800.0) == "frozen"
    assert unit.current_a(800.0) == scene.supply.stuck_a
    assert not unit.connected("usb1", 800.0)
    assert unit.looks.at(1050.0) == "picture"


def test_a_dead_fan_heats_by_its_factor_and_stays_dead() -> None:
    """After the fan's time with power is used up, heat tends to the factor, power cycles or not."""
    spot = {"s": {"rise_k": 30, "tau_s": 100}}
    room = {"differs_k": 0, "swing_k": 0, "mean_degc": 20}
    fan = {"dies_after_s": [1000, 1000], "factor": 2}
    unit = SimulatedUnit(_scene(spots=spot, room=room, fan=fan), 1)
    unit.power(0.0, True)
    unit.power(800.0, False)
    unit.power(5000.0, True)
    assert unit.temperature_degc("s", 5190.0) < 50.0
    assert unit.temperature_degc("s", 7000.0) == pytest.approx(80.0, abs=0.01)
    unit.power(8000.0, False)
    unit.power(20_000.0, True)
    assert unit.temperature_degc("s", 22_000.0) == pytest.approx(80.0, abs=0.01)


def test_the_link_falls_back_at_its_heat_and_recovers_by_a_power_cycle() -> None:
    """The service port is fast when cold, slow from the heat on, and fast after a restart."""
    unit = SimulatedUnit(read_scene("speed_falls_back"), 2)
    unit.power(0.0, True)
    fell_s = next(t_s for t_s in range(0, 20_000, 10) if unit.fallen(float(t_s)))
    assert unit.temperature_degc("heatsink", float(fell_s)) == pytest.approx(54.0, abs=0.5)
    unit.power(20_000.0, False)
    unit.power(30_000.0, True)
    assert not unit.fallen(30_100.0)


def test_who_waits_hears_of_power() -> None:
    """Switching sets the event that observers wait on, and a new one takes its place."""

    async def main() -> None:
        unit = SimulatedUnit(_scene(start=Start()), 1)
        waited = unit.changed
        unit.power(0.0, True)
        assert waited.is_set()
        assert not unit.changed.is_set()

    trio.run(main)
