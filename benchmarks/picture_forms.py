"""Forms of faults that are easily missed, on short clips of drawn and real contents; run by hand.

python benchmarks/picture_forms.py PART [FORM...]     PART: tuning or checking

Each form is put into each content that can show it; what is missed is told clip by clip. The two
parts differ in their seeds, sizes, qualities and noise, and in half of their contents.
"""

import itertools
import sys
import zlib
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from picture_contents import (
    Content,
    Noise,
    crawling,
    dimmed,
    game,
    menu,
    panning,
    real,
    screensaver,
    slideshow,
    ticker,
)

from soak.measure.video.lookthrough import look_over
from soak.measure.video.watcher_settings import WatcherSettings
from soak.roles import Picture

PARTS = {"tuning": 0, "checking": 1000}
"""Seeds begin here."""
BEFORE_S, AFTER_S = 2.2, 0.8
"""Clean content before and after a fault, s."""
SIZES = ((1280, 720), (1280, 720), (640, 480), (1920, 1080))
QUALITIES = (60, 75, 82, 92, 0)
"""Of the JPEG packets; 0: YUYV."""
SIGMAS = (0.0, 1.3, 3.0)
"""Noise of the capture: none, weak, strong."""
RATES_HZ = (25, 30, 50, 60)


@dataclass(frozen=True)
class Told:
    """A content, and for how long it stands by itself, s, as a model sheet would say it."""

    content: Content
    still_s: float = 0.45


