"""The twenty families of content; the order is part of the design."""

from collections.abc import Callable

import numpy as np
from numpy.random import Generator

from judging import dark, films, moving, pages
from judging.content import Content, Size
from judging.design import Setting

Make = Callable[[Size, Generator, int], Content]
FAMILIES: dict[str, Make] = {
    "film": films.film,
    "pages": pages.pages,
    "credits": dark.credits_roll,
    "menus": pages.menus,
    "dark film": films.dark_film,
    "clocks": moving.clocks,
    "one hue": pages.one_hue,
    "games": moving.games,
    "stars": dark.stars,
    "slides": pages.slides,
    "photographs": films.photographs,
    "console": pages.console,
    "maps": moving.maps,
    "grey film": films.grey_film,
    "logo": dark.logos,
    "charts": moving.charts,
    "ticker": moving.ticker,
    "savers": dark.savers,
    "walls": moving.walls,
    "meters": moving.meters,
}
NAMES = tuple(FAMILIES)
FAULTY = 17
CLEAN = 29
"""Salts: what tells the seeds of faulty clips from those of clean ones."""
_LATER = 1200


def content_of(setting: Setting, seed: int, salt: int) -> Content:
    """Make the content of a setting; the same seed makes the same again.

    Clean clips count their occurrences from a later one on, so that the open clips, which are
    shown in the first of them, are not used up twice.
    """
    rng = np.random.default_rng([salt, seed, 7])
    occurrence = setting.occurrence + (_LATER if salt == CLEAN else 0)
    return FAMILIES[setting.family](setting.size, rng, occurrence)
