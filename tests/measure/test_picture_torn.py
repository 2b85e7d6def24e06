"""Torn rows told from pages, slides and strips that move: by what goes on from picture to picture.

What is drawn here is of the tests' own making, so where a tear was put is known to the row.
"""

import cv2
import numpy as np
import pytest
from drawn_pictures import SIZES, looked_through, page, told
from faulty_clips import clip_frames, noisy, there_and_back

FIRST = 30


def torn(frame, row, shift, last_row=None):
    """Return the frame with the rows from `row` on shifted sideways."""
    changed = frame.copy()
    changed[row:last_row] = np.roll(changed[row:last_row], shift, axis=1)
    return changed


def shaped_row(frame, share):
    """Return a row near this share of the height that has shapes, and the next row the same."""
    grey = cv2.cvtColor(frame, cv2.COLOR_BGR2GRAY).astype(float)
    spread = grey.std(axis=1)
    spread[1:][np.abs(np.diff(grey, axis=0)).mean(axis=1) > 0.1 * spread.max()] = 0
    rows = [
        row
        for row in range(16, len(grey) - 16)
        if min(spread[row - 2 : row + 2]) > 0.5 * spread.max()
    ]
    return min(rows, key=lambda row: abs(row - share * len(grey)))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(("quality", "sigma"), [(92, 0.0), (75, 1.0)])
def test_pages_that_appear_and_stay_are_not_torn(tmp_path, size, quality, sigma):
    """Ten pages in four fonts, each for an eighth of a second: no row of one tears another."""
    pages = [page(size, seed) for seed in range(10)]
    frames = [one for one in pages for _ in range(8)]
    found = looked_through(tmp_path, noisy(frames, sigma), moving=False, quality=quality)
    assert told(found) == []


def ticker(number):
    """Yield a photograph's frame with a strip of words that runs through it."""
    still = cv2.resize(clip_frames("bikes.mp4", most=1)[0], (1280, 720))
    strip = page((2560, 240), 3)[100:180]
    for at in range(number):
        frame = still.copy()
        frame[500:580] = np.roll(strip, -7 * at, axis=1)[:, :1280]
        yield frame


def scrolled(number):
    """Yield a long page that scrolls up by three rows a picture."""
    long = np.vstack([page((1280, 720), 5), page((1280, 720), 6)])
    for at in range(number):
        yield np.ascontiguousarray(long[3 * at : 3 * at + 720])


@pytest.mark.parametrize("content", [ticker, scrolled])
def test_what_moves_by_itself_is_not_torn(tmp_path, content):
    """A strip that runs through a still, and a page that scrolls."""
    assert told(looked_through(tmp_path, content(90), moving=False, fine_every=4)) == []


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(("shift", "sigma"), [(7, 0.0), (-12, 1.0), (40, 2.0)])
def test_a_page_that_tears_while_it_stands_is_torn(tmp_path, size, shift, sigma):
    """Found within its pictures, though nothing else moves."""
    whole = page(size, 6)
    row = shaped_row(whole, 0.5)
    frames = [whole] * FIRST + [torn(whole, row, shift)] * 12 + [whole] * 30
    found = looked_through(tmp_path, noisy(frames, sigma), fine_every=4)
    (one,) = [span for span in told(found) if span[0] == "torn"]
    assert abs(one[1] - FIRST) <= 1
    assert abs(one[2] - (FIRST + 11)) <= 1


@pytest.mark.parametrize("band", [None, 0.2])
def test_a_scene_that_moves_and_tears_is_torn(tmp_path, band):
    """The rows to the bottom, or a band of them; the scene goes on meanwhile."""
    film = [
        cv2.resize(frame, (1280, 720), interpolation=cv2.INTER_CUBIC)
        for frame in there_and_back(clip_frames("bikes.mp4", most=45), 80)
    ]
    row = shaped_row(film[FIRST], 0.4)
    last = None if band is None else row + int(band * 720)
    frames = [
        torn(frame, row, 20, last) if FIRST <= at < FIRST + 10 else frame
        for at, frame in enumerate(film)
    ]
    (one,) = told(looked_through(tmp_path, noisy(frames, 1.0)))
    assert one == ("torn", FIRST, FIRST + 9)
