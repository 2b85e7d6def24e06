"""Film: shots that are cut hard, in colour, dark, and black-and-white; photographs one by one."""

from collections.abc import Hashable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.random import Generator

from judging.content import Content, Image, Size, Told, index_at, moments
from judging.drawing import HORIZON_S, Sheet, colour, vivid, words
from judging.noise import Noise
from judging.stills import CLIPS, COLOURFUL, PHOTOGRAPHS, photograph, shot

CLIP_USES = 3
"""So many seeds show the open clips; every second of them is then used up. The rest is made."""
_CLIP_PICTURES = 60
_CLIP_RATE_HZ = 25
_SMALL = 700
_FILM_RATES_HZ = (24, 25, 30, 60)


@dataclass(frozen=True, slots=True)
class Look:
    """How a film is graded: `gain` of levels, `grey` without colour, `titles` share of cards."""

    gain: float = 1.0
    grey: bool = False
    titles: float = 0.0
    grain: float = 3.0


def shown_of_clip(seed: int, number: int) -> range:
    """Return which pictures of an open clip one of the first seeds shows."""
    first = seed * _CLIP_PICTURES % max(1, CLIPS[number][1] - _CLIP_PICTURES)
    return range(first, first + _CLIP_PICTURES)


class Film(Content):
    """Shots of 1 to 5 s: a camera that moves over a scene, somebody moving in it, title cards."""

    def __init__(self, size: Size, rng: Generator, look: Look, clip: int | None = None) -> None:
        hold_s = 3.0 if look.titles else 0.1
        super().__init__(size, Told(longest_still_s=hold_s, longest_black_s=0.0))
        self._look = look
        self._clip = clip
        self._seed = int(rng.integers(2**31))
        self._rate_hz = int(rng.choice(_FILM_RATES_HZ))
        self._cuts = moments(rng, 1.0, 2.8 if look.titles else 5.0, HORIZON_S)
        self._grain = Noise.of_grain(size, rng, look.grain)
        self._scene = (-1, np.zeros((1, 1, 3), np.uint8))

    def state(self, t_s: float) -> Hashable:
        number = index_at(self._cuts, t_s)
        if self._is_title(number):
            return (number, 0)
        return (number, int((t_s - self._cuts[number]) * self._rate_hz + 1e-6))

    def draw(self, state: Hashable) -> Image:
        number, step = state
        if self._is_title(number):
            return self._graded(self._title(number))
        into_s = step / self._rate_hz
        if self._clip is not None and number % 2 == 0 and number // 2 < len(CLIPS):
            image = self._from_clip(self._clip, number // 2, into_s)
            if image is not None:
                return self._graded(image)
        image = self._camera(number, into_s)
        return self._graded(self._grain.over(image, number * 1009 + step))

    def _is_title(self, number: int) -> bool:
        return bool(np.random.default_rng([self._seed, number, 1]).random() < self._look.titles)

    def _title(self, number: int) -> Image:
        rng = np.random.default_rng([self._seed, number, 2])
        sheet = Sheet(self.size, (12, 12, 12))
        height = self.size[1] / 9
        for line in range(int(rng.integers(1, 4))):
            top = self.size[1] * 0.3 + line * height * 1.5
            sheet.text(
                (self.size[0] * 0.15, top), words(rng, 3), "DejaVuSerif", height, (225, 235, 240)
            )
        return sheet.done()

    def _from_clip(self, clip: int, number: int, into_s: float) -> Image | None:
        """Return what an open clip shows then, None after its end."""
        part = shown_of_clip(clip, number)
        place = int(into_s * _CLIP_RATE_HZ)
        if place >= len(part):
            return None
        one = shot(CLIPS[number][0], part.start, len(part))[place]
        return np.asarray(cv2.resize(one, self.size, interpolation=cv2.INTER_LINEAR), np.uint8)

    def _camera(self, number: int, into_s: float) -> Image:
        rng = np.random.default_rng([self._seed, number, 3])
        scene = self._drawn_scene(number)
        scale = self.size[0] / scene.shape[1] * rng.uniform(1.3, 2.2)
        grows = rng.uniform(-0.04, 0.04)
        slack_x = scene.shape[1] * scale - self.size[0]
        slack_y = scene.shape[0] * scale - self.size[1]
        start = rng.uniform(0.1, 0.9, 2)
        speed = rng.uniform(0.02, 0.08, 2) * rng.choice([-1, 1], 2)
        at = np.abs((start + speed * into_s + 1) % 2 - 1)
        scale_now = scale * (1 + grows * into_s)
        left = -slack_x * at[0]
        top = -slack_y * at[1]
        half = 2 if self.size[0] > _SMALL else 1  # a film is soft; this costs a third
        matrix = np.array([[scale_now, 0, left], [0, scale_now, top]]) / half
        small = (self.size[0] // half, self.size[1] // half)
        image = cv2.warpAffine(scene, matrix, small, borderMode=cv2.BORDER_REFLECT)
        image = image if half == 1 else cv2.resize(image, self.size)
        self._actors(image, rng, into_s)
        return np.asarray(image, np.uint8)

    def _drawn_scene(self, number: int) -> Image:
        if self._scene[0] != number:
            rng = np.random.default_rng([self._seed, number, 4])
            image = photograph(PHOTOGRAPHS[int(rng.integers(len(PHOTOGRAPHS)))])
            self._scene = (number, image[:, ::-1].copy() if rng.random() < 0.5 else image)
        return self._scene[1]

    def _actors(self, image: Image, rng: Generator, into_s: float) -> None:
        width, rows = self.size
        for _ in range(int(rng.integers(1, 4))):
            x, y = rng.uniform(0, 1, 2)
            way_x, way_y = rng.uniform(0.08, 0.25, 2) * rng.choice([-1, 1], 2)
            centre = (int((x + way_x * into_s) % 1 * width), int((y + way_y * into_s) % 1 * rows))
            axes = (int(rng.uniform(0.03, 0.1) * width), int(rng.uniform(0.05, 0.2) * rows))
            sway = 15 * np.sin(into_s * rng.uniform(2, 6))
            cv2.ellipse(image, centre, axes, sway, 0, 360, colour(rng, 20, 235), -1, cv2.LINE_AA)

    def _graded(self, image: Image) -> Image:
        if self._look.grey:
            grey = cv2.cvtColor(image, cv2.COLOR_BGR2GRAY)
            image = np.asarray(cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR), np.uint8)
        if self._look.gain != 1.0:
            levels = np.clip(np.arange(256) * self._look.gain + 4, 0, 255).astype(np.uint8)
            image = np.asarray(cv2.LUT(image, levels), np.uint8)
        return image


class Photographs(Content):
    """Photographs that stand for some seconds each, changed by a cut, a fade or through black."""

    def __init__(self, size: Size, rng: Generator) -> None:
        self._change_s = float(rng.choice([0.0, 0.5, 1.0, 2.0]))
        self._through_black = bool(rng.random() < 0.4) and self._change_s > 0
        black_s = 0.3 * self._change_s + 0.1 if self._through_black else 0.0
        super().__init__(size, Told(longest_still_s=4.0, longest_black_s=black_s))
        self._seed = int(rng.integers(2**31))
        self._times = moments(rng, 1.0 + self._change_s, 4.0, HORIZON_S)
        self._kept: dict[int, Image] = {}

    def state(self, t_s: float) -> Hashable:
        number = index_at(self._times, t_s)
        left_s = self._times[number + 1] - t_s
        if left_s >= self._change_s:
            return (number, 0)
        return (number, int((1 - left_s / self._change_s) * self._change_s * 30) + 1)

    def draw(self, state: Hashable) -> Image:
        number, step = state
        if step == 0:
            return self._still(number)
        share = min(1.0, step / (self._change_s * 30 + 1))
        if not self._through_black:
            mixed = cv2.addWeighted(
                self._still(number), 1 - share, self._still(number + 1), share, 0
            )
            return np.asarray(mixed, np.uint8)
        shown, light = (number, 1 - 2 * share) if share < 0.5 else (number + 1, 2 * share - 1)
        return np.asarray(cv2.convertScaleAbs(self._still(shown), alpha=light), np.uint8)

    def _still(self, number: int) -> Image:
        if number not in self._kept:
            if len(self._kept) > 1:
                del self._kept[min(self._kept)]
            self._kept[number] = self._made(np.random.default_rng([self._seed, number]))
        return self._kept[number]

    def _made(self, rng: Generator) -> Image:
        names = COLOURFUL if rng.random() < 0.7 else PHOTOGRAPHS
        image = photograph(names[int(rng.integers(len(names)))])
        share = rng.uniform(0.5, 0.95)
        rows, columns = (int(side * share) for side in image.shape[:2])
        top = int(rng.integers(image.shape[0] - rows))
        left = int(rng.integers(image.shape[1] - columns))
        part = image[top : top + rows, left : left + columns]
        made = np.asarray(cv2.resize(part, self.size, interpolation=cv2.INTER_CUBIC), np.uint8)
        if rng.random() < 0.4:
            height = self.size[1] / 18
            said = words(rng, 3)
            at = (int(height), int(self.size[1] - height))
            cv2.putText(
                made, said, at, cv2.FONT_HERSHEY_DUPLEX, height / 26, vivid(rng), 2, cv2.LINE_AA
            )
        return made


def film(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return a film in colour; the first few seeds show the open clips between made shots."""
    clip = occurrence if occurrence < CLIP_USES else None
    return Film(size, rng, Look(titles=0.0 if occurrence % 2 else 0.15), clip)


def dark_film(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return a film at three to six twentieths of its light."""
    return Film(size, rng, Look(gain=float(rng.uniform(0.15, 0.3)), grain=2.0 + occurrence % 3))


def grey_film(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return a black-and-white film with more grain, some with title cards."""
    return Film(size, rng, Look(grey=True, titles=0.2 if occurrence % 2 else 0.0, grain=6.0))


def photographs(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return photographs one by one."""
    del occurrence
    return Photographs(size, rng)
