"""Standing still and barely moving, told apart by the noise of the stream itself."""

import cv2
import numpy as np
import pytest
from faulty_clips import as_packets, as_yuyv, clip_frames, noisy

from soak.measure.video.lookthrough import look_over
from soak.measure.video.picture import Held
from soak.measure.video.stillness import RunNoise, change_of, most_noise, surely_moved
from soak.measure.video.watcher import WatcherSettings

PERIOD_S = 1 / 60
MOVING = WatcherSettings(moving=True)


def faults(pictures):
    look = look_over(pictures, MOVING, PERIOD_S)
    return [(span.kind, span.first, span.last) for span in look.spans if span.kind != "picture"]


def dim_menu(ticks_at, number):
    """Return a dim still menu in which one small clock counts up at the given frames."""
    menu = np.full((272, 480, 3), 28, np.uint8)
    for line in range(6):
        cv2.putText(menu, f"Entry {line}", (40, 40 + 35 * line), 0, 0.8, (75, 75, 75), 2)
    for at in range(number):
        frame = menu.copy()
        clock = f"00:{sum(at >= tick for tick in ticks_at):02d}"
        cv2.putText(frame, clock, (360, 40), 0, 0.8, (85, 85, 85), 2)
        yield frame


@pytest.mark.parametrize("form", [as_packets, as_yuyv])
def test_a_dim_menu_with_a_clock_under_noise_is_not_frozen(form):
    """A tick changes one digit in dim grey under noise of sigma 3; it ends the run all the same."""
    frames = noisy(dim_menu(range(10, 900, 60), 900), 3.0)
    assert faults(form(frames, PERIOD_S)) == []


def growing(number):
    """Return a still that grows by 1 in 1000 each frame: nearly nothing from one to the next."""
    scene = cv2.resize(clip_frames("bikes.mp4", rows=136)[0], (960, 540))
    for at in range(number):
        turn = cv2.getRotationMatrix2D((480, 270), 0, 1 + at / 1000)
        yield cv2.warpAffine(scene, turn, (960, 540))


@pytest.mark.parametrize("sigma", [0.0, 1.0])
def test_a_freeze_in_slow_motion_is_found_and_the_motion_is_none(sigma):
    """Half a second of it is a freeze; under noise a frame's motion or two is hidden in it."""
    frames = list(growing(260))
    frames[150:185] = [frames[149]] * 35
    ((kind, first, last),) = faults(as_packets(noisy(frames, sigma), PERIOD_S))
    assert (kind, last) == ("frozen", 184)
    assert 150 - 2 * sigma <= first <= 150


def test_noise_of_a_run_explains_noise_and_no_motion():
    """Normal noise of sigma 2 differs by 2 sigma / sqrt(pi) on average; a nudge of a few is seen.

    The mean of |x - y| of two normal values with the same mean is 2 sigma / sqrt(pi).
    """
    rng = np.random.default_rng(1)
    pictures = [
        np.clip(rng.normal(100, 2, (135, 240)), 0, 255).round().astype(np.uint8) for _ in range(9)
    ]
    noise = RunNoise()
    for one, other in zip(pictures[1:-1], pictures, strict=False):
        noise.add(change_of(one, other))
    assert float(noise.usual.mean()) == pytest.approx(4 / np.sqrt(np.pi), rel=0.05)
    assert noise.explains(change_of(pictures[-1], pictures[0]))
    nudged = pictures[-1].copy()
    nudged[60:68, 100:108] += 6
    assert not noise.explains(change_of(nudged, pictures[0]))


def test_what_may_be_noise_is_less_where_pictures_are_averaged():
    """A mean of 8 x 8 pixels holds less noise than a pixel does; raw forms are sampled."""
    assert most_noise("yuyv", 1080) == most_noise("bgr", 1080) == pytest.approx(6.8, abs=0.1)
    assert most_noise("mjpeg", 1080) == pytest.approx(6.8 / 4, abs=0.1)


def test_what_surely_moved_is_never_noise_by_the_full_look():
    """Noise, brighter boxes of every size and place, pictures of an odd size; all answers come.

    The means of cells are OpenCV's own, once in whole levels and once not.
    """
    rng = np.random.default_rng(3)
    came = set()
    for size in [(240, 135), (160, 90), (90, 70), (107, 67)] * 100:
        still = np.full((size[1], size[0], 3), 90, np.uint8)
        moved = still.copy()
        top, left, tall, wide = (int(one) for one in rng.integers(1, 60, 4))
        moved[top : top + tall, left : left + wide] += np.uint8(rng.integers(0, 30))
        noisy_two = [
            np.clip(frame + rng.normal(0, 2, frame.shape), 0, 255).astype(np.uint8)
            for frame in (still, moved)
        ]
        held = [Held("bgr", size, frame.tobytes()) for frame in noisy_two]
        change = change_of(held[1].grey(), held[0].grey())
        may_be_noise = change.may_be_noise(most_noise("bgr", size[1]))
        assert not (surely_moved(*held) and may_be_noise)
        came.add((surely_moved(*held), may_be_noise))
    assert came == {(True, False), (False, True), (False, False)}


def held_film(sigma):
    """Return a film that stands for a second and goes on, under noise."""
    film = [cv2.resize(frame, (640, 360)) for frame in clip_frames("bikes.mp4", most=120)]
    return noisy([*film[:90], *[film[90]] * 60, *film[90:]], sigma)


@pytest.mark.parametrize("sigma", [1.0, 2.0, 3.0])
def test_the_fine_check_changes_nothing_in_what_stands_still(sigma):
    """A second under noise is found, the same with no picture seen fully, one in eight, or each."""
    pictures = list(as_packets(held_film(sigma), PERIOD_S, quality=80))
    found = [
        look_over(pictures, WatcherSettings(moving=True, fine_every=every), PERIOD_S).spans
        for every in (0, 8, 1)
    ]
    assert [span.kind for span in found[0]] == ["picture", "frozen", "picture"]
    assert abs(found[0][1].first - 91) <= 5  # noise hides a picture or two of slow motion
    assert abs(found[0][1].last - 149) <= 3
    assert found[0] == found[1] == found[2]
