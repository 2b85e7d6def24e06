"""Frame accounts at the stream's own rate."""

import numpy as np
import pytest

from soak.measure.accounts import FrameAccounts


@pytest.mark.parametrize("period_s", [1001 / 60000, 1 / 60, 1 / 50, 1001 / 30000])
def test_a_night_at_a_true_rate_loses_nothing(period_s):
    """Eight hours with jitter of 2 ms: nothing lost; counted at 60/s it would be 1726 off.

    60000/1001 against 60 in 28 800 s: 28 800 x (60 - 60000/1001) = 1726.3, computed.
    """
    accounts = FrameAccounts()
    jitter_s = np.random.default_rng(5).normal(0, 0.002, int(28_800 / period_s))
    for number, off_s in enumerate(jitter_s):
        accounts.see(number * period_s + float(np.clip(off_s, -0.006, 0.006)), False)
    assert accounts.lost == 0
    assert accounts.period_s == pytest.approx(period_s, rel=2e-3)


def test_every_missing_picture_is_counted():
    """Of 60 000 pictures every 500th is dropped, and once two in a row."""
    accounts = FrameAccounts()
    dropped = {*range(499, 60_000, 500), 30_001, 30_002}
    for number in range(60_000):
        if number not in dropped:
            accounts.see(number / 60, False)
    assert accounts.lost == len(dropped) - 1  # the very last one is followed by nothing


def test_exact_repeats_are_counted():
    """As told, one by one."""
    accounts = FrameAccounts()
    for number in range(600):
        accounts.see(number / 60, number % 3 == 1)
    assert accounts.repeated == 200
