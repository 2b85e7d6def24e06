"""Looking is cheap where it is done tens of thousands of times, or sixty times a second."""

import time
import tracemalloc

import cv2
import numpy as np
from faulty_clips import as_packets, clip_frames, there_and_back

from soak.measure.watcher import PictureWatcher, WatcherSettings
from soak.roles import Picture


def looking_s(watcher, pictures, number, period_s):
    began_s = time.process_time()
    for at in range(number):
        one = pictures[at % len(pictures)]
        watcher.look(Picture(at * period_s, at, one.form, one.size, one.data))
    return time.process_time() - began_s


def test_a_simulated_night_of_small_pictures_takes_less_than_two_seconds():
    """30 000 moving pictures of 64 x 36; measured 0.7 s on one core when it was written."""
    scene = np.random.default_rng(2).integers(30, 220, (36, 64, 3), dtype=np.uint8)
    frames = [np.roll(scene, step, axis=1).tobytes() for step in range(64)]
    pictures = [Picture(0.0, None, "bgr", (64, 36), memoryview(frame)) for frame in frames]
    watcher = PictureWatcher(WatcherSettings(moving=True))
    assert looking_s(watcher, pictures, 30_000, 1.0) < 2.0
    assert watcher.state == "picture"


def test_passing_over_packets_is_three_times_cheaper_than_decoding_each():
    """Against a 1/8-scale decode of every packet, which is the least a filter could do."""
    frames = [
        cv2.resize(frame, (1280, 720))
        for frame in there_and_back(clip_frames("bikes.mp4", most=48), 94)
    ]
    packets = list(as_packets(frames, 1 / 60))
    watcher = PictureWatcher(WatcherSettings(moving=True))
    looking = looking_s(watcher, packets, 188, 1 / 60)
    began_s = time.process_time()
    for at in range(188):
        data = np.frombuffer(packets[at % 94].data, np.uint8)
        cv2.imdecode(data, cv2.IMREAD_REDUCED_GRAYSCALE_8)
    assert looking < (time.process_time() - began_s) / 3


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
