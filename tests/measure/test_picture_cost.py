"""Looking is cheap where it is done sixty times a second: little is decoded, nothing copied."""

import tracemalloc

import cv2
import numpy as np
from faulty_clips import as_packets, clip_frames, noisy, there_and_back

from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.roles import Picture


def test_most_packets_are_passed_over_without_decoding_them(monkeypatch):
    """Decoding is what costs: of a moving clip fewer than one packet in three is decoded.

    How much time that saves stands in `benchmarks/picture_cost.py`.
    """
    frames = [
        cv2.resize(frame, (1280, 720))
        for frame in there_and_back(clip_frames("bikes.mp4", most=48), 94)
    ]
    decoded, decode = [], cv2.imdecode
    monkeypatch.setattr(cv2, "imdecode", lambda *how: decoded.append(1) or decode(*how))
    watcher = PictureWatcher(WatcherSettings(moving=True))
    for at, one in enumerate([*as_packets(frames, 1 / 60)] * 2):
        watcher.look(Picture(at / 60, at, one.form, one.size, one.data))
    assert 0 < len(decoded) < 188 / 3


def test_a_lasting_noisy_black_is_hardly_decoded(monkeypatch):
    """Nothing in it is worth a full look: once it is known, one small look in eight is all."""
    black = np.zeros((720, 1280, 3), np.uint8)
    packets = [*as_packets(noisy([black] * 120, 3.0), 1 / 60)]
    watcher = PictureWatcher(WatcherSettings(fine_every=8))
    for one in packets[:40]:
        watcher.look(one)
    decoded, decode = [], cv2.imdecode
    monkeypatch.setattr(cv2, "imdecode", lambda *how: decoded.append(how[1]) or decode(*how))
    for one in packets[40:]:
        watcher.look(one)
    full = cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION
    assert 0 < len(decoded) <= 2 * 80 / 8
    assert decoded.count(full) <= 4
    assert watcher.state == "black"


def test_a_raw_picture_is_copied_once():
    """Looking at 1080 rows of YUYV takes one copy of the frame and next to nothing more."""
    frame = bytes(1920 * 1080 * 2)
    watcher, size = PictureWatcher(WatcherSettings(moving=True)), (1920, 1080)
    rng = np.random.default_rng(1)
    frames = [memoryview(rng.integers(0, 256, len(frame), dtype=np.uint8)) for _ in range(3)]
    tracemalloc.start()
    try:
        for number, data in enumerate(frames):
            watcher.look(Picture(number / 60, number, "yuyv", size, data))
        before, _ = tracemalloc.get_traced_memory()
        tracemalloc.reset_peak()
        watcher.look(Picture(1.0, 3, "yuyv", size, frames[0]))
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert len(frame) <= peak - before < 1.1 * len(frame)
