"""Timelines, the first event, and the smallest break that the bench sees."""

import numpy as np
from made_up_soak import STARTS_S, clean_night, demand

from soak.judge.explain.timeline import first_event

HOT = STARTS_S + 3600.0


def test_first_event_is_the_earliest_of_any_kind():
    """A limit passed before a dropout comes first; a soak without either has no event."""
    soak = clean_night().demanding(demand("at most", "probe.outside", 45.0, unit="degC"))
    soak.spell("capture", HOT, HOT + 30, "no signal")
    soak_id, event = first_event([clean_night("S0"), soak])
    assert (soak_id, event.kind) == ("S1", "beyond limit")
    assert "45.0 °C" in event.text
    # 40 + 10 (1 - exp(-t/600)) passes 45 after 600 ln 2 = 415.9 s; a reading comes every 10 s.
    assert event.from_s == STARTS_S + 420
    assert first_event([clean_night("S0")]) is None


def test_slow_transfer_is_an_event_from_when_it_became_slow():
    """Half of the speed gone an hour into the run: the event lies there, not at the end."""
    soak = clean_night().demanding(
        demand("speed kept", "transfer.stick.speed", 0.6, check="transfer")
    )
    t_s, value = soak.readings["transfer.stick.speed"]
    soak.readings["transfer.stick.speed"] = (t_s, np.where(t_s > HOT, value / 2, value))
    _, event = first_event([soak])
    assert event.kind == "slow transfer"
    # A median over five readings, one every 10 s, turns when three of them are slow.
    assert abs(event.from_s - HOT) <= 50


def test_stall_is_an_event():
    """The first chunk over the limit is pointed at."""
    soak = clean_night().demanding(
        demand("no stall", "transfer.stick.chunk_s", 5.0, unit="s", check="transfer")
    )
    soak.readings["transfer.stick.chunk_s"][1][500] = 9.0
    _, event = first_event([soak])
    assert "took 9 s" in event.text