def turning(stays: int, seed: int) -> Content:
    """Return pages of text that are turned every `stays` frames."""

    def frames(size: tuple[int, int]) -> Iterator[np.ndarray]:
        width, rows = size
        rng = np.random.default_rng(seed)
        while True:
            page = np.full((rows, width, 3), rng.integers(200, 250, 3), np.uint8)
            ink = tuple(int(one) for one in rng.integers(0, 110, 3))
            step = int(rows / rng.integers(14, 24))
            cv2.rectangle(page, (0, 0), (width, 2 * step), ink, -1)
            for top in range(4 * step, rows - step, step):
                words = " ".join(
                    "".join(chr(one) for one in rng.integers(97, 123, rng.integers(2, 9)))
                    for _ in range(int(rng.integers(3, 12)))
                )
                cv2.putText(page, words, (width // 20, top), 0, step / 40, ink, 1, cv2.LINE_AA)
            yield from itertools.repeat(page, stays)

    return frames


def prompt(seed: int) -> Content:
    """Return a console in which a line appears every half second, with a cursor."""

    def frames(size: tuple[int, int]) -> Iterator[np.ndarray]:
        width, rows = size
        rng = np.random.default_rng(seed)
        step = rows // 26
        shown = np.zeros((rows, width, 3), np.uint8)
        for line in itertools.count():
            shown[:-step] = shown[step:].copy()
            shown[-step:] = 0
            text = "".join(chr(one) for one in rng.integers(33, 123, rng.integers(5, 60)))
            place = (8, rows - step // 3)
            cv2.putText(shown, text, place, 0, step / 34, (90, 220, 120), 1, cv2.LINE_AA)
            for at in range(30):
                frame = shown.copy()
                if (line + at // 15) % 2:
                    frame[-step // 2 :, width - 40 : width - 30] = (90, 220, 120)
                yield frame

    return frames


def starfield(seed: int) -> Content:
    """Return small stars that drift sideways over black."""

    def frames(size: tuple[int, int]) -> Iterator[np.ndarray]:
        width, rows = size
        rng = np.random.default_rng(seed)
        at = rng.uniform(0, 1, (160, 2)) * size
        light = rng.integers(70, 255, 160)
        wide = rng.integers(1, 4, 160)
        for number in itertools.count():
            frame = np.zeros((rows, width, 3), np.uint8)
            for (x, y), level, side in zip(at, light, wide, strict=True):
                left = int(x + number * side * 0.7) % width
                frame[int(y) : int(y) + side, left : left + side] = level
            yield frame

    return frames


def mark(seed: int) -> Content:
    """Return a small logo on black that grows and shrinks a little."""

    def frames(size: tuple[int, int]) -> Iterator[np.ndarray]:
        width, rows = size
        rng = np.random.default_rng(seed)
        colour = (int(rng.integers(150, 250)), int(rng.integers(20, 80)), int(rng.integers(0, 20)))
        for number in itertools.count():
            frame = np.zeros((rows, width, 3), np.uint8)
            radius = round(rows / 28 * (1 + 0.4 * np.sin(number / 20)))
            cv2.circle(frame, (width // 2, rows // 2), radius, colour, -1, cv2.LINE_AA)
            yield frame

    return frames


def tuned(seed: int) -> dict[str, Told]:
    """Return the contents of one part."""
    second = seed >= PARTS["checking"]
    film, still, other = (
        ("carphone_pristine.mp4", "coffee.png", "chelsea.png")
        if second
        else ("bikes.mp4", "astronaut.png", "rocket.jpg")
    )
    return {
        "film": Told(real(film, (2,))),
        "pan": Told(panning(still, 500)),
        "clock": Told(menu(60, seed + 1), 2.0),
        "pages": Told(turning(100, seed + 2), 3.5),
        "slides": Told(slideshow((still, other), 120, 20, 0.0), 4.0),
        "console": Told(prompt(seed + 3), 1.0),
        "stars": Told(starfield(seed + 4)),
        "mark": Told(mark(seed + 5), 1.0),
        "saver": Told(screensaver(seed + 6)),
        "credits": Told(crawling(2, seed + 7, sideways=False)),
        "game": Told(game(seed + 8, 12, other, 3)),
        "ticker": Told(ticker(still, 4, seed + 9)),
        "dark": Told(dimmed(real(film, (2,)), 0.12, 6)),
    }


Fault = Callable[[np.ndarray, int], np.ndarray]
"""Takes a frame and its number within the fault; may keep what it saw."""


def _in_turn(kept_pictures: int) -> Callable[[np.random.Generator], Fault]:
    def begin(_: np.random.Generator) -> Fault:
        kept: list[np.ndarray] = []

        def make(frame: np.ndarray, number: int) -> np.ndarray:
            if number < kept_pictures:
                kept.append(frame.copy())
            return kept[number % kept_pictures]

        return make

    return begin


def _dots(rng: np.random.Generator) -> Fault:
    share = float(np.exp(rng.uniform(np.log(1e-4), np.log(1e-3))))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        made = frame.copy()
        number = rng.binomial(frame.shape[0] * frame.shape[1], share)
        rows, columns = (rng.integers(side, size=number) for side in frame.shape[:2])
        made[rows, columns] = rng.integers(0, 256, (number, 3))
        return made

    return make


def _dashes(rng: np.random.Generator) -> Fault:
    share = float(np.exp(rng.uniform(np.log(1e-4), np.log(1e-3))))
    longest = int(rng.integers(4, 33))
    white = bool(rng.integers(2))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        made = frame.copy()
        height, width = frame.shape[:2]
        number = max(3, rng.poisson(height * width * share / (longest / 2 + 1)))
        for _one in range(number):
            row, left = int(rng.integers(height)), int(rng.integers(width - longest))
            wide = int(rng.integers(2, longest + 1))
            made[row, left : left + wide] = 255 if white else rng.integers(0, 256, 3)
        return made

    return make


def _torn(how: str) -> Callable[[np.random.Generator], Fault]:
    def begin(rng: np.random.Generator) -> Fault:
        at = float(rng.uniform(0.2, 0.75))
        shift = int(rng.choice([-1, 1])) * int(rng.integers(7, 90))

        def make(frame: np.ndarray, _: int) -> np.ndarray:
            made = frame.copy()
            height = len(frame)
            top = int(height * (rng.uniform(0.2, 0.75) if how == "changing" else at))
            end = top + height // 7 if how == "band" else height
            made[top:end] = np.roll(frame[top:end], shift, axis=1)
            return made

        return make

    return begin


def _slanted(rng: np.random.Generator) -> Fault:
    by = float(rng.choice([-1, 1]) * rng.uniform(0.3, 2.0))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        height, width = frame.shape[:2]
        columns = (np.arange(width)[None, :] + (by * np.arange(height)[:, None])) % width
        return np.take_along_axis(frame, columns.astype(np.intp)[..., None], axis=1)

    return make


def _rolling(rng: np.random.Generator) -> Fault:
    by = float(rng.choice([-1, 1]) * rng.uniform(0.004, 0.05))

    def make(frame: np.ndarray, number: int) -> np.ndarray:
        return np.roll(frame, round(by * (number + 1) * len(frame)), axis=0)

    return make


def _snow(rng: np.random.Generator) -> Fault:
    how = str(rng.choice(["grey", "coloured", "coarse", "wide", "two levels"]))
    low, high = int(rng.integers(0, 60)), int(rng.integers(170, 256))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        height, width = frame.shape[:2]
        shape = {"coarse": (height // 2, width // 2, 1), "wide": (height, width // 3, 1)}.get(
            how, (height, width, 3 if how == "coloured" else 1)
        )
        made = rng.integers(low, high, shape, dtype=np.uint8)
        if how == "two levels":
            made = np.where(made > (low + high) // 2, high, low).astype(np.uint8)
        made = made if made.shape[2] == 3 else np.repeat(made, 3, axis=2)
        return cv2.resize(made, (width, height), interpolation=cv2.INTER_LINEAR)

    return make


def _copied(rng: np.random.Generator) -> Fault:
    lane, like = (int(one) for one in rng.permutation(3)[:2])

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        made = frame.copy()
        made[..., lane] = frame[..., like]
        return made

    return make


def _lost(lane: int) -> Callable[[np.random.Generator], Fault]:
    def begin(_: np.random.Generator) -> Fault:
        def make(frame: np.ndarray, _: int) -> np.ndarray:
            made = frame.copy()
            made[..., lane] = 0
            return made

        return make

    return begin


@dataclass(frozen=True)
class Form:
    """A form of a fault: what it is to be called, how it is made, where it begins and is shown.

    Attributes
    ----------
    seconds : float
        How long it lasts, s; a freeze lasts longer than its content stands by itself.
    same_packet : bool
        Whether its pictures come without noise of their own, byte for byte.
    """

    kind: str
    begin: Callable[[np.random.Generator], Fault]
    seconds: float = 1.5
    same_packet: bool = False
    at_first: bool = False
    contents: tuple[str, ...] = ()


MOVING = ("film", "pan", "stars", "saver", "credits", "game", "ticker", "dark")
SHAPELY = ("film", "pan", "clock", "pages", "slides", "credits", "game", "ticker", "dark")
COLOURED = ("film", "pan", "slides", "game", "ticker")
FORMS = {
    "freeze same packet": Form("frozen", _in_turn(1), same_packet=True),
    "freeze one picture": Form("frozen", _in_turn(1)),
    "freeze two in turn": Form("frozen", _in_turn(2), contents=MOVING),
    "freeze three in turn": Form("frozen", _in_turn(3), contents=MOVING),
    "freeze two in turn, packets": Form("frozen", _in_turn(2), same_packet=True),
    "freeze three in turn, packets": Form("frozen", _in_turn(3), same_packet=True),
    "sparkle dots": Form("sparkle", _dots),
    "sparkle dashes": Form("sparkle", _dashes),
    "sparkle dots from the first": Form("sparkle", _dots, 2.0, at_first=True),
    "sparkle dashes from the first": Form("sparkle", _dashes, 2.0, at_first=True),
    "torn changing": Form("torn", _torn("changing"), contents=SHAPELY),
    "torn standing": Form("torn", _torn("standing"), contents=SHAPELY),
    "torn band": Form("torn", _torn("band"), contents=SHAPELY),
    "torn standing from the first": Form(
        "torn", _torn("standing"), 2.5, at_first=True, contents=SHAPELY
    ),
    "slanted": Form("torn", _slanted, contents=SHAPELY),
    "rolling": Form("torn", _rolling, contents=SHAPELY),
    "snow": Form("no signal", _snow),
    "tint copied": Form("tint", _copied, contents=COLOURED),
    "blue lost of a mark": Form("tint", _lost(0), contents=("mark",)),
}


@dataclass(frozen=True)
class Clip:
    """One clip: how it is shown, and from which picture to which it is faulty."""

    pictures: Sequence[Picture]
    first: int
    last: int
    settings: WatcherSettings
    about: str


def clip_of(part: str, form_name: str, content: str) -> Clip:
    """Make one clip."""
    form = FORMS[form_name]
    seed = PARTS[part] + zlib.crc32(f"{form_name} {content}".encode()) % 997
    rng = np.random.default_rng(seed)
    told = tuned(PARTS[part])[content]
    size, quality = SIZES[rng.integers(len(SIZES))], QUALITIES[rng.integers(len(QUALITIES))]
    size = (1280, 720) if quality == 0 and size[0] > 1280 else size
    sigma, rate = SIGMAS[rng.integers(len(SIGMAS))], int(RATES_HZ[rng.integers(len(RATES_HZ))])
    if form_name.startswith("freeze") and not form.same_packet and not sigma:
        sigma = SIGMAS[1]
    seconds = form.seconds
    if form.kind == "frozen" and "turn" not in form_name:
        seconds = max(1.0, told.still_s * 1.3 + 0.5) if told.still_s > 0.45 else 1.2
    before = 0 if form.at_first else round(BEFORE_S * rate)
    faulty = round(seconds * rate)
    after = round(AFTER_S * rate)
    frames = itertools.islice(told.content(size), 0, None, max(1, 60 // rate))
    make = form.begin(rng)
    noise = Noise(size, sigma, seed) if sigma else None
    packets: list[bytes] = []
    kept: dict[int, bytes] = {}
    slots = {"two": 2, "three": 3}.get(form_name.split()[1], 1)
    for number in range(before + faulty + after):
        frame = next(frames)
        if before <= number < before + faulty:
            frame = make(frame, number - before)
            if form.same_packet:
                key = (number - before) % slots
                if key not in kept:
                    kept[key] = _packet(noise.on(frame) if noise else frame, quality)
                packets.append(kept[key])
                continue
        packets.append(_packet(noise.on(frame) if noise else frame, quality))
    way = "mjpeg" if quality else "yuyv"
    pictures = [
        Picture(number / rate, number, way, size, memoryview(packet))
        for number, packet in enumerate(packets)
    ]
    settings = WatcherSettings(
        moving=True,
        size=size,
        fine_every=8,
        frozen_after_s=max(told.still_s, 0.45),
        longest_black_s=0.0,
    )
    about = f"{content} {size[1]} {way} {quality} sigma {sigma} {rate} Hz"
    return Clip(pictures, before, before + faulty - 1, settings, about)


def _packet(frame: np.ndarray, quality: int) -> bytes:
    if quality:
        return cv2.imencode(".jpg", frame, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()
    return cv2.cvtColor(np.ascontiguousarray(frame), cv2.COLOR_BGR2YUV_YUYV).tobytes()


def main() -> None:
    """Make the clips, look at them, print what was missed and what was called falsely."""
    cv2.setNumThreads(1)
    part, *asked = sys.argv[1:]
    found: Counter[str] = Counter()
    there: Counter[str] = Counter()
    false: Counter[str] = Counter()
    for name, form in FORMS.items():
        if asked and not any(name.startswith(one) for one in asked):
            continue
        for content in form.contents or tuned(PARTS[part]):
            clip = clip_of(part, name, content)
            look = look_over(clip.pictures, clip.settings, 1 / 30)
            spans = [span for span in (*look.spans, *look.faults) if span.kind != "picture"]
            meets = [one for one in spans if one.first <= clip.last and one.last >= clip.first - 1]
            hit = any(one.kind == form.kind for one in meets)
            found[name] += hit
            there[name] += 1
            outside = [one for one in spans if one not in meets]
            other = [one for one in meets if one.kind != form.kind]
            false[name] += len(outside)
            if not hit or outside or other:
                what = "found " if hit else "MISSED"
                rest = [(one.kind, one.first, one.last) for one in (*other, *outside)]
                say(f"  {what} {name}: {clip.about} {clip.first}-{clip.last} {rest}")
        say(f"{name}: {found[name]} of {there[name]}, false {false[name]}")


def say(line: str) -> None:
    """Print at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
