"""What lives on black: credits, starry nights, a small logo, a spinner, a lone pointer, savers."""

from collections.abc import Hashable

import cv2
import numpy as np
from numpy.random import Generator

from judging.content import Content, Image, Size, Told, to_and_fro
from judging.drawing import Sheet, any_face, plain, vivid, words

_RATE_HZ = 30


class _Ticking(Content):
    """What changes with every picture of its own."""

    rate_hz = _RATE_HZ

    def state(self, t_s: float) -> Hashable:
        return int(t_s * self.rate_hz + 1e-6)

    def now(self, state: Hashable) -> float:
        """Return the time of a state, s."""
        return int(state) / self.rate_hz


class Credits(_Ticking):
    """Names that scroll up on black; between the blocks the screen holds a few lines only."""

    def __init__(self, size: Size, rng: Generator) -> None:
        super().__init__(size, Told(longest_still_s=0.1))
        self.rate_hz = int(rng.choice([24, 30, 60]))
        height = size[1] * rng.uniform(0.03, 0.055)
        face = any_face(rng)
        sheet = Sheet((size[0], size[1] * 3), (0, 0, 0))
        row = 0.0
        level = int(rng.integers(110, 256))
        while row < size[1] * 3 - 2 * height:
            sheet.text((size[0] * 0.2, row), words(rng, 2), face, height, (level, level, level))
            sheet.text((size[0] * 0.55, row), words(rng, 2), face, height, (level // 2 + 60,) * 3)
            row += height * rng.choice([1.5, 1.5, 2.5])
        page = sheet.done()
        self._roll = np.vstack([page, page[: size[1]]])
        self._speed = float(rng.uniform(30, 120) * size[1] / 480)

    def draw(self, state: Hashable) -> Image:
        top = int(self.now(state) * self._speed) % (self.size[1] * 3)
        return self._roll[top : top + self.size[1]]


class Stars(_Ticking):
    """Stars: they twinkle where they stand, drift, or fly by; some a single pixel."""

    def __init__(self, size: Size, rng: Generator, how: str) -> None:
        super().__init__(size, Told(longest_still_s=0.1, dots=True))
        self._how = how
        count = int(rng.choice([60, 200, 600]))
        self._at = rng.uniform(0, 1, (count, 2)) * size
        self._level = rng.uniform(60, 255, count)
        self._phase = rng.uniform(0, 6.3, count)
        self._pace = rng.uniform(1, 6, count)
        self._radius = rng.choice([0, 0, 0, 1, 2], count)
        self._speed = float(rng.uniform(10, 40) * size[1] / 480)

    def draw(self, state: Hashable) -> Image:
        image = plain(self.size, (0, 0, 0))
        into_s = self.now(state)
        at = self._at
        if self._how == "drift":
            at = (at + np.array([self._speed * into_s, 0])) % self.size
        elif self._how == "fly":
            centre = np.array(self.size) / 2
            reach = (self._phase / 6.3 + into_s * 0.12 * self._pace / 3) % 1
            at = centre + (at - centre) * (reach[:, None] * 1.6)
        level = self._level
        if self._how == "twinkle":
            level = level * (0.6 + 0.4 * np.sin(into_s * self._pace + self._phase))
        for (x, y), bright, radius in zip(at, level, self._radius, strict=True):
            ink = (int(bright), int(bright), int(bright * 0.9))
            cv2.circle(image, (int(x), int(y)), int(radius), ink, -1)
        return image


class Logo(_Ticking):
    """A small logo on black that stands, pulses, or changes to another."""

    def __init__(self, size: Size, rng: Generator, stands: bool) -> None:
        still_s = 120.0 if stands else 0.5
        super().__init__(size, Told(longest_still_s=still_s, cyclic=not stands))
        self._stands = stands
        height = size[1] * rng.uniform(0.03, 0.1)
        sheet = Sheet(size, (0, 0, 0))
        left, top = rng.uniform(0.2, 0.6, 2) * size
        sheet.text((left, top), words(rng, 1)[:8], any_face(rng), height, vivid(rng, 220))
        self._back = sheet.done()
        self._turn_s = float(rng.uniform(1.5, 4))

    def state(self, t_s: float) -> Hashable:
        return 0 if self._stands else super().state(t_s)

    def draw(self, state: Hashable) -> Image:
        if self._stands:
            return self._back
        light = 0.6 + 0.4 * np.sin(self.now(state) * 2 * np.pi / self._turn_s)
        return np.asarray(cv2.convertScaleAbs(self._back, alpha=light), np.uint8)


class Spinner(_Ticking):
    """A ring of dots that turns on black or on a dark page."""

    rate_hz = 12

    def __init__(self, size: Size, rng: Generator) -> None:
        super().__init__(size, Told(longest_still_s=0.15, cyclic=True))
        back = int(rng.choice([0, 0, 18]))
        self._back = plain(size, (back, back, back))
        self._centre = (rng.uniform(0.4, 0.6, 2) * size).astype(int)
        self._radius = float(size[1] * rng.uniform(0.02, 0.07))
        self._ink = int(rng.integers(120, 256))

    def draw(self, state: Hashable) -> Image:
        image = self._back.copy()
        step = int(state) % 12
        for dot in range(12):
            turn = dot / 12 * 2 * np.pi
            at = self._centre + self._radius * np.array([np.sin(turn), -np.cos(turn)])
            level = max(25, self._ink - (step - dot) % 12 * 18)
            size = max(1, int(self._radius / 6))
            cv2.circle(image, at.astype(int).tolist(), size, (level,) * 3, -1, cv2.LINE_AA)
        return image


class Pointer(_Ticking):
    """A lone mouse pointer on a black screen, moved now and then."""

    def __init__(self, size: Size, rng: Generator) -> None:
        super().__init__(size, Told(longest_still_s=0.1))
        self._way = rng.uniform(0.3, 1.1, 4)
        self._high = max(8, size[1] // 30)

    def draw(self, state: Hashable) -> Image:
        image = plain(self.size, (0, 0, 0))
        into_s = self.now(state)
        x = (0.1 + 0.8 * to_and_fro(into_s, self._way[0] / 3, self._way[2])) * self.size[0]
        y = (0.1 + 0.8 * to_and_fro(into_s, self._way[1] / 3, self._way[3])) * self.size[1]
        arrow = np.array([[0, 0], [0, 1], [0.25, 0.78], [0.6, 0.72]]) * self._high + [x, y]
        cv2.fillPoly(image, [arrow.astype(np.int32)], (255, 255, 255))
        return image


class Saver(_Ticking):
    """A screen saver: a word that is thrown from edge to edge, or lines that wander."""

    def __init__(self, size: Size, rng: Generator, lines: bool) -> None:
        super().__init__(size, Told(longest_still_s=0.1))
        self.rate_hz = int(rng.choice([30, 60]))
        self._lines = lines
        self._ways = rng.uniform(0.3, 1.6, (4, 2))
        self._phases = rng.uniform(0, 6.3, (4, 2))
        self._ink = vivid(rng)
        self._said = words(rng, 1)[:7]

    def draw(self, state: Hashable) -> Image:
        image = plain(self.size, (0, 0, 0))
        into_s = self.now(state)
        for late in range(8 if self._lines else 1):
            angle = self._ways * (into_s - late * 0.07) + self._phases
            at = ((np.arcsin(np.sin(angle)) / np.pi + 0.5) * self.size).astype(np.int32)
            if self._lines:
                cv2.polylines(image, [at], True, self._ink, 1, cv2.LINE_AA)
            else:
                scale = self.size[1] / 300
                corner = (at[0] * 0.75 + [5, self.size[1] * 0.15]).astype(int).tolist()
                cv2.putText(image, self._said, corner, cv2.FONT_HERSHEY_DUPLEX, scale, self._ink, 3)
        return image


def credits_roll(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return credits."""
    del occurrence
    return Credits(size, rng)


def stars(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return a starry night."""
    return Stars(size, rng, ("twinkle", "drift", "fly")[occurrence % 3])


def logos(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return a small logo, a spinner or a lone pointer on black."""
    kind = occurrence % 4
    if kind == 2:
        return Spinner(size, rng)
    if kind == 3:
        return Pointer(size, rng)
    return Logo(size, rng, kind == 0)


def savers(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return a screen saver."""
    return Saver(size, rng, occurrence % 2 == 1)
