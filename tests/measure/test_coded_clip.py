"""A coded clip: what a picture says survives the way to the capture, and nothing is misread."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soak.measure.video.coded_picture import Coded, crc16, draw, read
from soak.measure.video.coded_run import CodedRun
from soak.measure.video.coded_watcher import Both, CodedWatcher
from soak.roles import Picture

SIZE = (640, 360)


def says(picture) -> tuple[int, int] | None:
    found = read(np.ascontiguousarray(picture))
    return None if found is None else (found.number, found.clip)


def test_the_error_check_is_the_published_one():
    """CRC-16/XMODEM (ITU-T V.41 polynomial): the check value of "123456789" is 0x31C3."""
    assert crc16(b"123456789") == 0x31C3


@settings(max_examples=40)
@given(st.integers(0, (1 << 24) - 1), st.integers(0, 255))
def test_every_number_is_read_as_it_was_drawn(number, clip):
    """Any frame number of any clip comes back, colours without error."""
    assert says(draw(number, clip, SIZE, 1 << 24)) == (number, clip)


WAYS = {
    "half size": lambda p: cv2.resize(p, (320, 180), interpolation=cv2.INTER_AREA),
    "twice the size": lambda p: cv2.resize(p, (1280, 720)),
    "squeezed": lambda p: cv2.resize(p, (720, 576)),
    "overscan of 10 %": lambda p: p[18:-18, 32:-32],
    "limited range": lambda p: (16 + p.astype(float) * 219 / 255).astype(np.uint8),
    "stretched range": lambda p: np.clip((p.astype(float) - 16) * 255 / 219, 0, 255).astype(
        np.uint8
    ),
    "JPEG quality 20": lambda p: cv2.imdecode(
        cv2.imencode(".jpg", p, [cv2.IMWRITE_JPEG_QUALITY, 20])[1], cv2.IMREAD_COLOR
    ),
    "noise of sigma 20": lambda p: np.clip(
        p + np.random.default_rng(1).normal(0, 20, p.shape), 0, 255
    ).astype(np.uint8),
    "blur": lambda p: cv2.GaussianBlur(p, (9, 9), 3),
    "dim": lambda p: (p * 0.5).astype(np.uint8),
}


@pytest.mark.parametrize("way", WAYS)
def test_a_picture_survives_the_way_to_the_capture(way):
    """Scaling, overscan, colour range, re-compression, noise and blur leave the number readable."""
    assert says(WAYS[way](draw(98_765, 42, SIZE, 200_000))) == (98_765, 42)


@pytest.mark.parametrize("lane", [0, 1, 2])
def test_a_lost_colour_lane_is_seen_in_its_error(lane):
    """Blue, green or red at half strength shows as an error of that lane; else errors are small."""
    whole = read(draw(7, 1, SIZE, 100))
    dim = draw(7, 1, SIZE, 100)
    dim[:, :, lane] //= 2
    found = read(dim)
    assert max(whole.colour_error) < 0.02
    assert found is not None
    assert found.colour_error[lane] > 0.2


def test_other_pictures_say_nothing():
    """Black, white, noise, a chessboard and a real photograph are no coded pictures."""
    from skimage import data

    chance = np.random.default_rng(5)
    others = [
        np.zeros((360, 640, 3), np.uint8),
        np.full((360, 640, 3), 255, np.uint8),
        chance.integers(0, 256, (360, 640, 3), np.uint8),
        np.kron(np.indices((9, 16)).sum(0) % 2, np.ones((40, 40)))[..., None]
        .repeat(3, 2)
        .astype("u1")
        * 255,
        np.ascontiguousarray(data.coffee()),
    ]
    assert [says(picture) for picture in others] == [None] * len(others)


@settings(max_examples=60)
@given(st.integers(0, 2**32 - 1))
def test_a_damaged_picture_is_unread_rather_than_misread(seed):
    """With a random block painted over, the number is the true one or none at all."""
    chance = np.random.default_rng(seed)
    picture = draw(4_321, 9, SIZE, 10_000)
    left, top = chance.integers(0, 500), chance.integers(0, 280)
    picture[top : top + 80, left : left + 140] = chance.integers(0, 256, 3)
    assert says(picture) in ((4_321, 9), None)


def run_of(numbers, frames=100):
    run = CodedRun(frames)
    for number in numbers:
        run.take(None if number is None else Coded(number, 0, (0.0, 0.0, 0.0)))
    return run.told()


def shown_twice(numbers):
    return [number for number in numbers for _ in range(2)]


def test_a_clip_that_plays_round_and_round_loses_nothing():
    """Three rounds at two pictures a frame: all came, nothing lost, two new beginnings."""
    told = run_of(shown_twice([*range(100)] * 3))
    assert (told.came, told.lost, told.stuttered, told.rounds) == (300, 0, 0, 2)
    assert told.longest_run == 300


def test_lost_stuck_and_swapped_frames_are_counted_each_by_its_kind():
    """Two missing, one stuck, one out of order: each is counted once, as what it is."""
    order = [*range(10), *range(12, 40), *[40] * 5, *range(41, 60), 58, *range(59, 80)]
    told = run_of(shown_twice(order))
    assert told.lost == 2
    assert told.stuttered == 1
    assert told.out_of_order == 1


def test_after_forgetting_nothing_between_counts_as_lost():
    """A restart of the clip after a break is no loss."""
    run = CodedRun(1000)
    for number in (5, 6, 7):
        run.take(Coded(number, 0, (0.0, 0.0, 0.0)))
    run.forget()
    run.take(Coded(500, 0, (0.0, 0.0, 0.0)))
    assert run.told().lost == 0
    assert run.told().came == 4


def test_the_watcher_says_once_a_second_what_came():
    """Ninety pictures at 30 a second with two frames cut: sums of the readings are exact."""
    watcher = Both(CodedWatcher(1000), CodedWatcher(1000))
    readings = []
    for at, number in enumerate([*range(45), *range(47, 92)]):
        picture = draw(number, 0, (320, 180), 1000)
        found = Picture(at / 30, at, "bgr", (320, 180), memoryview(picture.tobytes()))
        readings += watcher.look(found)
    readings += watcher.look(Picture(5.0, 99, "bgr", (320, 180), memoryview(picture.tobytes())))
    assert sum(r.value for r in readings if r.quantity == "clip.lost") == 2 * 2
    assert sum(r.value for r in readings if r.quantity == "clip.came") == 2 * 90


def looked_at(numbers, times_s, colour=lambda picture: picture):
    """Return the sums of what the watcher says of coded pictures at those times."""
    watcher, sums = CodedWatcher(1000), {}
    for at, (number, t_s) in enumerate(zip(numbers, times_s, strict=True)):
        picture = colour(draw(number, 0, (320, 180), 1000))
        found = Picture(t_s, at, "bgr", (320, 180), memoryview(picture.tobytes()))
        for reading in watcher.look(found):
            sums.setdefault(reading.quantity, []).append(reading.value)
    return sums


def test_frames_that_the_capture_itself_left_out_are_not_the_units():
    """Six pictures of a card are missing by their times: six frames are unseen, none is lost."""
    numbers = [at for at in range(200) if not 70 <= at < 76]
    sums = looked_at(numbers, [number / 30 for number in numbers])
    assert sum(sums["clip.lost"]) == 0
    assert sum(sums["clip.unseen"]) == 6


def test_frames_that_the_unit_left_out_are_lost_in_a_steady_stream():
    """The same frames are missing and the card has missed nothing: the unit has lost them."""
    numbers = [at for at in range(200) if not 70 <= at < 76]
    sums = looked_at(numbers, [at / 30 for at in range(len(numbers))])
    assert sum(sums["clip.lost"]) == 6
    assert sum(sums["clip.unseen"]) == 0


def test_a_colour_that_came_back_is_bad_only_while_it_was():
    """The error is told for each second, each lane by itself."""
    seen = []

    def colour(picture):
        seen.append(picture)
        if 60 <= len(seen) < 90:
            picture[:, :, 2] //= 4
        return picture

    sums = looked_at(range(180), [at / 30 for at in range(180)], colour)
    bad = [error > 0.3 for error in sums["clip.colour_error.red"]]
    assert sum(bad) in (1, 2)
    assert not bad[0]
    assert not bad[-1]
    assert max(sums["clip.colour_error.blue"]) < 0.05
    assert sums["clip.longest_run"][-1] >= 150
