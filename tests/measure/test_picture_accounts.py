"""Frame accounts at the stream's own rate."""

from fractions import Fraction

import numpy as np
import pytest

from soak.measure.video.accounts import NOMINAL_HZ, FrameAccounts, nominal_rate
from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.roles import Picture


@pytest.mark.nights
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


# Pixel clock in kHz, pixels in a line and lines in a picture, blanking included, of CTA-861 modes
# as in Linux drivers/gpu/drm/drm_edid.c; those of the 1000/1001 members divided by 1.001.
TIMINGS = {
    "720x576p50 (VIC 17)": (27_000, 864, 625, "50"),
    "1280x720p60 (VIC 4)": (74_250, 1650, 750, "60"),
    "1920x1080p60 (VIC 16)": (148_500, 2200, 1125, "60"),
    "1920x1080p50 (VIC 31)": (148_500, 2640, 1125, "50"),
    "1920x1080p30 (VIC 34)": (74_250, 2200, 1125, "30"),
    "1920x1080p24 (VIC 32)": (74_250, 2750, 1125, "24"),
    "1920x1080p25 (VIC 33)": (74_250, 2640, 1125, "25"),
    "3840x2160p60 (VIC 97)": (594_000, 4400, 2250, "60"),
}


@pytest.mark.parametrize("mode", TIMINGS)
@pytest.mark.parametrize("slowed", [1, Fraction(1000, 1001)])
def test_the_rates_of_cta_861_are_told_apart(mode, slowed):
    """Clock / (line x lines) names the nominal rate, also 50 parts in a million beside it."""
    khz, line, lines, named = TIMINGS[mode]
    rate = Fraction(khz * 1000, line * lines) * slowed
    wanted = Fraction(named) * slowed
    if wanted in NOMINAL_HZ:
        for off in (1 - 5e-5, 1, 1 + 5e-5):
            assert nominal_rate(float(rate) * off) == wanted
    else:
        assert nominal_rate(float(rate)) is None  # 25 and 50 have no slowed member


def test_a_rate_that_is_none_of_them_has_no_name():
    """A card that gives 57 pictures a second gives no standard's."""
    assert nominal_rate(57.0) is None


@pytest.mark.parametrize(("missing", "rate"), [(0, "60000/1001"), (17, "60000/1001"), (5, "60")])
def test_ten_minutes_through_the_watcher_lose_what_is_missing(missing, rate):
    """35 964 pictures at 60000/1001 in 600 s (36 000 at 60), some taken out: just those are lost.

    600 x 60000/1001 = 35 964.04, computed.
    """
    number = int(600 * Fraction(rate))
    assert number == {"60000/1001": 35_964, "60": 36_000}[rate]
    watcher = PictureWatcher(WatcherSettings())
    pictures = [bytes([level]) * (16 * 16 * 3) for level in (90, 160)]
    gone = set(np.linspace(500, number - 500, missing).astype(int).tolist()) if missing else set()
    for at in range(number):
        if at not in gone:
            t_s = float(at / Fraction(rate))
            watcher.look(Picture(t_s, None, "bgr", (16, 16), memoryview(pictures[at % 3 == 0])))
    assert watcher.accounts.lost == missing
    assert watcher.pictures == number - missing
    assert str(nominal_rate(1 / watcher.accounts.period_s)) == rate
    assert watcher.accounts.repeated == pytest.approx(number / 3, abs=missing + 1)
