"""Dark but living pictures are pictures; what is black all over is black, whatever came before.

Drawn here, so that what lives and what is lost is known to the picture.
"""

import cv2
import numpy as np
import pytest
from drawn_pictures import SIZES, looked_through, told
from faulty_clips import as_yuyv, black_like, clip_frames, noisy

from soak.measure.video.lookthrough import look_over
from soak.measure.video.watcher import WatcherSettings


def ground(size):
    width, rows = size
    return np.zeros((rows, width, 3), np.uint8)


def prompt(size):
    """Return a console with nothing but a prompt."""
    frame = ground(size)
    high = size[1] / 30
    cv2.putText(frame, "login:", (4, int(high)), 0, high / 30, (150,) * 3, 1, cv2.LINE_AA)
    return frame


def pointer(size):
    """Return a lone mouse pointer, a fortieth of the height."""
    frame = ground(size)
    at = np.array([size[0] * 3 // 5, size[1] // 3])
    high = size[1] // 40
    cv2.fillPoly(
        frame, [at + np.array([(0, 0), (0, high), (high * 2 // 3, high * 3 // 4)])], (230,) * 3
    )
    return frame


def stars(size):
    """Return sixty stars of one to nine pixels."""
    frame = ground(size)
    rng = np.random.default_rng(4)
    for _ in range(60):
        at = (int(rng.integers(3, size[0] - 3)), int(rng.integers(3, size[1] - 3)))
        cv2.circle(frame, at, int(rng.integers(0, 2)), (int(rng.integers(90, 256)),) * 3, -1)
    return frame


def logo(size):
    """Return a small dim logo in the middle."""
    frame = ground(size)
    wide = size[1] // 20
    cv2.ellipse(frame, (size[0] // 2, size[1] // 2), (wide, wide // 2), 0, 0, 360, (60, 40, 30), -1)
    return frame


def spinner(size):
    """Return six dots in a ring, brighter from one to the next."""
    frame = ground(size)
    for step in range(6):
        turn = step * np.pi / 3
        ring = 0.03 * size[1] * np.array([np.cos(turn), np.sin(turn)])
        at = (np.array([size[0] / 2, size[1] * 0.6]) + ring).astype(int).tolist()
        cv2.circle(frame, at, max(1, size[1] // 250), (60 + 30 * step,) * 3, -1)
    return frame


def night(size):
    """Return a film's frame at a twentieth of its light."""
    frame = cv2.resize(clip_frames("bikes.mp4", most=1)[0], size)
    return (frame * 0.05).astype(np.uint8)


DARK = (prompt, pointer, stars, logo, spinner, night)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("drawn", DARK)
@pytest.mark.parametrize(("quality", "sigma"), [(85, 0.0), (60, 1.5)])
def test_a_dark_picture_with_something_in_it_is_a_picture(tmp_path, drawn, size, quality, sigma):
    """Before, it was black as long as it stood."""
    frames = noisy([drawn(size)] * 40, sigma)
    assert told(looked_through(tmp_path, frames, moving=False, quality=quality)) == []


@pytest.mark.parametrize("drawn", DARK)
def test_it_is_in_raw_video_too(drawn):
    """YUYV is sampled, not averaged: what is seen of a star hangs on where it lies."""
    look = look_over(as_yuyv(noisy([drawn((640, 480))] * 20, 1.0), 1 / 30), WatcherSettings())
    assert [span.kind for span in look.spans] == ["picture"]


@pytest.mark.parametrize("drawn", DARK)
@pytest.mark.parametrize(("luma", "sigma"), [(0, 0.0), (16, 0.0), (0, 3.0), (16, 2.0)])
def test_a_loss_out_of_a_dark_picture_is_black(tmp_path, drawn, luma, sigma):
    """Half a second of it is found to the picture, and its end."""
    dark = drawn((1280, 720))
    frames = [dark] * 30 + [black_like(dark, luma)] * 30 + [dark] * 30
    found = looked_through(tmp_path, noisy(frames, sigma), moving=False)
    assert told(found) == [("black", 30, 59)]
