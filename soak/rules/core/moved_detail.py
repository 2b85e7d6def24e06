"""What a finding of a moved plug says in its detail, for its own words and the desk's table."""

from collections.abc import Mapping
from dataclasses import field

from soak.frozen.shape import kept


@kept
class RestAgainstMoving:
    """How likely so quiet a rest would be, were moving nothing to it, and by which method."""

    chance: float
    method: str


@kept
class Before:
    """What moving the plug found before the repair, and how likely the quiet since is by luck.

    `more_rounds` would bring the chance to `LUCK`; `events` are bouts, `seen` all that was seen.
    """

    heat: str
    events: int
    hours: float
    seen: int
    quiet_by_luck: float
    more_rounds: int


@kept
class MovedDetail:
    """What is asked of a finding's detail; `spots_degc` is how warm each spot was, degC."""

    spots_degc: Mapping[str, float] = field(default_factory=dict)
    rest_against_moving: RestAgainstMoving | None = None
    before: Before | None = None
