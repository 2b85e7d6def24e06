"""Follows the colours of a stream: when they are lost, since when, and when they are back.

A loss is told in four ways: by a step while the scene goes on; by what pictures say by themselves
for long enough; after a loss of the picture by a scene that is known; and there by habit.
"""

from dataclasses import dataclass, replace

import numpy as np

from soak.measure.video.colour import Colour
from soak.measure.video.fine.colour_change import loss_between
from soak.measure.video.fine.colour_steps import agrees, lane_step, others_of
from soak.measure.video.fine.known_colours import KnownColours
from soak.measure.video.fine.lanes import (
    AS_RGB,
    AS_YCBCR,
    DIFFERENCES,
    FLAT_SHARE,
    GREY,
    LANES,
    PROPERTIES,
    Properties,
    Signs,
    is_flat,
    lacking,
    signs_of,
)
from soak.measure.video.intake import Arrived

CALLED_AFTER_S, CALLED_AFTER = 1.0, 4
"""What pictures say by themselves is called a fault after so long, s, and so many of them. Our own
choice: films hold scenes of one hue for shorter."""
SURE_AFTER_S = 0.15
"""A wrong colour space, and a loss in a known scene, are called after so long, s: hardly any
content looks like it. Our own choice."""
MOST_COUNTED_S = 0.5
"""A picture speaks for no longer than this before it, s. Our own choice."""
KNOWN_ASKED_S = 10.0
"""After a loss known scenes are asked for so long, s. Our own choice: what a menu takes to come may
be longer, but then the unit shows its logo first."""
CUT_LUMA = 10.0
"""Another scene has come where the cells differ by more, levels. Our own choice, twice what motion
leaves of a loss that is explained."""
BACK_LUMA = 4.0
"""A lost lane is back where it varies by more over the small picture, levels (standard deviation),
and by more than a lost one's share of the others. Our own choice: noise leaves less."""


@dataclass(frozen=True, slots=True)
class Tinted:
    """What a picture adds.

    Attributes
    ----------
    bad : bool
        Whether it is tinted.
    since : Arrived or None
        The first picture that was, where that is known only now.
    """

    bad: bool
    since: Arrived | None = None


@dataclass(slots=True)
class _Suspicion:
    first: Arrived
    for_s: float = 0.0
    pictures: int = 0


