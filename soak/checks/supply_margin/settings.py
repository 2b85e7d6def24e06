"""Settings of the check `supply_margin`."""

from collections.abc import Sequence
from typing import Annotated

from pydantic import Field

from soak.settings import Seconds, Settings

NAME = "supply_margin"
"""The check's name: the key in a script."""

MOST_TRIES = 3
"""A trial that the bench did not see all of is tried so often at most. Our own choice, as with the
movements of a servo."""


class SupplyMarginSettings(Settings):
    """Settings of the check `supply_margin`; times in s.

    Attributes
    ----------
    starts : int
        So many starts at the lowest, and as many at the highest rated voltage.
    hold_s : float
        So long the picture must hold after each of them.
    off_s : float
        Off-time before each start.
    start_limit_s : float or None
        Longest time to picture; left out: as with other starts.
    give_up_s : float
        A start that shows no picture for so long has failed.
    breaks_s : sequence of float
        Lengths of the short breaks; longer ones are quick starts of `power_cycles`.
    times : int
        So many breaks of each length.
    apart_s : float
        So long from one break to the next, at least.
    soft_stop : bool
        Whether the unit is pressed off before its power is cut, where its button stops it and the
        fixture has what presses; short breaks never are.
    """

    starts: int = Field(default=3, ge=0, le=100)
    hold_s: Seconds = Field(default=60.0, ge=1, le=86400)
    off_s: Seconds = Field(default=20.0, ge=0.1, le=3600)
    start_limit_s: Seconds | None = Field(default=None, gt=0)
    give_up_s: Seconds = Field(default=120.0, gt=0, le=3600)
    breaks_s: Sequence[Annotated[Seconds, Field(ge=0.02, le=2)]] = (0.1, 0.3, 1.0)
    times: int = Field(default=3, ge=1, le=100)
    apart_s: Seconds = Field(default=10.0, ge=1, le=3600)
    soft_stop: bool = True
