"""What stands and is changed at once: pages, slides, one-hue pages, menus, text consoles."""

from collections.abc import Callable, Hashable

import cv2
import numpy as np
from numpy.random import Generator

from judging.content import Content, Image, Size, Told, index_at, moments
from judging.drawing import HORIZON_S, Sheet, any_face, colour, vivid, word, words
from judging.stills import COLOURFUL, photograph

Drawn = Callable[[Size, Generator], Image]
_CHANGE_STEPS = 12
_CHANGE_S = 0.5
_ONE_HUE = {
    "amber": ((0, 0, 0), (0, 176, 255)),
    "green": ((0, 0, 0), (60, 255, 60)),
    "sepia": ((190, 225, 240), (20, 50, 90)),
    "white on blue": ((170, 30, 10), (255, 255, 255)),
    "cyan": ((30, 20, 0), (255, 255, 0)),
    "red on white": ((255, 255, 255), (20, 20, 200)),
}


class Turned(Content):
    """Pages that stand and are then changed: by a cut, a dissolve, a wipe or a push."""

    def __init__(self, size: Size, rng: Generator, draw: Drawn, how: str, hold_s: float) -> None:
        super().__init__(size, Told(longest_still_s=hold_s))
        self._draw_page = draw
        self._how = how
        self._seed = int(rng.integers(2**31))
        self._times = moments(rng, min(1.2, hold_s / 2), hold_s, HORIZON_S)
        self._pages: dict[int, Image] = {}

    def state(self, t_s: float) -> Hashable:
        number = index_at(self._times, t_s)
        into_s = t_s - self._times[number]
        if self._how == "cut" or number == 0 or into_s >= _CHANGE_S:
            return (number, _CHANGE_STEPS)
        return (number, int(into_s / _CHANGE_S * _CHANGE_STEPS))

    def draw(self, state: Hashable) -> Image:
        number, step = state
        page = self._page(number)
        if step == _CHANGE_STEPS:
            return page
        before = self._page(number - 1)
        share = (step + 1) / (_CHANGE_STEPS + 1)
        if self._how == "dissolve":
            return np.asarray(cv2.addWeighted(before, 1 - share, page, share, 0), np.uint8)
        border = int(self.size[0] * share)
        if self._how == "push":
            return np.hstack([before[:, border:], page[:, :border]])
        return np.hstack([page[:, :border], before[:, border:]])

    def _page(self, number: int) -> Image:
        if number not in self._pages:
            if len(self._pages) > 1:
                del self._pages[min(self._pages)]
            rng = np.random.default_rng([self._seed, number])
            self._pages[number] = self._draw_page(self.size, rng)
        return self._pages[number]