class Tint:
    """Follows the colours from picture to picture.

    Parameters
    ----------
    menus : tuple of Colour
        The unit's own pictures that were taught.
    logo_s : float
        How long a start may lack colours where none was watched before, s.

    Attributes
    ----------
    loss : str
        Which colours are lost now: one of `lanes.PROPERTIES`, a colour space, or `GREY`; empty if
        none are.
    """

    def __init__(self, menus: tuple[Colour, ...] = (), logo_s: float = 0.0) -> None:
        self._known = KnownColours(menus, logo_s)
        self.loss = ""
        self._flat = self._by_itself = False
        self._last: Colour | None = None
        self._last_s: float | None = None
        self._said: tuple[Colour, Signs, Properties | None] | None = None
        self._begin()

    def _begin(self) -> None:
        self._suspicions: dict[str, _Suspicion] = {}
        self._first: Arrived | None = None
        self._scene_since: Arrived | None = None
        self._clean_since: Arrived | None = None
        self._lacks_since_first: Properties = np.ones(len(PROPERTIES), bool)
        self._asks_scenes = True

    @property
    def suspects(self) -> bool:
        """Whether pictures speak for a loss that is not called yet."""
        return bool(self._suspicions)

    def gone(self) -> None:
        """Take that there is no picture; what is known of the colours is kept."""
        self.loss = ""
        self._last = None
        self._last_s = None
        self._known.lost()
        self._begin()

    def differs(self, colour: Colour) -> bool:
        """Tell whether what is said may change with this picture; others may lie between."""
        last = self._last
        if last is None or colour is last:
            return False
        if self.loss:
            return self._is_back(colour, last, same_scene=False)
        if self._came_back(colour, last):
            return True
        loss, _, is_back = self._step(colour, last, same_scene=False)
        return bool(loss) or is_back

    def see(self, arrived: Arrived, colour: Colour) -> Tinted:
        """Take the next picture; tell whether it is tinted, and since when."""
        last = self._last
        gap_s = arrived.gap_s if self._last_s is None else arrived.t_s - self._last_s
        self._last = colour
        self._last_s = arrived.t_s
        if self.loss:
            if last is None or colour is last or not self._is_back(colour, last, same_scene=True):
                return Tinted(bad=True)
            self.loss = ""
            self._suspicions.clear()
            self._clean_since = self._scene_since = arrived
            return Tinted(bad=False)
        arrived = replace(arrived, gap_s=gap_s)
        stepped = None if last is None or colour is last else self._by_step(arrived, colour, last)
        return stepped or self._by_evidence(arrived, colour, gap_s)

    def _by_step(self, arrived: Arrived, colour: Colour, last: Colour) -> Tinted | None:
        """Return what a step says: that a loss begins, or that one ends which nobody saw begin."""
        self.loss, self._flat, is_back = self._step(colour, last, same_scene=True)
        if self.loss:
            self._by_itself = False
            self._suspicions.clear()
            return Tinted(bad=True)
        since = self._first if self._came_back(colour, last) else None
        if since is None and is_back:
            since = self._scene_since
        if self._scene_since is None or _is_cut(colour, last):
            self._scene_since = arrived
        if since is None:
            return None
        self._suspicions.clear()
        since = self._not_before_clean(since)
        self._clean_since = self._scene_since = arrived
        return Tinted(bad=False, since=since)

    def _not_before_clean(self, since: Arrived) -> Arrived:
        """Return a beginning that is not before the end of the tint before it."""
        clean = self._clean_since
        return clean if clean is not None and clean.t_s > since.t_s else since

    def _by_evidence(self, arrived: Arrived, colour: Colour, gap_s: float) -> Tinted:
        """Add up what pictures say by themselves, and what is known."""
        t_s = arrived.t_s
        if self._said is None or self._said[0] is not colour:  # a still picture says the same
            self._said = (colour, signs_of(colour), lacking(colour))
        _, signs, lacks = self._said
        if self._first is None:
            self._first = self._scene_since = arrived
        if lacks is not None:
            self._lacks_since_first &= lacks
        strange = self._known.lacks(t_s, lacks)
        if strange:
            return self._call(strange, self._first)
        sure = self._lost_of_a_scene(arrived, colour)
        for name in signs.there - {sure}:
            self._suspicions.pop(name, None)
        for name in signs.lost | ({sure} if sure else set()):
            one = self._suspicions.setdefault(name, _Suspicion(arrived))
            one.for_s += min(gap_s, MOST_COUNTED_S)
            one.pictures += 1
            after_s = SURE_AFTER_S if name in (sure, AS_RGB, AS_YCBCR) else CALLED_AFTER_S
            if one.for_s >= after_s and one.pictures >= CALLED_AFTER:
                return self._call(name, one.first, by_itself=name != sure)
        if not self._suspicions and not self._known.waits:
            self._known.learn(t_s, lacks, colour)
        return Tinted(bad=False)

    def _call(self, name: str, since: Arrived, by_itself: bool = False) -> Tinted:
        self.loss = name
        self._by_itself = by_itself
        self._flat = name in LANES
        self._suspicions.clear()
        return Tinted(bad=True, since=self._not_before_clean(since))

    def _lost_of_a_scene(self, arrived: Arrived, colour: Colour) -> str:
        """Return which loss a known scene shows, in the first pictures after a loss."""
        if not self._asks_scenes or not self._known.knows_scenes or self._first is None:
            return ""
        late = arrived.t_s - self._first.t_s > KNOWN_ASKED_S
        if late or self._known.is_known(colour):
            self._asks_scenes = False
            return ""
        return self._known.lost_of_a_scene(colour)

    def _step(self, now: Colour, before: Colour, same_scene: bool) -> tuple[str, bool, bool]:
        """Return what is lost by a step, whether a lane is flat, and whether all is right again.

        One lane that changed and is flat in neither picture may lead either way: back, where the
        picture is known better than the one before it.
        """
        lost = loss_between(now, before, same_scene)
        if lost:
            return lost, lost in LANES, False
        step = lane_step(now, before, same_scene)
        if step is None or (step.flat_before and not step.flat_now):
            return "", False, False
        if step.flat_now:
            return LANES[step.lane], True, False
        if self._known.times_seen(now) > self._known.times_seen(before):
            return "", False, True
        if loss_between(before, now, same_scene):
            return "", False, False
        return LANES[step.lane], False, False

    def _came_back(self, now: Colour, before: Colour) -> bool:
        """Tell whether colours came by a step that were lacking since the first picture."""
        if not self._lacks_since_first.any():
            return False
        loss = loss_between(before, now)
        names = DIFFERENCES if loss == GREY else (loss,)
        lacked = [PROPERTIES.index(name) for name in names if name in PROPERTIES]
        return bool(lacked) and bool(self._lacks_since_first[lacked].all())

    def _is_back(self, now: Colour, before: Colour, same_scene: bool) -> bool:
        """Tell whether what is lost is back in this picture."""
        if self.loss in LANES:
            return self._lane_is_back(LANES.index(self.loss), now, before, same_scene)
        if self._known.is_known(now):
            return True
        if loss_between(before, now, same_scene) == self.loss:
            return True
        # What a step or a known scene told may not show by itself; another scene may.
        if self.loss in (AS_RGB, AS_YCBCR) and not self._by_itself and not _is_cut(now, before):
            return False
        there = signs_of(now).there
        return bool(there.intersection(DIFFERENCES if self.loss == GREY else (self.loss,)))

    def _lane_is_back(self, lane: int, now: Colour, before: Colour, same_scene: bool) -> bool:
        step = lane_step(now, before, same_scene)
        if step is not None and step.lane == lane:
            return True
        if not self._flat:
            return not agrees(now, before, lane)
        others = float(now.spread[others_of(lane)].max())
        lively = float(now.spread[lane]) > max(BACK_LUMA, FLAT_SHARE * others)
        return lively and not is_flat(now, lane)


def _is_cut(now: Colour, before: Colour) -> bool:
    return float(np.abs(now.cells - before.cells).mean()) > CUT_LUMA
