"""What cards show in place of a lost picture, untaught: bars over black, what they keep in turn."""

import cv2
import numpy as np
import pytest
from drawn_pictures import looked_through, page, told
from faulty_clips import clip_frames, noisy, there_and_back

SIZE = (1280, 720)


def film(number):
    return [
        cv2.resize(frame, SIZE)
        for frame in there_and_back(clip_frames("bikes.mp4", most=40), number)
    ]


def barred(waves, height, at):
    """Return black with so many soft bars of that height in luma, which roll up."""
    rows = np.arange(SIZE[1]) / SIZE[1]
    light = height * np.maximum(0, np.sin(2 * np.pi * (waves * rows + at / 90)))
    return np.repeat(np.repeat(light[:, None, None], SIZE[0], axis=1), 3, axis=2).astype(np.uint8)


@pytest.mark.parametrize(("waves", "height", "sigma"), [(1, 60, 0.0), (2, 40, 2.0), (2, 120, 1.0)])
def test_bars_that_roll_over_black_are_black(tmp_path, waves, height, sigma):
    """A hum on a line that carries nothing else."""
    shown = film(120)
    shown[40:80] = [barred(waves, height, at) for at in range(40)]
    found = looked_through(tmp_path, noisy(shown, sigma))
    assert told(found, without=["freeze"]) == [("black", 40, 79)]


def test_a_dark_page_over_a_shaded_ground_is_no_hum(tmp_path):
    """Words stand out of it; and a plain ground that darkens from top to bottom has no bars."""
    shade = np.linspace(70, 10, SIZE[1])[:, None, None]
    ground = np.repeat(np.repeat(shade, SIZE[0], axis=1), 3, axis=2).astype(np.uint8)
    written = ground.copy()
    cv2.putText(written, "please wait", (400, 360), 0, 2, (200, 200, 200), 3)
    frames = [ground] * 40 + [written] * 40
    assert told(looked_through(tmp_path, frames, moving=False)) == []


@pytest.mark.parametrize("kept", [2, 3, 4])
def test_pictures_that_a_card_keeps_and_shows_in_turn_are_frozen(tmp_path, kept):
    """The last few of a film, again and again to the byte, for a second."""
    shown = film(100)
    frames = [*shown, *(shown[100 - kept + at % kept] for at in range(60)), *shown]
    ((kind, first, last),) = told(looked_through(tmp_path, frames))
    assert kind == "freeze"
    assert abs(first - 100) <= 1
    assert abs(last - 159) <= 1


@pytest.mark.parametrize("holds", [2, 5])
def test_a_spinner_that_holds_each_phase_is_no_freeze(tmp_path, holds):
    """A unit draws three phases in turn and holds each for a few pictures."""
    phases = []
    for turn in range(3):
        phase = page(SIZE, 4)
        cv2.circle(phase, (300 + 60 * turn, 300), 24, (0, 120, 250), -1)
        phases.append(phase)
    frames = [phases[at // holds % 3] for at in range(240)]
    assert told(looked_through(tmp_path, frames)) == []
