"""What moves and is drawn: clocks, maps, charts, tickers, games, walls of pictures, meters."""

from collections.abc import Hashable

import cv2
import numpy as np
from numpy.random import Generator

from judging.content import Content, Image, Size, Told, to_and_fro
from judging.drawing import HORIZON_S, any_face, colour, paste, plain, vivid, words, written
from judging.films import Photographs
from judging.pages import Menu, page_of_text
from judging.stills import COLOURFUL, photograph


class Clock(Content):
    """Faces of clocks; hands that jump each second, or sweep."""

    def __init__(self, size: Size, rng: Generator, sweeps: bool) -> None:
        self._rate_hz = 30 if sweeps else 1
        self._back = plain(size, colour(rng, 0, 256))
        self._faces = []
        for _ in range(int(rng.choice([1, 1, 2, 4]))):
            centre = (int(rng.uniform(0.25, 0.75) * size[0]), int(rng.uniform(0.3, 0.7) * size[1]))
            radius = int(rng.uniform(0.12, 0.42) * size[1])
            self._faces.append(
                (centre, radius, int(rng.integers(43200)), vivid(rng), colour(rng, 0, 60))
            )

        largest = max(radius for _, radius, _, _, _ in self._faces)
        step_s = 1.5 / (largest * 0.85 * 2 * np.pi / 60)  # until the longest tip is a pixel on
        super().__init__(size, Told(longest_still_s=0.1 + float(step_s) if sweeps else 1.05))

    def state(self, t_s: float) -> Hashable:
        return int(t_s * self._rate_hz + 1e-6)

    def draw(self, state: Hashable) -> Image:
        image = self._back.copy()
        for centre, radius, start, face, ink in self._faces:
            cv2.circle(image, centre, radius, face, -1, cv2.LINE_AA)
            for hour in range(12):
                self._hand(image, centre, hour / 12, (radius * 0.88, radius), ink, radius / 30)
            now = start + int(state) / self._rate_hz
            for turn_s, reach in ((43200, 0.5), (3600, 0.75), (60, 0.85)):
                self._hand(
                    image, centre, now / turn_s, (0, radius * reach), ink, radius / 25 * reach
                )
        return image

    @staticmethod
    def _hand(
        image: Image,
        centre: tuple[int, int],
        turn: float,
        reach: tuple[float, float],
        ink: tuple[int, int, int],
        thick: float,
    ) -> None:
        way = np.array([np.sin(turn * 2 * np.pi), -np.cos(turn * 2 * np.pi)])
        near = np.rint(np.array(centre) + way * reach[0]).astype(int)
        far = np.rint(np.array(centre) + way * reach[1]).astype(int)
        cv2.line(image, near.tolist(), far.tolist(), ink, max(1, int(thick)), cv2.LINE_AA)


