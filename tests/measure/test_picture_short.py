"""What is lost for a frame or three, where neither brightness nor packet size leaps."""

import cv2
import numpy as np
from faulty_clips import as_packets, clip_frames, jpeg, no_signal_card, there_and_back

from soak.measure.video.lookthrough import look_over
from soak.measure.video.watcher import WatcherSettings

PERIOD_S = 1 / 60


def faults(pictures, **settings):
    look = look_over(pictures, WatcherSettings(moving=True, **settings), PERIOD_S)
    return [(span.kind, span.first, span.last) for span in look.spans if span.kind != "picture"]


def test_a_dark_scene_that_darkens_by_hairs_and_is_lost_is_black():
    """One black frame after a scene of mean luma 14 that fell by hundredths is no fade."""
    scene = np.zeros((270, 480, 3), np.uint8)
    for at in range(8):
        cv2.circle(scene, (30 + 60 * at, 40 + 25 * at), 12, (0, 250, 200), -1)
    frames = [
        np.roll(scene * (1 - at * 2e-4), (at, 3 * at), axis=(0, 1)).astype(np.uint8)
        for at in range(120)
    ]
    frames[100] = np.zeros_like(frames[100])
    assert faults(as_packets(frames, PERIOD_S)) == [("black", 100, 100)]


def test_a_lost_signal_as_large_as_the_picture_is_found_at_once():
    """Three frames of a card's picture whose packets are but 4 % smaller than the stream's."""
    frames = there_and_back(clip_frames("carphone_pristine.mp4"), 200)
    packets = list(as_packets(frames, PERIOD_S))
    card = no_signal_card(*frames[0].shape[:2])
    usual = int(np.median([len(one.data) for one in packets]))
    plain = jpeg(card)
    spare = usual * 96 // 100 - len(plain)
    comment = b"\xff\xfe" + (spare - 2).to_bytes(2, "big") + bytes(spare - 4)  # T.81, B.2.4.5
    padded = plain[:2] + comment + plain[2:]
    assert usual * 0.9 < len(padded) < usual
    for at in (121, 122, 123):
        one = packets[at]
        packets[at] = type(one)(one.t_s, one.number, one.form, one.size, memoryview(padded))
    assert faults(packets, taught=(jpeg(card),)) == [("no signal", 121, 123)]
