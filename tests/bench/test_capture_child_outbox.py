"""The child's queue to its parent, and pictures lost by a host that was late."""

import os
import threading

import numpy as np
from pretend_cards import Counting

from soak.bench.capture import watch
from soak.bench.capture.picture_reader import PictureReader
from soak.bench.capture.video_stream import Frame
from soak.bench.capture.watch import Outbox
from soak.bench.capture.words import Word
from soak.bench.child_end import receive
from soak.clock import SoakClock
from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.records import KeptFile, Reading, State


def told(number, size_bytes=100_000):
    """Make a state with a frame of evidence and a reading."""
    shown = KeptFile(number, f"{number}.jpg", "image/jpeg", "", "capture")
    return [
        State(number, "capture", "black" if number % 2 else "picture"),
        (shown, bytes(size_bytes)),
        Reading(number, "capture.count", number),
    ]


def words_until(pipe, last):
    """Read words until the state of number `last` has come."""
    words = []
    while not words or not any(
        isinstance(one, State) and one.t_s == last for one in words[-1].seen
    ):
        words.append(receive(pipe))
    return words


def test_a_parent_that_does_not_read_costs_evidence_but_no_state():
    """Hundreds of frames do not fit: those that do not are dropped and counted, states are not."""
    reads, writes = os.pipe()
    with os.fdopen(reads, "rb") as pipe:
        outbox = Outbox(os.fdopen(writes, "wb"))
        for number in range(400):
            outbox.put(Word("seen", told(number), float(number)))
        words = words_until(pipe, 399)
    seen = [one for word in words for one in word.seen]
    assert [one.t_s for one in seen if isinstance(one, State)] == list(range(400))
    frames = [one for one in seen if isinstance(one, tuple)]
    held = watch.MOST_EVIDENCE_BYTES // 100_000
    assert 0 < len(frames) <= held + 1
    assert len(frames) + outbox.dropped == 400
    assert words[-1].dropped == outbox.dropped
    assert sum(isinstance(one, Reading) for one in seen) == 400


def test_heartbeats_nobody_reads_melt_into_one():
    """An hour of them is one word with the latest time."""
    reads, writes = os.pipe()
    with os.fdopen(reads, "rb") as pipe:
        outbox = Outbox(os.fdopen(writes, "wb"))
        outbox.put(Word("seen", [*told(0, 1_000_000)], 0.0))  # fills the pipe: the rest waits
        for beat in range(1, 3601):
            outbox.put(Word("seen", [], float(beat)))
        words = [receive(pipe)]
        while words[-1].last_s < 3600:
            words.append(receive(pipe))
    assert len(words) <= 3


def test_too_many_waiting_states_stop_the_reading_instead_of_growing(monkeypatch):
    """States are kept whatever happens, so who makes them has to wait; then all come."""
    monkeypatch.setattr(watch, "MOST_STATES", 50)
    reads, writes = os.pipe()
    with os.fdopen(reads, "rb") as pipe:
        outbox = Outbox(os.fdopen(writes, "wb"))
        put = []

        def flicker():
            outbox.put(Word("seen", told(0, 1_000_000), 0.0))
            for number in range(1, 200):
                outbox.put(Word("seen", [told(number)[0]], float(number)))
                put.append(number)

        thread = threading.Thread(target=flicker)
        thread.start()
        thread.join(0.5)
        assert thread.is_alive()
        assert len(put) < 60
        words = words_until(pipe, 199)
        thread.join(10)
    times = [one.t_s for word in words for one in word.seen if isinstance(one, State)]
    assert times == list(range(200))


def test_a_parent_that_is_gone_is_noticed():
    """Writing to nobody ends the queue, and who puts into it does not hang."""
    reads, writes = os.pipe()
    os.close(reads)
    outbox = Outbox(os.fdopen(writes, "wb"))
    outbox.put(Word("seen", told(0)))
    outbox.flush(10.0)
    assert outbox.broken
    outbox.put(Word("seen", told(1)))


class HandClock(SoakClock):
    """Soak time moved by hand."""

    t_s = 0.0

    def start_clock(self):
        raise AssertionError("nothing runs on this clock")

    deadline_to_sleep_time = start_clock

    def now_s(self):
        return self.t_s


class StampingCard:
    """A card at 50 pictures a second whose driver stamps them and stores the four oldest.

    `silent` pictures are never made: the unit's stall.
    """

    identity = None
    PERIOD_S, STORE, USUAL_AGE_S = 0.02, 4, 0.005

    def __init__(self, clock, silent=()):
        self.clock, self.silent = clock, set(silent)
        self.next_number, self.lost_from, self.woke_s = 0, None, 0.0
        scene = np.random.default_rng(5).integers(40, 220, (48, 64, 3), dtype=np.uint8)
        self.frames = [np.roll(scene, 3 * step, axis=1) for step in range(10)]

    def ready_s(self, number):
        return number * self.PERIOD_S + self.USUAL_AGE_S

    def read(self):
        number = self.next_number
        while number in self.silent:
            number += 1
        self.clock.t_s = max(self.clock.t_s, self.ready_s(number))
        self.next_number = number + 1
        if self.lost_from is not None and number + 1 == self.lost_from:
            self.next_number = int(self.woke_s / self.PERIOD_S) + 1
            self.lost_from = None
        age_s = self.clock.t_s - number * self.PERIOD_S
        return Frame("bgr", (64, 48), self.frames[number % 10], age_s=age_s)

    def host_sleeps(self, for_s):
        """Nobody reads for a while: four pictures are stored, the rest is lost."""
        self.lost_from = self.next_number + self.STORE
        self.clock.t_s += for_s
        self.woke_s = self.clock.t_s

    def close(self):
        pass


def watched(card, clock, host_sleeps_s=0.0):
    watcher = PictureWatcher(WatcherSettings())
    reader = PictureReader(
        card, watcher, clock, paced=False, again=None, is_file=False, silent_limit_s=60
    )
    reader.read_for(2.0)
    if host_sleeps_s:
        card.host_sleeps(host_sleeps_s)
    reader.read_for(2.0)
    return [one for one in reader.take_seen() if isinstance(one, State)]


def test_pictures_lost_after_those_in_store_are_the_hosts_loss():
    """The hole behind four stored pictures that were fetched late is blindness, no stall."""
    clock = HandClock()
    states = watched(StampingCard(clock), clock, host_sleeps_s=0.6)
    assert [one.state for one in states] == ["picture", "blind", "picture"]
    assert "busy" in states[1].detail["why"]
    assert 0.4 < states[2].t_s - states[1].t_s < 0.6


def test_the_same_hole_without_a_late_reader_is_the_units():
    """Pictures that never came to a reader that was there in time are a stall."""
    clock = HandClock()
    states = watched(StampingCard(clock, silent=range(120, 150)), clock)
    assert [one.state for one in states] == ["picture", "stalled", "picture"]


def test_a_watcher_without_a_word_for_blindness_is_let_be():
    """A watcher that wants to hear of no blindness is only handed the pictures."""
    clock = HandClock()
    card, watcher = StampingCard(clock), Counting()
    reader = PictureReader(
        card, watcher, clock, paced=False, again=None, is_file=False, silent_limit_s=60
    )
    reader.read_for(1.0)
    card.host_sleeps(0.6)
    reader.read_for(1.0)
    assert "blind" not in [one.state for one in reader.take_seen() if isinstance(one, State)]
