"""Which content meets which size, coding, noise and rate: a balanced fraction, by number.

Sizes x codings x noises x rates is a full factorial of 3 x 5 x 3 x 4 = 180 settings; a block of
180 clips holds each of them once. The twenty families of content are laid over it as in a cyclic
Latin square: within a block each family meets each of the nine size-and-noise cells exactly once,
and each of the twenty coding-and-rate cells at most once. Any twenty clips that follow on one
another, from a multiple of twenty on, hold every family once, so that the first N clips are a
balanced sample.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

SIZES = ((640, 480), (1280, 720), (1920, 1080))
CODINGS = ("mjpeg-60", "mjpeg-75", "mjpeg-82", "mjpeg-92", "yuyv")
NOISES = ("none", "weak", "strong")
RATES_HZ = (25, 30, 50, 60)
BLOCK = len(SIZES) * len(CODINGS) * len(NOISES) * len(RATES_HZ)
USES = 3
"""How often one second of clean video may be shown, each time coded otherwise."""


@dataclass(frozen=True, slots=True)
class Setting:
    """How one clip is made: `size` in pixels (width, height), `rate_hz` in pictures a second."""

    family: str
    occurrence: int
    size: tuple[int, int]
    coding: str
    noise: str
    rate_hz: int


def setting_of(seed: int, families: Sequence[str], salt: int = 0) -> Setting:
    """Return the setting of clip `seed`; `salt` tells faulty clips from clean ones.

    Raises
    ------
    ValueError
        If there are not as many families as codings times rates: the square would not close.
    """
    ways = len(CODINGS) * len(RATES_HZ)
    if len(families) != ways:
        raise ValueError(f"the design is for {ways} families, not {len(families)}")
    block, row = divmod(seed, BLOCK)
    rng = np.random.default_rng([salt, block])
    places = rng.permutation(ways)
    shifts = rng.permutation(ways)
    cells = rng.permutation(len(SIZES) * len(NOISES))
    batch, family = divmod(row, ways)
    turn = (batch + family) % len(cells)
    size, noise = divmod(int(cells[turn]), len(NOISES))
    way = int(places[family] + shifts[turn]) % ways
    coding, rate = divmod(way, len(RATES_HZ))
    occurrence = block * len(cells) + batch
    return Setting(
        family=families[family],
        occurrence=occurrence,
        size=SIZES[size],
        coding=CODINGS[coding],
        noise=NOISES[noise],
        rate_hz=RATES_HZ[rate],
    )


def recoded(setting: Setting, use: int) -> Setting:
    """Return the same content as it is shown the first, second and third time.

    Coding and noise go on by two and by one step, so that over the uses each noise is met once
    and no coding twice.
    """
    coding = CODINGS[(CODINGS.index(setting.coding) + 2 * use) % len(CODINGS)]
    noise = NOISES[(NOISES.index(setting.noise) + use) % len(NOISES)]
    return Setting(
        family=setting.family,
        occurrence=setting.occurrence,
        size=setting.size,
        coding=coding,
        noise=noise,
        rate_hz=setting.rate_hz,
    )
