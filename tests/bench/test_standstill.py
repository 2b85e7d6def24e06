"""A computer that stood still is told from a card that stopped."""

import numpy as np
import pytest

from soak.bench.capture.picture_reader import PictureReader
from soak.bench.capture.video_stream import Frame
from soak.bench.standstill import LATE_S, WAKES_EVERY_S, Standstills
from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.records import State

PERIOD_S = 1 / 30


class Hands:
    """A clock that is set by hand."""

    leaping = False

    def __init__(self):
        self.at_s = 10.0

    def now_s(self):
        return self.at_s


def woken(clock, stands):
    """Wake on time for 3 s; between the times of each span in `stands` nothing wakes."""
    watched = Standstills(clock.now_s)
    while clock.at_s < 13.0:
        clock.at_s += WAKES_EVERY_S
        if not any(begin < clock.at_s < end for begin, end in stands):
            watched.wake()
    return watched


def test_a_computer_that_wakes_on_time_never_stood():
    """Late by less than the limit is busy, not still."""
    clock = Hands()
    watched = woken(clock, [(11.0, 11.0 + LATE_S - WAKES_EVERY_S)])
    assert watched.stood_s(0.0, 100.0) == 0.0


def test_a_standstill_is_known_with_its_length_and_only_where_it_lies():
    """Nothing woke from 11.0 to 12.0."""
    watched = woken(Hands(), [(11.0, 12.0)])
    assert watched.stood_s(0.0, 100.0) == pytest.approx(1.0, abs=2 * WAKES_EVERY_S)
    assert watched.stood_s(11.5, 100.0) == pytest.approx(0.5, abs=2 * WAKES_EVERY_S)
    assert watched.stood_s(12.2, 100.0) == 0.0


def test_one_that_nobody_has_noticed_yet_counts_too():
    """The reader may run before the thread that wakes."""
    clock = Hands()
    watched = woken(clock, [])
    clock.at_s += 0.8
    assert watched.stood_s(0.0, 100.0) == pytest.approx(0.8, abs=WAKES_EVERY_S)


@pytest.mark.parametrize(("host_stands", "said"), [(True, "blind"), (False, "stalled")])
def test_a_gap_in_which_the_computer_stood_is_the_benchs(host_stands, said):
    """The same second without a picture: blind where nothing ran, a stall where all else did."""
    clock, seen = Hands(), []
    packet = np.frombuffer(bytes(range(48)) * 48, np.uint8).reshape(16, 48, 3)

    class Card:
        count = 0

        def read(self):
            self.count += 1
            clock.at_s += 1.0 if self.count == 40 else PERIOD_S
            return Frame("bgr", (48, 16), np.roll(packet, self.count, axis=1), age_s=0.0)

    def stood_s(from_s, to_s):
        return 0.9 if host_stands and to_s - from_s > 0.5 else 0.0

    watcher = PictureWatcher(WatcherSettings())
    reader = PictureReader(
        Card(),
        watcher,
        clock,
        paced=False,
        again=None,
        is_file=False,
        silent_limit_s=60,
        stood_s=stood_s,
    )
    reader.read_for(3.0)
    seen = [one for one in reader.take_seen() if isinstance(one, State)]
    assert [one.state for one in seen if one.source == "capture"] == ["picture", said, "picture"]


@pytest.mark.parametrize("rate_hz", [6, 10, 15])
@pytest.mark.parametrize("stamped", [True, False])
@pytest.mark.parametrize(
    ("loses", "said"), [(0, ["picture"]), (4, ["picture", "blind", "picture"])]
)
def test_a_slow_look_is_late_only_where_a_picture_was_lost(rate_hz, stamped, loses, said):
    """Most of a slow stream's period is spent looking: none is lost, until it looks too long."""
    clock, period_s = Hands(), 1 / rate_hz
    noise = np.frombuffer(bytes(range(48)) * 48, np.uint8).reshape(16, 48, 3)

    class Card:
        """Keeps one picture for whoever comes late."""

        due = 0

        def read(self):
            now = (clock.at_s - 10.0) / period_s
            self.due = max(self.due + 1, int(now))
            at_s = 10.0 + self.due * period_s
            clock.at_s = max(clock.at_s, at_s)
            age_s = clock.at_s - at_s if stamped else None
            return Frame("bgr", (48, 16), np.roll(noise, self.due, axis=1), age_s=age_s)

    class Looks(PictureWatcher):
        def look(self, picture):
            clock.at_s += (loses + 0.5 if loses and self.pictures == 40 else 0.9) * period_s
            return super().look(picture)

    reader = PictureReader(
        Card(), Looks(WatcherSettings()), clock, paced=False, again=None, is_file=False,
        silent_limit_s=60,
    )  # fmt: skip
    reader.read_for(12.0)
    seen = [one for one in reader.take_seen() if isinstance(one, State)]
    assert [one.state for one in seen if one.source == "capture"] == said
    assert all(one.detail["late"] for one in seen if one.state == "blind")
