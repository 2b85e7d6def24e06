"""What a unit does from the moment it gets power: its start, and what ends it."""

from collections.abc import Iterator
from typing import Literal

import numpy as np

from soak.sim.chance import between
from soak.sim.scene import Interruption, Start

Mode = Literal["off", "dark start", "black start", "running", "stopping", "hung", "dead"]
"""What the unit does: no video yet; video without content; in use; going off in order; hung;
started in vain."""

DARK_SHARE = 0.25
"""Share of a start before the unit gives any video signal."""


def modes(
    start: Start,
    interruption: Interruption | None,
    generator: np.random.Generator,
    begin_s: float,
    until_s: float,
    coldness: float,
) -> Iterator[tuple[float, Mode]]:
    """Yield what the unit does from the moment it gets power, up to `until_s`.

    Parameters
    ----------
    coldness : float
        1 at ambient, 0 fully warm.
    """
    while begin_s < until_s:
        took_s = _took_s(start, generator, coldness)
        yield begin_s, "dark start"
        if took_s is None:
            yield begin_s, "dead"
            return
        yield begin_s + DARK_SHARE * took_s, "black start"
        yield begin_s + took_s, "running"
        if interruption is None:
            return
        begin_s += took_s + between(generator, interruption.after_s)
        coldness = 0.0
        if interruption.kind == "hang":
            yield begin_s, "hung"
            return


def _took_s(start: Start, generator: np.random.Generator, coldness: float) -> float | None:
    """Draw the time to picture in s; None if there will be none."""
    luck = generator.uniform()
    spread = generator.normal(0.0, start.spread)
    if luck < start.fails_warm + (start.fails_cold - start.fails_warm) * coldness:
        return None
    median_s = start.warm_s + (start.cold_s - start.warm_s) * coldness
    return float(median_s * np.exp(spread))
