"""Judging a night of many readings must not be felt."""

import time

from made_up_soak import HOT_S, STARTS_S, clean_night, demand

from soak.judge.grade import judge


def test_a_million_readings_are_judged_within_two_seconds():
    """Six quantities together a million readings: the arrays are walked by numpy, not by Python."""
    soak = clean_night(every_s=(STARTS_S + HOT_S) * 6 / 1e6)
    soak = soak.demanding(
        demand("at most", "probe.outside", 60.0, unit="degC", check="spots"),
        demand(
            "rise at most",
            "probe.outside",
            35.0,
            unit="K",
            check="spots",
            params={"ambient": "probe.ambient"},
        ),
        demand("steady", "probe.outside", 3.0, unit="K", check="spots"),
        demand("no wrong data", "transfer.stick.damaged", check="transfer"),
        demand("no stall", "transfer.stick.chunk_s", 5.0, check="transfer"),
        demand("speed kept", "transfer.stick.speed", 0.6, check="transfer"),
        demand("failure free", "", 7200.0),
    )
    assert sum(len(t_s) for t_s, _ in soak.readings.values()) > 0.9e6
    begun = time.process_time()
    judgement = judge([soak])
    assert judgement.ready
    assert time.process_time() - begun < 2.0
