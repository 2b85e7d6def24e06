"""The simulated hand: it moves the plug as a check cues it, and nothing else does."""

import pytest

from soak.records import Mark
from soak.sim.hand import hand_of
from soak.sim.scene import read_scene
from soak.sim.unit import SimulatedUnit

MOVEMENTS = ("up", "down", "left", "right", "in", "out", "twist")
SCENE = "video_opens_to_the_left_when_hot"
HOT_S, COLD_S = 7200.0, 120.0


def cue(t_s: float, movement: str, port: str = "video") -> Mark:
    """Return the mark by which a check cues a movement."""
    told = {"port": port, "movement": movement, "repeat": 1, "cue": "", "lasts_s": 10.0}
    return Mark(t_s, "movement begins", "wiggle", "wiggle", told)


def opened(seed: int, from_s: float, port: str = "video") -> set[str]:
    """Return the movements that broke the picture, made 20 s apart from a time on."""
    unit = SimulatedUnit(read_scene(SCENE), seed)
    unit.power(0.0, True)
    heed, found = hand_of(unit), set()
    for number, movement in enumerate((*MOVEMENTS, "rest")):
        at_s = from_s + 20.0 * number
        heed(cue(at_s, movement, port))
        if unit.looks.changes_s(at_s, at_s + 19.0):
            found.add(movement)
    return found


@pytest.mark.parametrize("seed", range(10))
def test_the_joint_opens_to_the_left_alone_and_only_when_hot(seed):
    """Each seed tells the same story: hot to the left, cold never, at rest never."""
    assert opened(seed, HOT_S) == {"left"}
    assert opened(seed, COLD_S) == set()


def test_a_plug_elsewhere_opens_nothing():
    """Moving the plug of another port leaves this one alone."""
    assert opened(3, HOT_S, "usb1") == set()


def test_the_night_of_a_unit_that_nobody_moves_is_quiet():
    """What opens only under a hand cannot be found without one."""
    unit = SimulatedUnit(read_scene(SCENE), 3)
    unit.power(0.0, True)
    assert unit.looks.changes_s(60.0, 8 * 3600.0) == []
