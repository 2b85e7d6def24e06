"""The capture driver on files, and on cards that fail, hang and come back."""

import time
from contextlib import aclosing

import cv2
import numpy as np
import pytest
import trio
from faulty_clips import clip_path, jpeg, there_and_back
from patience import LIMIT_S
from plain_user import open_folder, plain_user
from pydantic import ValidationError

from soak.bench.capture.picture_reader import PictureReader
from soak.bench.capture.video_stream import Asked, CannotOpen, Frame, OpenCvStream, open_stream
from soak.bench.capture.words import FIRST_PAUSE_S
from soak.bench.drivers import opencv
from soak.bench.off_loop import LeapingOffLoop, ThreadOffLoop
from soak.bench.registry import Tools, drivers
from soak.clock import BootClock, LeapingClock, SoakClock
from soak.errors import BenchFault
from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.records import State

DRIVER = drivers()["capture", "opencv"]


async def nobody(question):
    raise AssertionError(question)


def wired(source, **settings):
    """Return settings for reading within this process, where a test can see the watcher."""
    given = {"in_process": True, **settings}
    return DRIVER.settings(driver="opencv", source=str(source), **given)


def tools_for(clock):
    return Tools(ThreadOffLoop(clock), nobody, clock)


def watched(capture_of, watcher, until=lambda state: state.state == "blind"):
    """Watch a capture until a state fulfils `until`; return the states."""
    clock, states = BootClock(), []

    async def main():
        capture = await capture_of(tools_for(clock))
        with trio.fail_after(LIMIT_S):
            async with aclosing(capture.watch(watcher)) as seen:
                async for one in seen:
                    if isinstance(one, State):
                        states.append(one)
                        if until(one):
                            break
        await capture.aclose()
        await capture.aclose()
        return capture

    capture = trio.run(main, clock=clock)
    return states, capture


def mjpeg_file(path, frames):
    writer = cv2.VideoWriter(
        str(path), cv2.VideoWriter.fourcc(*"MJPG"), 30000 / 1001, frames[0].shape[1::-1]
    )
    for frame in frames:
        writer.write(frame)
    writer.release()


def small_frames(number):
    scene = np.random.default_rng(5).integers(40, 220, (72, 128, 3), dtype=np.uint8)
    rolled = [np.roll(scene, 3 * step, axis=1) for step in range(20)]
    return there_and_back(rolled, number)


class HandClock(SoakClock):
    """Soak time moved by hand, so that a busy test machine makes no gaps."""

    def __init__(self):
        self.t_s = 0.0

    def start_clock(self):
        raise AssertionError("nothing runs on this clock")

    deadline_to_sleep_time = start_clock

    def now_s(self):
        return self.t_s

    def sleep(self, took_s):
        self.t_s += took_s


class Card:
    """A capture card as the driver sees one; what a read does is a list of words.

    `picture` delivers one, `fails` fails at once, `waits` blocks for 0.5 s and brings nothing,
    `hangs` blocks for far too long.
    """

    def __init__(self, reads, sleep=time.sleep):
        self.reads, self.closed, self.sleep = list(reads), False, sleep
        self.frames = [jpeg(frame) for frame in small_frames(20)]
        self.count = 0

    @property
    def identity(self):
        return {"source": "/dev/v4l/by-id/card", "stable": "/dev/v4l/by-id/card"}

    def read(self):
        word = self.reads.pop(0) if len(self.reads) > 1 else self.reads[0]
        self.count += 1
        if word == "fails":
            return None
        if word == "hangs":
            time.sleep(30)  # a daemon thread hangs; nobody waits for it
            return None
        if word == "waits":
            self.sleep(0.5)
            return None
        self.sleep(1 / 120)
        packet = np.frombuffer(self.frames[self.count % 20], np.uint8)
        return Frame("mjpeg", (128, 72), packet.reshape(1, -1))

    def close(self):
        self.closed = True


def cards_in_turn(monkeypatch, *cards):
    """Let each attempt to open a capture give the next card, or raise it."""
    left, attempts = list(cards), []

    def open_next(asked):
        attempts.append((time.monotonic(), asked.source))
        card = left.pop(0) if len(left) > 1 else left[0]
        if isinstance(card, Exception):
            raise card
        return card

    monkeypatch.setattr(opencv, "open_stream", open_next)
    return attempts


def test_a_real_clip_is_watched_to_its_end():
    """All 132 pictures are seen at their own times; then the capture is blind and says why."""
    watcher = PictureWatcher(WatcherSettings(moving=True))
    clip = clip_path("bigbuckbunny.mp4")
    states, capture = watched(
        lambda tools: DRIVER.open("capture", wired(clip, pace="fast"), tools), watcher
    )
    assert [state.state for state in states] == ["picture", "blind"]
    assert watcher.pictures == 132
    assert states[1].t_s - states[0].t_s >= 131 / 25 - 1e-6
    assert "ended" in states[1].detail["why"]
    assert capture.identity["size"] == [1280, 720]


