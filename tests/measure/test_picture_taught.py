"""Taught pictures: the card's own are known again in their colours and shapes, and no others."""

from itertools import chain, repeat

import cv2
import numpy as np
import pytest
from faulty_clips import as_bgr, as_packets, as_yuyv, clip_frames, no_signal_card, there_and_back

from soak.measure.video.lookthrough import look_over
from soak.measure.video.watcher_settings import WatcherSettings

ROWS, COLUMNS = 240, 320
FORMS = [as_packets, as_yuyv, as_bgr]
PERIOD_S = 1 / 30
BLUE = (160, 30, 15)


def plain(*bgr):
    return np.full((ROWS, COLUMNS, 3), bgr, np.uint8)


def stripes():
    """Return eight bright bars, as test generators show them."""
    frame = plain(0, 0, 0)
    for at in range(8):
        colour = [200 * (at >> lane & 1) for lane in range(3)]
        frame[:, at * COLUMNS // 8 : (at + 1) * COLUMNS // 8] = colour
    return frame


def in_grey(frame):
    return cv2.merge([cv2.cvtColor(frame, cv2.COLOR_BGR2GRAY)] * 3)


def with_box(frame, left):
    shown = frame.copy()
    shown[80:150, left : left + 90] = (70, 70, 70)
    cv2.putText(shown, "no input", (left + 4, 120), 0, 0.6, (230, 230, 230), 1)
    return shown


def states(frames, card, form=as_packets):
    """Return the states of the frames between two stretches of film, with this card taught."""
    film = there_and_back(clip_frames("bikes.mp4", ROWS, most=20), 20)
    size = (frames[0].shape[1], ROWS)
    film = [cv2.resize(one, size) for one in film]
    taught = cv2.imencode(".png", card)[1].tobytes()
    shown = chain(film, *(repeat(one, 6) for one in frames), film)
    look = look_over(form(shown, PERIOD_S), WatcherSettings(taught=(taught,)))
    return [span.kind for span in look.spans]


LOST = ["picture", "no signal", "picture"]
UNITS_OWN = {
    "a dark page of the card's luma": (plain(36, 36, 36), plain(*BLUE)),
    "a green page of the card's luma": (plain(10, 55, 14), plain(*BLUE)),
    "grey bars": (in_grey(stripes()), stripes()),
    "bars in another order": (stripes()[:, :, [2, 1, 0]], stripes()),
    "a page of the card's ground with more on it": (
        cv2.rectangle(plain(*BLUE), (0, 0), (COLUMNS, 90), (90, 160, 200), -1),
        plain(*BLUE),
    ),
    "a dim page without the card's words": (plain(42, 42, 42), in_grey(no_signal_card(ROWS, 320))),
}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("name", UNITS_OWN)
def test_a_picture_that_is_like_the_card_in_grey_only_is_the_units(name, form):
    """Colours and shapes are the card's own, or it is a picture."""
    shown, card = UNITS_OWN[name]
    assert states([shown], card, form) == ["picture"]


CARDS_OWN = {
    "as it was taught": ([no_signal_card(ROWS, 320)], no_signal_card(ROWS, 320)),
    "plain blue": ([plain(*BLUE)], plain(*BLUE)),
    "bars": ([stripes()], stripes()),
    "a fifth darker": ([(plain(*BLUE) * 0.8).astype(np.uint8)], plain(*BLUE)),
    "with a box that wanders": (
        [with_box(plain(*BLUE), left) for left in range(0, 220, 40)],
        with_box(plain(*BLUE), 30),
    ),
    "with a box that was not taught": ([with_box(plain(*BLUE), 100)[:, :]], plain(*BLUE)),
    "a little brighter all over": (
        [cv2.add(in_grey(no_signal_card(ROWS, 320)) // 3, (4, 4, 4, 0))],
        in_grey(no_signal_card(ROWS, 320)) // 3,
    ),
}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("name", CARDS_OWN)
def test_the_cards_own_picture_is_known_again(name, form):
    """Through the encoder, dimmed, brightened, and where a box wanders over its blue."""
    shown, card = CARDS_OWN[name]
    assert states(shown, card, form) == LOST
