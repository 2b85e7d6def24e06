"""Labelled clips: contents with known faults, as JPEG pictures back to back with an index."""

import csv
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from picture_contents import Content

PERIOD_NS = 1e9 / 60
KINDS = (
    *("black", "nosignal", "freeze", "stall", "resolution"),
    *("tint", "sparkle", "torn", "block"),
)
DROPOUTS = KINDS[:5]
Label = tuple[int, int, str]
"""First and last faulty frame, and the kind."""
Make = Callable[[np.ndarray, int], np.ndarray]
"""Takes the frame of the content and its number within the fault."""


def no_signal_card(size: tuple[int, int]) -> np.ndarray:
    """Return an invented card's no-signal picture."""
    width, rows = size
    frame = np.full((rows, width, 3), (120, 50, 20), np.uint8)
    place = (width // 5, rows // 2)
    cv2.putText(frame, "no input", place, 0, rows / 200, (230, 230, 230), rows // 100)
    return frame


def _black(rng: np.random.Generator) -> Make:
    level, sigma = int(rng.choice([0, 4, 16])), float(rng.choice([0.0, 1.5]))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        flat = np.full(frame.shape, level, np.uint8)
        noise = np.empty(frame.shape, np.int16)
        cv2.randn(noise, 0, sigma)
        return cv2.add(flat, noise, dtype=cv2.CV_8U)

    return make


def _freeze(rng: np.random.Generator) -> Make:
    kept: list[np.ndarray] = []
    sigma = float(rng.choice([0.0, 1.0]))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        kept.append(frame)
        if not sigma:
            return kept[0]
        noise = np.empty(frame.shape, np.int16)
        cv2.randn(noise, 0, sigma)
        return cv2.add(kept[0], noise, dtype=cv2.CV_8U)

    return make


def _tint(rng: np.random.Generator) -> Make:
    lane, value = int(rng.integers(3)), int(rng.choice([0, 0, 128, 255]))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        made = frame.copy()
        made[..., lane] = value
        return made

    return make


def _sparkle(rng: np.random.Generator) -> Make:
    share, white = 1e-4, bool(rng.integers(2))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        made = frame.copy()
        count = rng.binomial(frame.shape[0] * frame.shape[1], share)
        rows, columns = (
            rng.integers(frame.shape[0], size=count),
            rng.integers(frame.shape[1], size=count),
        )
        made[rows, columns] = 255 if white else rng.integers(0, 256, (count, 3))
        return made

    return make


def _torn(rng: np.random.Generator) -> Make:
    how, row = str(rng.choice(["below", "band", "wander", "lines"])), rng.uniform(0.2, 0.7)
    shift = int(rng.choice([-1, 1])) * int(rng.integers(12, 120))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        made, height = frame.copy(), frame.shape[0]
        top = int(height * (rng.uniform(0.2, 0.7) if how == "wander" else row))
        end = height if how in ("below", "wander") else top + height // 8
        if how == "lines":
            for line in range(top, end):
                made[line] = np.roll(frame[line], int(rng.integers(-40, 41)), axis=0)
        else:
            made[top:end] = np.roll(frame[top:end], shift, axis=1)
        return made

    return make


MAKES: dict[str, Callable[[np.random.Generator], Make]] = {
    "black": _black,
    "freeze": _freeze,
    "tint": _tint,
    "sparkle": _sparkle,
    "torn": _torn,
}


@dataclass
class Clip:
    """One labelled clip on disk."""

    path: Path
    labels: list[Label]
    content: str


def _plan(rng: np.random.Generator, kinds: list[str]) -> Iterator[tuple[int, int, str]]:
    """Yield start, length and kind of each fault, clean frames between them."""
    at = 100
    for kind in kinds:
        length = int(rng.integers(30, 75) if kind == "freeze" else rng.integers(6, 60))
        yield at, 1 if kind == "stall" else length, kind
        at += length + int(rng.integers(60, 100))


def make_clip(
    folder: Path, name: str, content: Content, size: tuple[int, int], seed: int, kinds: list[str]
) -> Clip:
    """Write one clip, its index, its taught picture and its labels."""
    rng = np.random.default_rng(seed)
    rng.shuffle(kinds)
    plan = list(_plan(rng, kinds))
    frames_in_all = (plan[-1][0] + plan[-1][1] if plan else 500) + 60
    quality = int(rng.choice([75, 85, 92]))
    path = folder / f"{name}.mjpeg"
    card = no_signal_card(size)
    cv2.imwrite(str(folder / "card.jpg"), card, [cv2.IMWRITE_JPEG_QUALITY, 90])
    index, labels, late_ns = [], [], 0.0
    faults = {at + step: (at, kind) for at, length, kind in plan for step in range(length)}
    makes = {at: MAKES[kind](rng) for at, _, kind in plan if kind in MAKES}
    with path.open("wb") as file:
        for number, frame in enumerate(content(size)):
            if number >= frames_in_all:
                break
            at, kind = faults.get(number, (0, ""))
            used = quality
            if kind in MAKES:
                frame = makes[at](frame, number - at)
            elif kind == "nosignal":
                frame = card
            elif kind == "resolution":
                frame = cv2.resize(frame, (size[0] * 2 // 3, size[1] * 2 // 3))
            elif kind == "block":
                used = 6
            elif kind == "stall":
                late_ns += float(rng.uniform(0.25, 1.5)) * 1e9
            data = cv2.imencode(".jpg", frame, [cv2.IMWRITE_JPEG_QUALITY, used])[1].tobytes()
            index.append([file.tell(), len(data), round(number * PERIOD_NS + late_ns)])
            file.write(data)
    labels = [
        (at - 1, at, kind) if kind == "stall" else (at, at + length - 1, kind)
        for at, length, kind in plan
    ]
    about = {"fps": 60, "size": list(size), "taught_nosignal": ["card.jpg"], "frames": index}
    about["moving"] = True
    (folder / f"{name}.mjpeg.idx.json").write_text(json.dumps(about))
    with (folder / f"{name}.labels.csv").open("w", newline="") as table:
        csv.writer(table).writerows(labels)
    return Clip(path, labels, name)