def page_of_text(size: Size, rng: Generator) -> Image:
    """Draw a page: one to three columns, a headline, a picture at times; dark letters mostly."""
    paper = (255, 255, 255) if rng.random() < 0.6 else colour(rng, 200, 256)
    ink = colour(rng, 0, 90)
    if rng.random() < 0.25:
        paper, ink = colour(rng, 10, 50), colour(rng, 170, 256)
    sheet = Sheet(size, paper)
    width, rows = size
    face = any_face(rng)
    margin = width * rng.uniform(0.03, 0.12)
    height = rows * rng.uniform(0.022, 0.045)
    sheet.text((margin, rows * 0.04), words(rng, 5), face, height * 2, vivid(rng, 150))
    columns = int(rng.integers(1, 4))
    step = (width - 2 * margin) / columns
    for column in range(columns):
        left = margin + column * step
        box = (left, rows * 0.18, left + step * 0.92, rows * rng.uniform(0.7, 0.97))
        sheet.paragraph(box, rng, face, height, ink)
    image = sheet.done()
    if rng.random() < 0.4:
        name = COLOURFUL[int(rng.integers(len(COLOURFUL)))]
        part = cv2.resize(photograph(name), (width // 4, rows // 4), interpolation=cv2.INTER_AREA)
        top = int(rng.integers(rows // 5, rows * 3 // 4))
        left_at = int(rng.integers(0, width * 3 // 4))
        image[top : top + rows // 4, left_at : left_at + width // 4] = part
    return image


def slide(size: Size, rng: Generator) -> Image:
    """Draw a slide: a bar with a title, bullets, and bars, a pie or a line beside them."""
    dark = rng.random() < 0.35
    paper, ink = (
        (colour(rng, 10, 60), (235, 235, 235)) if dark else (colour(rng, 215, 256), (30, 30, 30))
    )
    sheet = Sheet(size, paper)
    width, rows = size
    face = any_face(rng)
    sheet.box((0, 0, width, rows * 0.14), vivid(rng, 170))
    sheet.text((width * 0.04, rows * 0.035), words(rng, 4), face, rows * 0.07, (255, 255, 255))
    for line in range(int(rng.integers(2, 6))):
        top = rows * (0.22 + 0.12 * line)
        sheet.box((width * 0.05, top + rows * 0.02, width * 0.06, top + rows * 0.035), vivid(rng))
        sheet.text((width * 0.08, top), words(rng, 4), face, rows * 0.045, ink)
    image = sheet.done()
    _figure(image, rng)
    return image


def _figure(image: Image, rng: Generator) -> None:
    rows, width = image.shape[:2]
    left, top, bottom = int(width * 0.6), int(rows * 0.25), int(rows * 0.85)
    kind = int(rng.integers(3))
    if kind == 0:
        count = int(rng.integers(3, 9))
        step = int(width * 0.35 / count)
        for number in range(count):
            high = int(rng.uniform(0.1, 1) * (bottom - top))
            corner = (left + number * step, bottom - high)
            cv2.rectangle(image, corner, (corner[0] + step * 2 // 3, bottom), vivid(rng), -1)
    elif kind == 1:
        turn = 0.0
        while turn < 360:
            upto = min(360.0, turn + rng.uniform(25, 120))
            centre = (int(width * 0.78), int(rows * 0.55))
            axes = (int(rows * 0.22), int(rows * 0.22))
            cv2.ellipse(image, centre, axes, 0, turn, upto, vivid(rng), -1, cv2.LINE_AA)
            turn = upto
    else:
        for _ in range(int(rng.integers(1, 4))):
            course = np.cumsum(rng.normal(0, 0.08, 30)) + 0.5
            xs = np.linspace(left, width * 0.95, 30)
            ys = bottom - np.clip(course, 0, 1) * (bottom - top)
            points = np.stack([xs, ys], axis=1).astype(np.int32)
            cv2.polylines(image, [points], False, vivid(rng), max(1, rows // 240), cv2.LINE_AA)


def one_hue_page(kind: str) -> Drawn:
    """Return how to draw a page that has one hue only, beside black, grey or white."""
    paper, ink = _ONE_HUE[kind]

    def draw(size: Size, rng: Generator) -> Image:
        sheet = Sheet(size, paper)
        face = "DejaVuSansMono" if rng.random() < 0.6 else any_face(rng)
        height = size[1] * rng.uniform(0.03, 0.06)
        margin = size[0] * 0.05
        box = (margin, margin, size[0] - margin, size[1] * rng.uniform(0.4, 0.95))
        sheet.paragraph(box, rng, face, height, ink)
        return sheet.done()

    return draw


class Menu(Content):
    """A menu of tiles or lines; a frame moves from one to the next, a clock stands in a corner."""

    def __init__(self, size: Size, rng: Generator, hold_s: float) -> None:
        super().__init__(size, Told(longest_still_s=min(hold_s, 1.0) + 0.02))
        self._steps = moments(rng, min(0.3, hold_s / 2), hold_s, HORIZON_S)
        self._columns = int(rng.choice([1, 3, 4, 5]))
        self._lines = int(rng.integers(3, 7))
        self._mark = vivid(rng)
        self._start = int(rng.integers(3600))
        self._ink = (240, 240, 240)
        self._back = self._drawn_back(rng)

    def state(self, t_s: float) -> Hashable:
        return (index_at(self._steps, t_s), int(t_s))

    def draw(self, state: Hashable) -> Image:
        step, second = state
        image = self._back.copy()
        left, top, right, bottom = self._tile(step % (self._columns * self._lines))
        thick = max(2, self.size[1] // 120)
        cv2.rectangle(image, (left, top), (right, bottom), self._mark, thick)
        now = self._start + second
        said = f"{now // 3600 + 9:02d}:{now // 60 % 60:02d}:{now % 60:02d}"
        scale = self.size[1] / 600
        at = (int(self.size[0] * 0.8), int(self.size[1] * 0.08))
        cv2.putText(image, said, at, cv2.FONT_HERSHEY_SIMPLEX, scale, self._ink, 2, cv2.LINE_AA)
        return image

    def _tile(self, number: int) -> tuple[int, int, int, int]:
        line, column = divmod(number, self._columns)
        width = self.size[0] * 0.9 / self._columns
        height = self.size[1] * 0.8 / self._lines
        left = int(self.size[0] * 0.05 + column * width)
        top = int(self.size[1] * 0.13 + line * height)
        return left, top, int(left + width * 0.9), int(top + height * 0.85)

    def _drawn_back(self, rng: Generator) -> Image:
        sheet = Sheet(self.size, colour(rng, 10, 90))
        face = any_face(rng)
        sheet.text(
            (self.size[0] * 0.05, self.size[1] * 0.03),
            words(rng, 2),
            face,
            self.size[1] / 16,
            self._ink,
        )
        flat = rng.random() < 0.3
        for number in range(self._columns * self._lines):
            left, top, right, bottom = self._tile(number)
            sheet.box((left, top, right, bottom), (50, 45, 40) if flat else vivid(rng, 140))
            height = (bottom - top) * 0.35
            sheet.text(
                (left + 6, top + 4),
                words(rng, 2)[: 28 // self._columns + 4],
                face,
                height,
                self._ink,
            )
        return sheet.done()


class Console(Content):
    """A text console: lines come in bursts, a prompt waits, the cursor blinks (or does not)."""

    def __init__(self, size: Size, rng: Generator, lines: int, blinks: bool) -> None:
        self._blink_s = 0.53
        hold_s = self._blink_s if blinks else 4.0
        super().__init__(size, Told(longest_still_s=hold_s + 0.05, cyclic=blinks))
        self._blinks = blinks
        self._times = moments(rng, 0.05 if lines > 3 else 1.5, 4.0, HORIZON_S)
        self._full = lines
        self._height = size[1] / int(rng.choice([25, 30, 40]))
        self._ink = (200, 200, 200)
        self._texts = [f"{word(rng)}$ {words(rng, int(rng.integers(1, 9)))}" for _ in range(300)]

    def state(self, t_s: float) -> Hashable:
        lit = int(t_s / self._blink_s) % 2 == 0 if self._blinks else True
        return (index_at(self._times, t_s), lit)

    def draw(self, state: Hashable) -> Image:
        count, lit = state
        sheet = Sheet(self.size, (0, 0, 0))
        first = max(0, count - self._full + 1)
        row = 4.0
        said = ""
        for number in range(first, count + 1):
            said = self._texts[number % len(self._texts)][: int(self.size[0] / self._height / 0.62)]
            sheet.text((4, row), said, "DejaVuSansMono", self._height * 0.9, self._ink)
            row += self._height
        if lit:
            left = 4 + len(said) * self._height * 0.55
            top = row - self._height
            sheet.box((left, top, left + self._height * 0.5, top + self._height), self._ink)
        return sheet.done()


def pages(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return pages of text that stand for up to 2, 5 or 9 s."""
    how = ("cut", "cut", "push")[occurrence % 3]
    return Turned(size, rng, page_of_text, how, float(rng.choice([2, 5, 9])))


def slides(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return slides with every kind of change."""
    how = ("cut", "dissolve", "wipe", "push")[occurrence % 4]
    return Turned(size, rng, slide, how, float(rng.choice([2, 4, 8])))


def one_hue(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return pages of one hue: amber, green, sepia, white on blue, cyan, red on white."""
    kind = list(_ONE_HUE)[occurrence % len(_ONE_HUE)]
    return Turned(size, rng, one_hue_page(kind), "cut", float(rng.choice([1.5, 4])))


def menus(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return a menu that is used fast or slowly."""
    return Menu(size, rng, (0.6, 3.0, 10.0)[occurrence % 3])


def console(size: Size, rng: Generator, occurrence: int) -> Content:
    """Return a console, nearly empty or full, with and without a cursor that blinks."""
    return Console(size, rng, (1, 22, 3)[occurrence % 3], occurrence % 4 != 3)
