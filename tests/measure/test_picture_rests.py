"""The promise of motion is graded: how long what a unit shows may stand still, and be black."""

import numpy as np
import pytest
from drawn_pictures import page
from faulty_clips import as_packets

from soak.measure.video.lookthrough import look_over
from soak.measure.video.rests import rests_of
from soak.measure.video.watcher import WatcherSettings

RATE_HZ = 30
PERIOD_S = 1 / RATE_HZ


def moving(seconds):
    """Return a bar that runs over a page."""
    shown = page((640, 480), 2)
    frames = []
    for at in range(round(seconds * RATE_HZ)):
        frame = shown.copy()
        frame[:, (12 * at) % 600 :][:, :40] = 255
        frames.append(frame)
    return frames


def evening(still_s, black_s):
    """Return motion, a title card that stands for so long, motion, a cut to black, motion."""
    card = [page((640, 480), 7)] * round(still_s * RATE_HZ)
    black = [np.zeros((480, 640, 3), np.uint8)] * round(black_s * RATE_HZ)
    return [*moving(6), *card, *moving(6), *black, *moving(3)]


def faults(frames, **told):
    settings = WatcherSettings(moving=True, **told)
    look = look_over(as_packets(frames, PERIOD_S), settings, PERIOD_S)
    return [(span.kind, round(span.seconds, 1)) for span in look.spans if span.kind != "picture"]


def test_a_title_card_and_a_cut_to_black_are_losses_where_nothing_is_told():
    """`moving` alone promises that nothing stands for half a second."""
    assert faults(evening(3, 1)) == [("frozen", 3.0), ("black", 1.0)]


def test_they_are_content_where_the_sheet_says_how_long_they_may_be():
    """Three seconds of a title and one of black, with six and two told."""
    assert faults(evening(3, 1), frozen_after_s=6.0, longest_black_s=2.0) == []


def test_what_is_longer_than_told_is_a_loss_from_its_beginning():
    """What stands for nine seconds with six told, and four of black with two told."""
    found = faults(evening(9, 4), frozen_after_s=6.0, longest_black_s=2.0)
    assert found == [("frozen", 9.0), ("black", 4.0)]


@pytest.mark.parametrize(("still_s", "black_s"), [(3, 1), (8, 2.5)])
def test_a_good_units_run_tells_its_longest_still_and_black(still_s, black_s):
    """To a tenth of a second; nothing else was seen, so it may be learned from."""
    rests = rests_of(as_packets(evening(still_s, black_s), PERIOD_S), WatcherSettings())
    assert rests.still_s == pytest.approx(still_s, abs=0.1)
    assert rests.black_s == pytest.approx(black_s, abs=0.1)
    assert rests.lost == ()
