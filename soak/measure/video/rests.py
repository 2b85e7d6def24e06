"""How long what a good unit shows stands still, and is black, at the longest: for its model sheet.

Few seconds tell little of hours: a still that comes once in an hour is hardly seen in a minute. So
what was seen longest is doubled, and it is said how long it takes until that is worth much.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from soak.measure.video.lookthrough import look_over
from soak.measure.video.watcher_settings import WatcherSettings
from soak.roles import Picture
from soak.states import BLACK, FROZEN, PICTURE

TIMES_LONGEST = 2.0
"""A sheet says so many times the longest still and black that were seen. Own choice, of nights
of 8 h drawn by `benchmarks/rests.py`, with 2 stills a minute whose lengths spread by a third."""
ENOUGH_S = 1200.0
"""Watched for so long, a good unit has shown enough, s. Own choice, of the same nights."""


@dataclass(frozen=True, slots=True)
class Rests:
    """What a good unit's run showed.

    Attributes
    ----------
    still_s, black_s : float
        The longest still, and the longest black, s; 0 where there was none.
    watched_s : float
        For how long it was watched, s.
    lost : tuple of str
        What else was seen, such as `no signal`: then it was no good unit's run.
    """

    still_s: float
    black_s: float
    watched_s: float
    lost: tuple[str, ...]


def rests_of(pictures: Iterable[Picture], settings: WatcherSettings) -> Rests:
    """Watch a good unit's pictures; `settings` say what the card's own pictures look like."""
    plain = WatcherSettings(moving=True, size=settings.size, luma=settings.luma, fade_black_s=0.0)
    taught = replace(plain, taught=settings.taught, protected=settings.protected)
    look = look_over(pictures, taught)
    spans = list(look.spans)
    blacks = [span.seconds for span in spans if span.kind == BLACK]
    lost = dict.fromkeys(s.kind for s in spans if s.kind not in (BLACK, FROZEN, PICTURE))
    watched_s = sum(span.seconds for span in spans)
    return Rests(look.longest_still_s, max(blacks, default=0.0), watched_s, tuple(lost))
