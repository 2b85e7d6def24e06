"""What is known of a stream's colours; it outlives the loss of the picture.

Two things are known: by which share of the time a colour is lacking in this content, and what the
scenes looked like that were seen last. Both are asked of what comes after a loss. While the stream
goes on, a cut to black and white or to an amber page is content.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from soak.measure.video.colour import Colour, Small
from soak.measure.video.fine.colour_change import loss_between
from soak.measure.video.fine.lanes import PROPERTIES, Properties

LEARNED_EVERY_S = 0.25
"""A picture is learned from so often, s. Our own choice."""
HABIT_FROM_S, SELDOM = 5.0, 0.05
"""From so many s of picture on a habit is known; what was lacking in no more than this share of
them is always there. Our own choice."""
LACKS_FOR_S, TIMES_LONGEST, LONGER_S = 3.0, 2.0, 1.0
"""Lacking from the first picture after a loss on, for so long, s, and for so many times the longest
that an earlier start lacked it, and so many s more: units start with a grey logo. Our own
choice."""
MOST_SCENES = 24
"""So many scenes are kept. Our own choice: 24 x 100 kB."""
SAME_LUMA = 2.5
"""A scene is the same up to this mean change of its cells, levels, in each lane. Our own choice:
noise and an encoder average out there."""


@dataclass(slots=True)
class _Scene:
    colour: Colour
    seen: int = 1


@dataclass(slots=True)
class _Start:
    """A stretch of picture since a loss: since when, and what it has lacked ever since."""

    since_s: float
    lacks: NDArray[np.bool_] = field(default_factory=lambda: np.ones(len(PROPERTIES), bool))


class KnownColours:
    """Learns habits and scenes from clean pictures.

    Parameters
    ----------
    menus : sequence of Colour
        Pictures of the unit's own that were taught; kept for good.
    logo_s : float
        How long a start may lack colours where none was watched before, s.
    """

    def __init__(self, menus: Sequence[Colour] = (), logo_s: float = 0.0) -> None:
        self._menus = tuple(menus)
        self._logo_s = logo_s
        self._scenes: list[_Scene] = []
        self._seen_s = 0.0
        self._lacked_s = np.zeros(len(PROPERTIES))
        self._longest_s = np.full(len(PROPERTIES), np.nan)
        self._start: _Start | None = None
        self._lost = False
        self._learned_s: float | None = None

    def lost(self) -> None:
        """Take that the picture is gone; the next one begins a start."""
        self._start = None
        self._lost = True
        self._learned_s = None

    def lacks(self, t_s: float, lacking: Properties | None) -> str:
        """Return what a start lacks against all habit, '' if nothing."""
        if not self._lost:
            return ""
        if self._start is None:
            self._start = _Start(t_s)
        start = self._start
        if lacking is None or not start.lacks.any():
            return ""
        came = start.lacks & ~lacking
        start.lacks &= lacking
        for_s = t_s - start.since_s
        self._longest_s[came] = np.fmax(self._longest_s[came], for_s)
        if self._seen_s < HABIT_FROM_S:
            return ""
        known_s = TIMES_LONGEST * self._longest_s + LONGER_S
        patience_s = np.fmax(LACKS_FOR_S, np.where(np.isnan(known_s), self._logo_s, known_s))
        strange = np.flatnonzero(start.lacks & self._always & (for_s >= patience_s))
        return PROPERTIES[strange[0]] if strange.size else ""

    @property
    def waits(self) -> bool:
        """Whether a start lacks what is always there, so that nothing is learned of it yet."""
        start = self._start
        return (
            start is not None
            and self._seen_s >= HABIT_FROM_S
            and bool((start.lacks & self._always).any())
        )

    @property
    def _always(self) -> Properties:
        """What hardly any picture lacked."""
        return np.asarray(self._lacked_s <= SELDOM * self._seen_s)

    def lost_of_a_scene(self, colour: Colour) -> str:
        """Return which loss makes a known scene look like this, '' if none or if it is as known."""
        if self.is_known(colour):
            return ""
        for known in (*self._menus, *(scene.colour for scene in self._scenes)):
            lost = loss_between(colour, known)
            if lost:
                return lost
        return ""

    @property
    def knows_scenes(self) -> bool:
        """Whether there is any."""
        return bool(self._menus or self._scenes)

    def is_known(self, colour: Colour) -> bool:
        """Tell whether a picture is a scene that was seen before a loss, or taught."""
        known = [*self._menus, *(scene.colour for scene in self._scenes)]
        return self._nearest(known, colour.cells) is not None

    def times_seen(self, colour: Colour) -> int:
        """Return how often a scene was learned from."""
        at = self._nearest([scene.colour for scene in self._scenes], colour.cells)
        return 0 if at is None else self._scenes[at].seen

    def learn(self, t_s: float, lacking: Properties | None, colour: Colour) -> None:
        """Take a clean picture."""
        if self._learned_s is not None and t_s - self._learned_s < LEARNED_EVERY_S:
            return
        since_s = t_s if self._learned_s is None else self._learned_s
        self._learned_s = t_s
        if lacking is None:
            return
        passed_s = min(t_s - since_s, 2 * LEARNED_EVERY_S)
        self._seen_s += passed_s
        self._lacked_s[lacking] += passed_s
        at = self._nearest([scene.colour for scene in self._scenes], colour.cells)
        if at is not None:
            self._scenes[at].seen += 1
            return
        if len(self._scenes) >= MOST_SCENES:
            # What was seen often is the menu; of the rest the oldest goes.
            del self._scenes[min(range(MOST_SCENES), key=lambda one: (self._scenes[one].seen, one))]
        self._scenes.append(_Scene(colour))

    @staticmethod
    def _nearest(known: Sequence[Colour], cells: Small) -> int | None:
        if not known:
            return None
        apart = (
            np.abs(np.stack([colours.cells for colours in known]) - cells)
            .mean(axis=(1, 2))
            .max(axis=1)
        )
        at = int(np.argmin(apart))
        return at if float(apart[at]) <= SAME_LUMA else None