class Map(Content):
    """A map of streets, water and names that moves below a mark, or a mark that moves on it."""

    def __init__(self, size: Size, rng: Generator, pans: bool) -> None:
        super().__init__(size, Told(longest_still_s=0.1))
        self._pans = pans
        self._speed = rng.uniform(15, 60) * size[1] / 480
        self._phase = float(rng.uniform(0, 6))
        self._mark = (40, 40, 230)
        self._map = self._drawn_map(rng)

    def state(self, t_s: float) -> Hashable:
        return int(t_s * 30 + 1e-6)

    def draw(self, state: Hashable) -> Image:
        into_s = int(state) / 30
        width, rows = self.size
        slack = np.array([self._map.shape[1] - width, self._map.shape[0] - rows])
        way = [to_and_fro(into_s, self._speed / reach, self._phase) for reach in slack]
        left, top = (int(one) for one in (slack * way if self._pans else slack / 2))
        image = self._map[top : top + rows, left : left + width].copy()
        centre = np.array([width, rows]) * (0.5 if self._pans else 0.1 + 0.8 * np.array(way))
        at = tuple(int(one) for one in centre)
        cv2.circle(image, at, max(5, rows // 60), self._mark, -1, cv2.LINE_AA)
        cv2.circle(image, at, max(7, rows // 45), (255, 255, 255), 2, cv2.LINE_AA)
        return image

    def _drawn_map(self, rng: Generator) -> Image:
        width, rows = (int(side * 1.5) for side in self.size)
        image = plain((width, rows), colour(rng, 215, 245))
        for _ in range(8):
            points = rng.uniform(0, 1, (6, 2)) * rng.uniform(0.1, 0.4) + rng.uniform(0, 1, 2)
            outline = cv2.convexHull((points * (width, rows)).astype(np.int32))
            cv2.fillPoly(
                image, [outline], (210, 170, 130) if rng.random() < 0.4 else (150, 205, 160)
            )
        for _ in range(40):
            ends = (rng.uniform(-0.1, 1.1, (2, 2)) * (width, rows)).astype(int)
            thick = int(rng.integers(1, 9) * rows / 700) + 1
            ink = (255, 255, 255) if rng.random() < 0.7 else (90, 190, 250)
            cv2.line(
                image, ends[0].tolist(), ends[1].tolist(), (150, 150, 150), thick + 2, cv2.LINE_AA
            )
            cv2.line(image, ends[0].tolist(), ends[1].tolist(), ink, thick, cv2.LINE_AA)
        for _ in range(30):
            at = (int(rng.uniform(0, width)), int(rng.uniform(0, rows)))
            scale = rows / 1100 * rng.uniform(0.6, 1.4)
            cv2.putText(
                image,
                words(rng, 1),
                at,
                cv2.FONT_HERSHEY_SIMPLEX,
                scale,
                (60, 60, 60),
                1,
                cv2.LINE_AA,
            )
        return image


class Chart(Content):
    """Curves that are drawn on as time goes, some times a second."""

    def __init__(self, size: Size, rng: Generator) -> None:
        self._rate_hz = int(rng.choice([2, 5, 25]))
        super().__init__(size, Told(longest_still_s=1 / self._rate_hz + 0.05))
        dark = rng.random() < 0.5
        self._back = plain(size, (20, 20, 20) if dark else (250, 250, 250))
        for part in range(1, 8):
            x = size[0] * part // 8
            y = size[1] * part // 8
            cv2.line(self._back, (x, 0), (x, size[1]), (120, 120, 120), 1)
            cv2.line(self._back, (0, y), (size[0], y), (120, 120, 120), 1)
            cv2.putText(
                self._back,
                str(part * 10),
                (4, y - 3),
                cv2.FONT_HERSHEY_SIMPLEX,
                size[1] / 1000,
                (120, 120, 120),
                1,
            )
        steps = rng.normal(0, 0.02, (4, int(HORIZON_S * self._rate_hz) + 400))
        self._courses = 0.5 + 0.35 * np.sin(np.cumsum(steps, axis=1))
        self._inks = [vivid(rng, 200) for _ in range(4)]

    def state(self, t_s: float) -> Hashable:
        return int(t_s * self._rate_hz + 1e-6)

    def draw(self, state: Hashable) -> Image:
        image = self._back.copy()
        first = int(state)
        xs = np.linspace(self.size[0] * 0.05, self.size[0] * 0.95, 200)
        for course, ink in zip(self._courses, self._inks, strict=True):
            ys = course[first : first + 200] * self.size[1]
            points = np.stack([xs, ys], axis=1).astype(np.int32)
            cv2.polylines(image, [points], False, ink, max(1, self.size[1] // 270), cv2.LINE_AA)
        return image


class Ticker(Content):
    """A page or a photograph that stands, with a line of news running below."""

    def __init__(self, size: Size, rng: Generator) -> None:
        super().__init__(size, Told(longest_still_s=0.1))
        self._rate_hz = int(rng.choice([25, 30, 50, 60]))
        self._speed = float(rng.uniform(60, 200) * size[0] / 640)
        if rng.random() < 0.5:
            self._back = page_of_text(size, rng)
        else:
            name = COLOURFUL[int(rng.integers(len(COLOURFUL)))]
            self._back = np.asarray(cv2.resize(photograph(name), size), np.uint8)
        height = size[1] * rng.uniform(0.05, 0.09)
        on = colour(rng, 0, 110)
        line = written(words(rng, 60), any_face(rng), height, (250, 250, 250), on)
        self._line = np.hstack([line, line])
        self._top = int(size[1] * rng.choice([0.02, 0.85]))

    def state(self, t_s: float) -> Hashable:
        return int(t_s * self._rate_hz + 1e-6)

    def draw(self, state: Hashable) -> Image:
        image = self._back.copy()
        into_s = int(state) / self._rate_hz
        left = int(self._speed * into_s) % (self._line.shape[1] // 2)
        paste(image, self._line[:, left : left + self.size[0]], 0, self._top)
        return image


class Game(Content):
    """A landscape of blocks that scrolls by, things that jump, and points that are counted."""

    def __init__(self, size: Size, rng: Generator) -> None:
        super().__init__(size, Told(longest_still_s=0.1))
        self._rate_hz = int(rng.choice([30, 60]))
        self._tile = size[1] // int(rng.choice([12, 16]))
        sky = colour(rng, 90, 256) if rng.random() < 0.6 else (0, 0, 0)
        columns = size[0] // self._tile * 3
        self._world = plain((columns * self._tile, size[1]), sky)
        inks = [vivid(rng, int(rng.integers(90, 240))) for _ in range(5)]
        heights = np.clip(3 + np.cumsum(rng.integers(-1, 2, columns)), 1, 7)
        for column in range(columns):
            for up in range(int(heights[column])):
                top = size[1] - (up + 1) * self._tile
                corner = (column * self._tile, top)
                far = (corner[0] + self._tile - 2, top + self._tile - 2)
                cv2.rectangle(self._world, corner, far, inks[(up + column // 7) % 5], -1)
        self._world = np.hstack([self._world, self._world[:, : size[0]]])
        self._speed = float(rng.uniform(40, 160) * size[1] / 480)
        self._movers = [(rng.uniform(0, 1, 4), vivid(rng)) for _ in range(6)]

    def state(self, t_s: float) -> Hashable:
        return int(t_s * self._rate_hz + 1e-6)

    def draw(self, state: Hashable) -> Image:
        into_s = int(state) / self._rate_hz
        left = int(into_s * self._speed) % (self._world.shape[1] - self.size[0])
        image = self._world[:, left : left + self.size[0]].copy()
        for (x, y, fast, high), ink in self._movers:
            at_x = int((x + into_s * (fast - 0.5) * 0.4) % 1 * self.size[0])
            up = abs(np.sin(into_s * (1 + 3 * fast))) * high * 0.3
            at_y = int((0.25 + 0.5 * y - up) * self.size[1])
            far = (at_x + self._tile, at_y + self._tile)
            cv2.rectangle(image, (at_x, at_y), far, ink, -1)
        said = f"{int(into_s * 10) * 10:06d}"
        at = (self.size[0] // 20, self.size[1] // 12)
        cv2.putText(
            image, said, at, cv2.FONT_HERSHEY_DUPLEX, self.size[1] / 500, (255, 255, 255), 2
        )
        return image


class Wall(Content):
    """A wall of nine small pictures: photographs, menus, clocks, charts and a game."""

    def __init__(self, size: Size, rng: Generator) -> None:
        super().__init__(size, Told(longest_still_s=0.1))
        small = (size[0] // 3, size[1] // 3)
        self._parts: list[Content] = [Game(small, rng), Clock(small, rng, True), Chart(small, rng)]
        self._parts += [Photographs(small, rng) for _ in range(3)]
        self._parts += [Menu(small, rng, 1.0), Map(small, rng, True), Ticker(small, rng)]
        order = rng.permutation(len(self._parts))
        self._parts = [self._parts[int(place)] for place in order]

    def state(self, t_s: float) -> Hashable:
        return int(t_s * 30 + 1e-6)

    def draw(self, state: Hashable) -> Image:
        into_s = int(state) / 30
        image = plain(self.size, (10, 10, 10))
        for number, part in enumerate(self._parts):
            left = number % 3 * (self.size[0] // 3)
            paste(image, part.picture(into_s), left, number // 3 * (self.size[1] // 3))
        return image


class Meters(Content):
    """Level meters of a mixing desk on dark or light, and numbers below them."""

    def __init__(self, size: Size, rng: Generator) -> None:
        self._rate_hz = int(rng.choice([10, 25, 50]))
        super().__init__(size, Told(longest_still_s=1 / self._rate_hz + 0.05))
        self._back = plain(size, colour(rng, 0, 60))
        self._count = int(rng.choice([2, 6, 16]))
        self._levels = rng.uniform(0.05, 1, (self._count, int(HORIZON_S * self._rate_hz) + 2))

    def state(self, t_s: float) -> Hashable:
        return int(t_s * self._rate_hz + 1e-6)

    def draw(self, state: Hashable) -> Image:
        image = self._back.copy()
        step = int(state)
        width = self.size[0] * 0.9 / self._count
        for number in range(self._count):
            left = int(self.size[0] * 0.05 + number * width)
            right = int(left + width * 0.6)
            level = self._levels[number, step % self._levels.shape[1]]
            for part in range(int(level * 20) + 1):
                bottom = int(self.size[1] * (0.85 - part * 0.038))
                ink = (60, 220, 60) if part < 13 else (40, 220, 230) if part < 17 else (40, 40, 235)
                cv2.rectangle(image, (left, bottom - self.size[1] // 36), (right, bottom), ink, -1)
            at = (left, int(self.size[1] * 0.94))
            said = f"{20 * np.log10(level):.0f}"
            cv2.putText(
                image, said, at, cv2.FONT_HERSHEY_SIMPLEX, self.size[1] / 900, (220, 220, 220), 1
            )
        return image


def clocks(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return clock faces whose hands jump or sweep."""
    return Clock(size, rng, occurrence % 2 == 0)


def maps(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return a map that moves, or on which something moves."""
    return Map(size, rng, occurrence % 2 == 0)


def charts(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return curves that grow."""
    del occurrence
    return Chart(size, rng)


def ticker(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return running news."""
    del occurrence
    return Ticker(size, rng)


def games(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return a game that is played."""
    del occurrence
    return Game(size, rng)


def walls(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return a wall of pictures."""
    del occurrence
    return Wall(size, rng)


def meters(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return level meters."""
    del occurrence
    return Meters(size, rng)