def test_a_file_is_paced_by_its_own_times(tmp_path):
    """A second of clip takes a second, and a black frame is placed to the frame."""
    frames = small_frames(30)
    frames[20] = np.zeros_like(frames[0])
    mjpeg_file(tmp_path / "clip.avi", frames)
    began_s = time.monotonic()
    states, capture = watched(
        lambda tools: DRIVER.open("capture", wired(tmp_path / "clip.avi"), tools),
        PictureWatcher(WatcherSettings()),
    )
    assert time.monotonic() - began_s >= 29 * 1001 / 30000
    assert [state.state for state in states] == ["picture", "black", "picture", "blind"]
    assert states[1].t_s - states[0].t_s == pytest.approx(20 * 1001 / 30000, abs=1e-4)
    assert states[2].t_s - states[1].t_s == pytest.approx(1001 / 30000, abs=1e-4)
    assert capture.identity["fourcc"] == "MJPG"


def test_packets_of_an_mjpeg_file_come_undecoded(tmp_path):
    """What is handed to the watcher are the file's own JPEG packets."""
    mjpeg_file(tmp_path / "clip.avi", small_frames(3))
    stream = open_stream(Asked(str(tmp_path / "clip.avi")))
    frame = stream.read()
    stream.close()
    assert frame.form == "mjpeg"
    assert frame.data.tobytes() in (tmp_path / "clip.avi").read_bytes()


def test_a_file_can_be_played_again(tmp_path):
    """At the end it begins anew without a gap, so that no stall is seen."""
    mjpeg_file(tmp_path / "clip.avi", [*small_frames(14), np.zeros((72, 128, 3), np.uint8)])
    watcher, blacks = PictureWatcher(WatcherSettings()), []

    def third_black(state):
        blacks.append(state.state == "black")
        return sum(blacks) == 3

    states, _ = watched(
        lambda tools: DRIVER.open("capture", wired(tmp_path / "clip.avi", at_end="again"), tools),
        watcher,
        until=third_black,
    )
    assert {state.state for state in states} == {"picture", "black"}
    times = [state.t_s for state in states if state.state == "black"]
    assert np.diff(times) == pytest.approx(15 * 1001 / 30000, abs=1e-3)


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ("{}/missing.mp4", "there is no file"),
        ("{}/text.mp4", "is no video"),
        ("{}/empty.mp4", "is no video"),
        ("{}", "is a folder"),
        ("/dev/video977", "there is no camera"),
        ("977", "there is no camera"),
    ],
)
def test_what_cannot_be_opened_is_said_in_one_sentence(tmp_path, source, words):
    """The sentence names the source and what to do."""
    (tmp_path / "text.mp4").write_text("not a video\n" * 50)
    (tmp_path / "empty.mp4").touch()
    source = source.format(tmp_path)
    with pytest.raises(BenchFault, match=words) as fault:
        watched(
            lambda tools: DRIVER.open("capture", wired(source), tools),
            PictureWatcher(WatcherSettings()),
        )
    assert source in str(fault.value)
    assert "\n" not in str(fault.value)


def test_a_file_without_permission_is_said():
    """No permission is told apart from no video."""
    with open_folder() as folder:
        path = folder / "clip.avi"
        mjpeg_file(path, small_frames(2))
        path.chmod(0)
        with plain_user(), pytest.raises(CannotOpen, match="no permission"):
            open_stream(Asked(str(path)))


class Dating(PictureWatcher):
    """Keeps when it saw its last picture."""

    def look(self, picture):
        self.last_s = picture.t_s
        return super().look(picture)


def test_a_card_that_fails_at_once_is_opened_again_with_growing_pauses(monkeypatch):
    """A pulled card fails tens of thousands of times a second: reads and openings stay few."""
    broken = [Card(["fails"]) for _ in range(50)]
    first, watcher = Card(["picture"] * 20 + ["fails"]), Dating(WatcherSettings())
    attempts = cards_in_turn(monkeypatch, first, *broken)
    states = []

    async def main():
        capture = await DRIVER.open("capture", wired("0"), tools_for(clock))

        async def watch():
            async with aclosing(capture.watch(watcher)) as seen:
                async for one in seen:
                    if isinstance(one, State):
                        states.append(one)

        with trio.fail_after(LIMIT_S):
            async with trio.open_nursery() as nursery:
                nursery.start_soon(watch)
                while len(attempts) < 4:
                    await trio.sleep(0.02)
                nursery.cancel_scope.cancel()
        await capture.aclose()

    clock = BootClock()
    trio.run(main, clock=clock)
    assert [state.state for state in states] == ["picture", "blind"]
    assert "unplugged" in states[1].detail["why"]
    assert states[1].t_s == watcher.last_s  # from the last picture on, not from when it was noticed
    pauses = np.diff([at_s for at_s, _ in attempts])[1:]  # the first is the good card's own time
    assert (pauses >= FIRST_PAUSE_S * 2.0 ** np.arange(1, len(pauses) + 1)).all()
    assert sum(card.count for card in broken) <= 100
    assert first.closed


