"""Where no motion is promised a still picture is a reading, never a state."""

import numpy as np
import pytest
from faulty_clips import as_bgr, as_packets, clip_frames, noisy, there_and_back

from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.records import Reading, State

PERIOD_S = 1 / 30
FORMS = {"mjpeg": as_packets, "bgr": as_bgr}


def seen_of(frames, form, **settings):
    watcher = PictureWatcher(WatcherSettings(unchanged_every_s=20.0, **settings))
    seen = [one for picture in form(frames, PERIOD_S) for one in watcher.look(picture)]
    readings = [one for one in seen if isinstance(one, Reading)]
    return readings, [one.state for one in seen if isinstance(one, State)]


@pytest.mark.parametrize("sigma", [0.0, 2.0])
@pytest.mark.parametrize("form", FORMS)
def test_how_long_it_has_stood_is_said_now_and_then_and_at_its_end(form, sigma):
    """A picture stands for 50 s between two that move: at 20 s, at 40 s, and when it moves."""
    moving = there_and_back(clip_frames("bikes.mp4", rows=136), 300)
    frames = [*moving, *[moving[-1]] * 1500, *moving[::-1][1:200]]
    readings, states = seen_of(noisy(frames, sigma), FORMS[form])
    assert {one.quantity for one in readings} == {"capture.unchanged"}
    assert [one.value for one in readings] == pytest.approx([20, 40, 50], abs=0.4)
    assert states == ["picture"]


def test_where_motion_is_promised_it_is_frozen_and_no_reading():
    """One thing is told in one way."""
    moving = there_and_back(clip_frames("bikes.mp4", rows=136), 300)
    readings, states = seen_of([*moving, *[moving[-1]] * 900], as_bgr, moving=True)
    assert readings == []
    assert states == ["picture", "frozen"]


def test_moving_content_stands_for_no_time():
    """Nothing is said of rests shorter than 10 s."""
    moving = there_and_back(clip_frames("bikes.mp4", rows=136), 900)
    assert seen_of(moving, as_bgr)[0] == []


def test_a_lost_picture_ends_it():
    """Black is no unchanged picture, however long it stays."""
    still = clip_frames("bikes.mp4", rows=136)[0]
    readings, _ = seen_of([*[still] * 1200, *[np.zeros_like(still)] * 1200], as_bgr)
    assert readings[-1].value == pytest.approx(40, abs=0.4)
    assert readings[-1].t_s < 41


def test_a_blind_bench_ends_it_and_the_account_of_the_stream_is_told():
    """What was seen until then is on record, though no minute was full."""
    still = clip_frames("bikes.mp4", rows=136)[0]
    watcher = PictureWatcher(WatcherSettings(unchanged_every_s=20.0, account_every_s=60.0))
    seen = [one for picture in as_bgr([still] * 900, PERIOD_S) for one in watcher.look(picture)]
    seen += watcher.blind(30.0, "pulled")
    readings = [one.value for one in seen if isinstance(one, Reading)]
    assert readings == pytest.approx([20, 30], abs=0.2)
    told = [one.detail for one in seen if isinstance(one, State) and one.state == "learned"]
    assert [one["pictures"] for one in told] == [31, 900]
