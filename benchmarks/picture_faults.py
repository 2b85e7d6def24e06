"""Labelled clips: contents with known faults, as JPEG pictures back to back with an index.

A content is made once; each of its clips holds the same clean pictures and its own faults.
"""

import csv
import json
import os
import zlib
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import cv2
import numpy as np
from picture_contents import Content, Noise

PERIOD_NS = 1e9 / 60
KINDS = (
    *("black", "nosignal", "freeze", "stall", "resolution"),
    *("tint", "sparkle", "torn", "block"),
)
Fault = tuple[int, int, str]
"""First faulty frame, length in frames, kind."""
Make = Callable[[np.ndarray, int], np.ndarray]
"""Takes the frame of the content and its number within the fault."""
FIRST_FAULT, REST = (75, 130), (45, 100)
LENGTHS = {"black": (1, 60), "nosignal": (1, 60), "resolution": (2, 60), "freeze": (30, 120)}
USUAL_LENGTH = (6, 60)
QUALITIES = (60, 75, 85, 90)
"""Of the JPEG packets; each content has its own."""
SPARKLING = 1e-4
"""Share of all pixels that are sparks."""


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
        return _with_noise(flat, sigma)

    return make


def _freeze(rng: np.random.Generator) -> Make:
    kept: list[np.ndarray] = []
    sigma = float(rng.choice([0.0, 0.0, 1.0]))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        kept.append(frame)
        del kept[1:]
        return _with_noise(kept[0], sigma)

    return make


def _with_noise(frame: np.ndarray, sigma: float) -> np.ndarray:
    if not sigma:
        return frame
    noise = np.empty(frame.shape, np.int16)
    cv2.randn(noise, 0, sigma)
    return cv2.add(frame, noise, dtype=cv2.CV_8U)


def _tint(rng: np.random.Generator) -> Make:
    lane, value = int(rng.integers(3)), int(rng.choice([0, 0, 128, 255]))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        made = frame.copy()
        made[..., lane] = value
        return made

    return make


def _sparkle(rng: np.random.Generator) -> Make:
    white = bool(rng.integers(2))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        made = frame.copy()
        count = rng.binomial(frame.shape[0] * frame.shape[1], SPARKLING)
        rows, columns = (rng.integers(side, size=count) for side in frame.shape[:2])
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


def _resolution(rng: np.random.Generator) -> Make:
    share = float(rng.choice([1 / 3, 1 / 2, 2 / 3]))

    def make(frame: np.ndarray, _: int) -> np.ndarray:
        size = (round(frame.shape[1] * share), round(frame.shape[0] * share))
        return cv2.resize(frame, size, interpolation=cv2.INTER_AREA)

    return make


MAKES: dict[str, Callable[[np.random.Generator], Make]] = {
    "black": _black,
    "freeze": _freeze,
    "resolution": _resolution,
    "tint": _tint,
    "sparkle": _sparkle,
    "torn": _torn,
}


