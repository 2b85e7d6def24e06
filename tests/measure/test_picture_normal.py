"""Contents that look odd and are normal."""

import cv2
import numpy as np
from faulty_clips import as_packets

from soak.measure.video.lookthrough import look_over
from soak.measure.video.watcher import WatcherSettings


def dim_scrolling_text(number):
    """Return text of little contrast that runs sideways under a camera's noise."""
    rng = np.random.default_rng(9)
    page = np.full((270, 960, 3), 30, np.uint8)
    for line in range(0, 270, 19):
        words = " ".join("".join(chr(one) for one in rng.integers(97, 123, 6)) for _ in range(20))
        cv2.putText(page, words, (10, line), 0, 0.45, (88, 86, 84), 2)
    for at in range(number):
        shown = np.roll(page, -5 * at, axis=1)[:, :480]
        noise = rng.normal(0, 1.0, shown.shape).astype(np.int16)
        yield cv2.add(np.ascontiguousarray(shown), noise, dtype=cv2.CV_8U)


def test_dim_scrolling_text_is_no_freeze():
    """It is spread evenly and averages out as noise does, but lies in lines."""
    pictures = as_packets(dim_scrolling_text(400), 1 / 60)
    look = look_over(pictures, WatcherSettings(moving=True))
    assert [span.kind for span in look.spans] == ["picture"]


def test_noise_at_the_bottom_of_a_fade_makes_no_dropout():
    """Where a fade ends in noise, pictures lie just above and just below black by turns."""
    rng = np.random.default_rng(2)
    scene = np.tile(np.linspace(20, 235, 480), (270, 1))[..., None].repeat(3, axis=2)
    way = [1.0] * 60 + list(np.linspace(1, 0.02, 30)) + [0.02] * 12 + list(np.linspace(0.02, 1, 30))
    frames = []
    for at, share in enumerate(way + [1.0] * 30):
        lift = 12 if share == 0.02 and at % 2 else 0  # a hum lifts every second picture
        noise = rng.normal(0, 4, scene.shape)
        bent = scene * share + lift * np.linspace(0, 2, 480)[None, :, None] + noise
        frames.append(np.roll(np.clip(bent, 0, 255), 4 * at, axis=1).astype(np.uint8))
    look = look_over(as_packets(frames, 1 / 60), WatcherSettings(moving=True))
    assert [span.kind for span in look.spans] == ["picture"]


def test_a_cut_within_a_texture_like_noise_is_no_lost_signal():
    """A cellular automaton looks like noise; a cut makes it another once, noise always is."""
    rng = np.random.default_rng(8)
    pages = [rng.integers(0, 2, (180, 320), np.uint8) * 255 for _ in range(2)]
    frames = [cv2.merge([pages[at // 60 % 2]] * 3) for at in range(240)]
    for at, frame in enumerate(frames):
        frame[at % 180] = 255  # one line moves on, as an automaton grows
    look = look_over(as_packets(frames, 1 / 60), WatcherSettings())
    assert [span.kind for span in look.spans] == ["picture"]
