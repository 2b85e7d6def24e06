"""Whether a load drew anything: by a meter at the port, else by the voltage that falls."""

import numpy as np
import pytest
from made_up_soak import FIXTURE, STARTS_S, clean_night

from soak.derive.course import course_of
from soak.derive.electric.load_seen import load_unseen

LOADED = [(STARTS_S + 100.0, STARTS_S + 160.0), (STARTS_S + 200.0, STARTS_S + 260.0)]


def unseen(falls_v=None, drawn_a=None, port="usb1"):
    """Say what is made of a fall at one port, and of a current at the loaded one, each time."""
    probes = dict(FIXTURE["probe"])
    soak = clean_night()
    t_s = np.arange(STARTS_S, STARTS_S + 400.0, 1.0)
    noise = np.random.default_rng(1).normal(0, 0.002, len(t_s))
    for name, unit, without, values in (("v", "V", 5.05, falls_v), ("a", "A", 0.0, drawn_a)):
        if values is None:
            continue
        probes[name] = {"unit": unit, "at_port": port if unit == "V" else "usb1", "spot": ""}
        read = np.full(len(t_s), without) + noise
        for (begin_s, end_s), change in zip(LOADED, values, strict=True):
            read[(t_s >= begin_s) & (t_s < end_s)] += change if unit == "A" else -change
        soak.readings[f"probe.{name}"] = (t_s, read)
    load = {"driver": "simulated", "at_port": "usb1", "current_a": 0.5}
    soak = soak.with_header(fixture={**FIXTURE, "probe": probes, "load": load})
    return str(load_unseen(course_of(soak), "hot run", "usb1", LOADED, 1.0))


@pytest.mark.parametrize(
    ("falls_v", "seen"),
    [((0.1, 0.1), True), ((0.015, 0.012), True), ((0.1, 0.0), False), ((0.0, 0.0), False)],
)
def test_a_voltage_that_falls_each_time_shows_a_load(falls_v, seen):
    """Once is not enough: the relay may have stuck open since."""
    assert (unseen(falls_v) == "") == seen


def test_a_neighbours_voltage_shows_it_too():
    """Both hang on one supply."""
    assert unseen((0.05, 0.05), port="usb2") == ""


@pytest.mark.parametrize(
    ("drawn_a", "seen"), [((0.5, 0.49), True), ((0.5, 0.2), False), ((0.0, 0.0), False)]
)
def test_a_meter_of_the_current_decides(drawn_a, seen):
    """Whatever the voltage does: half of the current is half of the load."""
    assert (unseen((0.1, 0.1), drawn_a) == "") == seen
    assert (unseen((0.0, 0.0), drawn_a) == "") == seen


def test_without_anything_at_a_port_nothing_shows_it():
    """Then the port is not measured either."""
    assert "nothing shows that it drew anything" in unseen()