class Plan:
    """The faults of one clip and how they are made."""

    def __init__(self, seed: Sequence[int], kinds: Sequence[str] = KINDS) -> None:
        self._rng = np.random.default_rng(seed)
        order = list(kinds)
        self._rng.shuffle(order)
        self.faults = list(self._faults(order))
        at, length, _ = self.faults[-1]
        self.frames = at + length + int(self._rng.integers(*REST))
        self._at = {one[0] + step: one for one in self.faults for step in range(one[1])}
        self._makes = {one[0]: MAKES[one[2]](self._rng) for one in self.faults if one[2] in MAKES}

    def _faults(self, order: list[str]) -> Iterator[Fault]:
        at = int(self._rng.integers(*FIRST_FAULT))
        for kind in order:
            least, most = LENGTHS.get(kind, USUAL_LENGTH)
            # Short ones are as likely as long ones.
            length = round(np.exp(self._rng.uniform(np.log(least), np.log(most))))
            yield at, 1 if kind == "stall" else length, kind
            at += length + int(self._rng.integers(*REST))

    def fault_at(self, number: int) -> Fault | None:
        """Return the fault that a frame is part of."""
        return self._at.get(number)

    def make(self, fault: Fault, frame: np.ndarray, number: int) -> np.ndarray:
        """Return the faulty frame."""
        return self._makes[fault[0]](frame, number - fault[0])

    def times_ns(self) -> list[int]:
        """Return the time of each frame, stalls and a little jitter in it."""
        late_ns, times = 0.0, []
        stalls = {at for at, _, kind in self.faults if kind == "stall"}
        for number in range(self.frames):
            if number in stalls:
                late_ns += float(self._rng.uniform(0.25, 1.5)) * 1e9
            jitter_ns = float(self._rng.uniform(-5e5, 5e5))
            times.append(round(number * PERIOD_NS + late_ns + jitter_ns + 1e6))
        return times

    def labels(self) -> list[tuple[int, int, str]]:
        """Return first and last frame and kind of each fault; a stall lies between two."""
        return [
            (at - 1, at, kind) if kind == "stall" else (at, at + length - 1, kind)
            for at, length, kind in self.faults
        ]


def make_clips(
    folder: Path,
    name: str,
    content: Content,
    size: tuple[int, int],
    plans: list[Plan],
    sigma: float,
) -> None:
    """Write the clips of one content, their indexes, taught picture and labels.

    All clips of a content are one file under several names, so that clean pictures are held once.
    """
    quality = QUALITIES[zlib.crc32(name.encode()) % len(QUALITIES)]
    noise = Noise(size, sigma, 5) if sigma else None
    card = no_signal_card(size)
    cv2.imwrite(str(folder / "card.jpg"), card, [cv2.IMWRITE_JPEG_QUALITY, 90])
    card_packet = _jpeg(card, quality)
    indexes: list[list[tuple[int, int]]] = [[] for _ in plans]
    path = folder / f"{name}.packets"
    frames = content(size)
    with path.open("wb") as file:

        def put(data: bytes) -> tuple[int, int]:
            place = (file.tell(), len(data))
            file.write(data)
            return place

        card_place = put(card_packet)
        for number in range(max(plan.frames for plan in plans)):
            frame, clean = next(frames), None
            seen = noise.on(frame) if noise else frame
            for plan, index in zip(plans, indexes, strict=True):
                if number >= plan.frames:
                    continue
                fault = plan.fault_at(number)
                if fault is None or fault[2] == "stall":
                    clean = clean or put(_jpeg(seen, quality))
                    index.append(clean)
                elif fault[2] == "nosignal":
                    index.append(card_place)
                elif fault[2] == "block":
                    index.append(put(_jpeg(seen, 6)))
                else:
                    made = plan.make(fault, frame, number)
                    index.append(put(_jpeg(noise.on(made) if noise else made, quality)))
    for turn, (plan, index) in enumerate(zip(plans, indexes, strict=True)):
        _write_clip(folder / f"{name}-{turn}.mjpeg", path, size, plan, index)
    path.unlink()


def _jpeg(frame: np.ndarray, quality: int) -> bytes:
    return cv2.imencode(".jpg", frame, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()


def _write_clip(
    clip: Path, packets: Path, size: tuple[int, int], plan: Plan, index: list[tuple[int, int]]
) -> None:
    clip.unlink(missing_ok=True)
    os.link(packets, clip)
    times = plan.times_ns()
    frames = [[*place, at_ns] for place, at_ns in zip(index, times, strict=True)]
    about = {"fps": 60, "size": list(size), "taught_nosignal": ["card.jpg"], "frames": frames}
    about["moving"] = True
    clip.with_name(clip.name + ".idx.json").write_text(json.dumps(about))
    with clip.with_suffix(".labels.csv").open("w", newline="") as table:
        csv.writer(table).writerows(plan.labels())
