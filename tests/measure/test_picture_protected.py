"""What is shown in place of protected output, once taught, is a state of its own."""

import numpy as np
import pytest
from faulty_clips import as_bgr, as_packets, as_yuyv, black_like, clip_frames, jpeg, there_and_back
from looked import look_through

from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.records import State

FORMS = {"mjpeg": as_packets, "bgr": as_bgr, "yuyv": as_yuyv}


def notice(rows, columns):
    """Return an invented notice: light bars on green."""
    frame = np.full((rows, columns, 3), (40, 80, 50), np.uint8)
    frame[rows // 4 : rows // 3, columns // 5 : -columns // 5] = 215
    frame[rows // 2 : 5 * rows // 9, columns // 3 : -columns // 3] = 160
    return frame


@pytest.mark.parametrize("form", FORMS)
def test_the_taught_notice_is_protected_output_to_the_frame(form):
    """Between two pictures; the black of the handshake before it stays black."""
    frames = there_and_back(clip_frames("carphone_pristine.mp4"), 120)
    shown = notice(*frames[0].shape[:2])
    frames[50:55] = [black_like(frames[0])] * 5
    frames[55:80] = [shown] * 25
    settings = WatcherSettings(moving=True, protected=(jpeg(shown),))
    spans = look_through(FORMS[form](frames, 1 / 30), settings)
    found = [(span.kind, span.first, span.last) for span in spans if span.kind != "picture"]
    assert found == [("black", 50, 54), ("protected output", 55, 79)]


def test_it_says_what_it_looks_like_and_keeps_a_picture_of_it():
    """The evidence shows what stood there, for whoever doubts it."""
    frames = there_and_back(clip_frames("carphone_pristine.mp4"), 60)
    shown = notice(*frames[0].shape[:2])
    frames[30:40] = [shown] * 10
    watcher = PictureWatcher(WatcherSettings(protected=(jpeg(shown),)))
    seen = [one for picture in as_packets(frames, 1 / 30) for one in watcher.look(picture)]
    states = [one for one in seen if isinstance(one, State) and one.source == "capture"]
    assert [state.state for state in states] == ["picture", "protected output", "picture"]
    assert states[1].detail["looks_like"] == "a picture taught as protected output"
    shows = {one[0].detail["shows"] for one in seen if isinstance(one, tuple)}
    assert {"before", "during", "after"} <= shows


def test_untaught_it_is_whatever_it_looks_like():
    """Nobody can know from outside: a notice is a picture, and black is black."""
    frames = there_and_back(clip_frames("carphone_pristine.mp4"), 60)
    frames[20:30] = [notice(*frames[0].shape[:2])] * 10
    frames[40:50] = [black_like(frames[0])] * 10
    spans = look_through(as_packets(frames, 1 / 30), WatcherSettings(moving=True))
    assert [span.kind for span in spans] == ["picture", "black", "picture"]
