"""Capture cards that misbehave, and watchers to watch them with, for a capture's child process.

All of it pickles and is found by name there. What a card does the n-th time it is opened is the
n-th word of its story, the last one from then on; a file counts the openings across processes.
"""

import os
import time
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

from soak.bench.capture.video_stream import Asked, CannotOpen, Frame
from soak.clock import boot_time_s
from soak.records import KeptFile, Reading, State

PERIOD_S = 0.02
GOOD_PICTURES = 15


class PretendCard:
    """One opened card: `good` delivers, `hangs` delivers some and then never returns."""

    def __init__(self, word: str) -> None:
        scene = np.random.default_rng(5).integers(40, 220, (48, 64, 3), dtype=np.uint8)
        rolled = [np.roll(scene, 3 * step, axis=1) for step in range(10)]
        self._packets = [cv2.imencode(".jpg", frame)[1].reshape(1, -1) for frame in rolled]
        self._word, self._count = word, 0
        self.identity = {"source": "pretend"}

    def read(self) -> Frame:
        time.sleep(PERIOD_S)
        self._count += 1
        if self._word == "hangs" and self._count > GOOD_PICTURES:
            time.sleep(3600)
        return Frame("mjpeg", (64, 48), self._packets[self._count % 10])

    def close(self) -> None:
        pass


@dataclass(frozen=True)
class PretendOpener:
    """Opens a card in the way that its story says."""

    story: tuple[str, ...]
    openings: Path

    def __call__(self, asked: Asked) -> PretendCard:
        with self.openings.open("a") as file:
            file.write(f"{os.getpid()}\n")
        count = len(self.pids())
        word = self.story[min(count, len(self.story)) - 1]
        if word == "missing":
            raise CannotOpen("there is no card; plug it in")
        if word == "does not open":
            time.sleep(3600)
        return PretendCard(word)

    def pids(self) -> list[int]:
        """Return the processes that have opened the card so far."""
        return [int(line) for line in self.openings.read_text().split()]


@dataclass
class Counting:
    """A watcher that counts pictures, tells some of them, and has evidence of the first."""

    breaks_at: int = 0
    tells_every: int = 10
    count: int = 0
    states: list[str] = field(default_factory=list)

    def look(self, picture):
        self.count += 1
        if self.count == self.breaks_at:
            raise ValueError("no such\npicture")
        if self.count == 1:
            shown = KeptFile(picture.t_s, "capture-1.jpg", "image/jpeg", "", "capture")
            return (State(picture.t_s, "capture", "picture"), (shown, bytes(picture.data)))
        if self.count % self.tells_every == 0:
            return (Reading(picture.t_s, "capture.count", self.count),)
        return ()

    def idle(self, t_s):
        return ()


class Clocking:
    """A watcher that tells the boot clock at each picture."""

    def look(self, picture):
        return (Reading(picture.t_s, "capture.boot_s", boot_time_s()),)

    def idle(self, t_s):
        return ()
