"""Fades of dark, thin-lined content and held titles are content; a loss out of them is a loss."""

import cv2
import numpy as np
import pytest
from drawn_pictures import looked_through, told, words
from faulty_clips import as_yuyv, noisy

from soak.measure.video.lookthrough import look_over
from soak.measure.video.watcher import WatcherSettings

SIZE = (1280, 720)


def title(size):
    """Return two words on black."""
    frame = np.zeros((size[1], size[0], 3), np.uint8)
    said = words(np.random.default_rng(2), 2)
    cv2.putText(
        frame, said, (size[0] // 4, size[1] // 2), 1, size[1] / 300, (190,) * 3, 2, cv2.LINE_AA
    )
    return frame


def wires(size):
    """Return four thin lines on black."""
    frame = np.zeros((size[1], size[0], 3), np.uint8)
    ends = np.random.default_rng(8).random((4, 2, 2)) * size
    for one, other in ends.astype(int).tolist():
        cv2.line(frame, one, other, (150,) * 3, 1, cv2.LINE_AA)
    return frame


def names(size):
    """Return lines of small words, as at a film's end."""
    frame = np.zeros((size[1], size[0], 3), np.uint8)
    rng = np.random.default_rng(3)
    for row in range(size[1] // 10, size[1], size[1] // 10):
        said = words(rng, 3)
        cv2.putText(frame, said, (size[0] // 4, row), 0, size[1] / 700, (140,) * 3, 1, cv2.LINE_AA)
    return frame


def shades(frame, number):
    """Return so many steps from a frame to black, without either."""
    return [(frame * (1 - at / (number + 1))).astype(np.uint8) for at in range(1, number + 1)]


def faded(frame, number, held):
    """Return the frame, its fade to black, black for so many pictures, and the way back."""
    down = shades(frame, number)
    return [frame] * 40 + down + [frame * 0] * held + down[::-1] + [frame] * 40


@pytest.mark.parametrize("drawn", [title, wires, names])
@pytest.mark.parametrize(("number", "held", "sigma"), [(6, 60, 0.0), (16, 20, 1.0), (60, 240, 0.0)])
def test_a_fade_of_thin_lines_is_content(tmp_path, drawn, number, held, sigma):
    """A tenth of a second to a second long, with a black of up to four seconds after it."""
    frames = noisy(faded(drawn(SIZE), number, held), sigma)
    assert told(looked_through(tmp_path, frames, moving=False)) == []


@pytest.mark.parametrize("drawn", [title, wires])
def test_so_it_is_in_raw_video(drawn):
    """Each picture is looked at there, so the last half second is what the fade is told by."""
    pictures = as_yuyv(faded(drawn((640, 480)), 16, 60), 1 / 60)
    look = look_over(pictures, WatcherSettings())
    assert [span.kind for span in look.spans] == ["picture"]


def breathing(frame):
    """Return seconds in which the light of a frame comes and goes by a seventh."""
    light = 0.85 + 0.15 * np.cos(np.arange(100) / 12)
    return [(frame * one).astype(np.uint8) for one in light]


def half(frame):
    """Return a frame, and then one whose lower half was lost first."""
    broken = frame.copy()
    broken[frame.shape[0] // 2 :] = 0
    return [frame] * 40 + [broken]


def come_back(frame):
    """Return a frame that faded and came back some seconds ago."""
    return faded(frame, 16, 20)


@pytest.mark.parametrize("drawn", [title, wires, names])
@pytest.mark.parametrize("before", [breathing, half, come_back])
def test_a_loss_after_something_like_a_fade_is_a_loss(tmp_path, drawn, before):
    """Half a second of black out of a lit picture, found to the picture."""
    lit = [*before(drawn(SIZE))]
    frames = [*lit, *[lit[0] * 0] * 30, *[lit[0]] * 30]
    found = looked_through(tmp_path, frames, moving=False)
    assert told(found) == [("black", len(lit), len(lit) + 29)]


def test_a_black_that_outlasts_any_fade_is_told_from_its_beginning(tmp_path):
    """After five seconds it is no content any more, and it began when the light had gone."""
    frames = faded(title((640, 480)), 16, 330)
    ((kind, first, last),) = told(looked_through(tmp_path, frames, moving=False))
    assert kind == "black"
    assert 50 <= first <= 57
    assert 385 <= last <= 392