def test_a_card_that_comes_back_is_found_by_its_stable_name(monkeypatch):
    """The picture is there again, and it was opened by the name that stays."""
    gone = CannotOpen("there is no camera /dev/v4l/by-id/card; plug it in")
    cards = [Card(["picture"] * 20 + ["fails"]), gone, Card(["picture"])]
    attempts = cards_in_turn(monkeypatch, *cards)
    seen = []

    def second_picture(state):
        seen.append(state.state)
        return seen.count("picture") == 2

    states, _ = watched(
        lambda tools: DRIVER.open("capture", wired("0"), tools),
        PictureWatcher(WatcherSettings()),
        until=second_picture,
    )
    assert [state.state for state in states] == ["picture", "blind", "picture"]
    assert [source for _, source in attempts] == ["0", *["/dev/v4l/by-id/card"] * 2]


def test_a_card_that_hangs_is_left_and_opened_again(monkeypatch):
    """The hung read is not waited for; the next handle brings the picture back."""
    monkeypatch.setattr(opencv, "_MARGIN_S", 0.5)
    hung = Card(["picture"] * 10 + ["hangs"])
    cards_in_turn(monkeypatch, hung, Card(["picture"]))
    seen = []

    def second_picture(state):
        seen.append(state.state)
        return seen.count("picture") == 2

    states, _ = watched(
        lambda tools: DRIVER.open("capture", wired("0", read_limit_s=1.0), tools),
        PictureWatcher(WatcherSettings()),
        until=second_picture,
    )
    assert [state.state for state in states] == ["picture", "blind", "picture"]
    assert "hangs" in states[1].detail["why"]


def test_pictures_missed_by_a_busy_computer_are_a_hole():
    """Nobody read for half a second: that is blindness of the bench, no stall of the unit."""
    clock, watcher = HandClock(), PictureWatcher(WatcherSettings())
    card = Card(["picture"], clock.sleep)
    reader = PictureReader(
        card, watcher, clock, paced=False, again=None, is_file=False, silent_limit_s=60
    )
    assert reader.read_for(0.2) == ""
    clock.sleep(0.5)
    assert reader.read_for(0.2) == ""
    states = [one.state for one in reader.take_seen() if isinstance(one, State)]
    assert states == ["picture", "blind", "picture"]


def test_a_card_that_stops_is_a_stall_when_somebody_was_reading():
    """A read that waits and brings nothing is the unit's or the cable's silence."""
    clock, watcher = HandClock(), PictureWatcher(WatcherSettings())
    card = Card([*["picture"] * 20, "waits", "picture"], clock.sleep)
    reader = PictureReader(
        card, watcher, clock, paced=False, again=None, is_file=False, silent_limit_s=60
    )
    while len(card.reads) > 1:
        assert reader.read_for(0.2) == ""
    reader.read_for(0.1)
    states = [one.state for one in reader.take_seen() if isinstance(one, State)]
    assert states == ["picture", "stalled", "picture"]


def test_a_size_replaced_in_silence_is_reported():
    """Drivers give another size than asked without a word; the identity says so."""

    class Backend:
        def get(self, what):
            sides = {cv2.CAP_PROP_FRAME_WIDTH: 1280, cv2.CAP_PROP_FRAME_HEIGHT: 720}
            return float(sides.get(what, 30.0))

        def getBackendName(self):  # noqa: N802, OpenCV's name
            return "V4L2"

    asked = Asked("/dev/video0", (1920, 1080), 60.0)
    identity = OpenCvStream(Backend(), asked, "device", "/dev/video0").identity
    assert identity["size"] == [1280, 720]
    assert "asked for 1920 × 1080, got 1280 × 720" in identity["replaced"]
    assert "asked for 60 pictures/s, got 30" in identity["replaced"]


def test_nothing_is_read_while_the_clock_leaps():
    """A real card in a simulated soak is refused, not read in leaps."""
    clock = LeapingClock()

    async def main():
        tools = Tools(LeapingOffLoop(), nobody, clock)
        with pytest.raises(RuntimeError, match="leaps"):
            await DRIVER.open("capture", wired("0"), tools)

    trio.run(main, clock=clock)


@pytest.mark.parametrize(
    "settings", [{"size": [1920]}, {"size": [0, 1080]}, {"pace": "slow"}, {"rate_hz": 0}]
)
def test_impossible_settings_are_refused(settings):
    """A typing mistake is found before anything is opened."""
    with pytest.raises(ValidationError):
        wired("0", **settings)
