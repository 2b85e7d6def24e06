"""Follow the fine faults of a stream: a sample at a steady low rate, all pictures around trouble.

A fully decoded picture costs as much as a whole second of triage, so one in `every` is seen; when
it shows anything new, those passed over are seen after all, which places the change to the
picture, and the next ones are seen at full rate.
"""

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np

from soak.measure.video.colour import Colour, colour_of
from soak.measure.video.evidence_frames import EvidenceFrames
from soak.measure.video.fine.blocks import Blocks
from soak.measure.video.fine.episode import Episode
from soak.measure.video.fine.sparkle import Cells, Sparkle, fresh_sparks, is_cut
from soak.measure.video.fine.standing_tear import StandingTears
from soak.measure.video.fine.tint import Tint
from soak.measure.video.fine.torn import (
    AGREE,
    MOST_MOTION_BETWEEN,
    prominent,
    shift_after,
    still_torn,
    tears,
)
from soak.measure.video.fine.view import View, view_of
from soak.measure.video.intake import Arrived
from soak.measure.video.picture import Held
from soak.measure.video.snow import FEWEST_ROWS
from soak.records import State
from soak.roles import Seen
from soak.states import PICTURE

TINT = "tint"
SPARKLE = "sparkle"
TORN = "torn"
BLOCK = "block"
FINE = (TINT, SPARKLE, TORN, BLOCK)
FULL_RATE_FOR = 24
"""After trouble so many pictures are all seen. Our own choice."""
HARMLESS_ROWS = 64
"""So many rows that looked shifted and were none are not looked into again. Our own choice: as many
as some pictures have, few enough that a tear is not taken for one hours later."""
LOOKED_AGAIN_AFTER = 8
"""Rows that merely look shifted make all pictures be seen; not again within so many of those seen
anyway. Our own choice: at one in eight a second; textures have such rows in most pictures."""
FULL_RATE_AT_FIRST = 6
"""So many are after the picture was gone. Our own choice."""
_BRIDGES = {TINT: 2, SPARKLE: 6, TORN: 12, BLOCK: 3}


@dataclass(slots=True)
class _Seen:
    """A picture that was seen fully, with what was found in it."""

    held: Held
    view: View
    colour: Colour
    bad: dict[str, float] = field(default_factory=dict)
    compared: bool = False


class FineFaults:
    """Follows one stream.

    Parameters
    ----------
    source : str
        Source of the picture's states; those of a fine fault come from `source.kind`.
    every : int
        One picture in so many is seen; 0: none.
    frames : EvidenceFrames or None
        Makes the evidence: the last clean picture, the first bad one, the first clean one after.
    menus : tuple of Colour
        The unit's own pictures that were taught.
    logo_s : float
        How long a unit may show a logo without colours, s.
    """

    def __init__(
        self,
        source: str,
        every: int,
        frames: EvidenceFrames | None = None,
        *,
        menus: tuple[Colour, ...] = (),
        logo_s: float = 0.0,
    ) -> None:
        self._every = every
        self._frames = frames
        self._shown: set[str] = set()
        self._sparkle = Sparkle()
        self._tint = Tint(menus, logo_s)
        self._clean: Held | None = None
        self._blocks = Blocks()
        self.episodes = {kind: Episode(f"{source}.{kind}", kind, _BRIDGES[kind]) for kind in FINE}
        self._tears: list[tuple[int, int]] = []
        self._standing = StandingTears()
        self._harmless: deque[int] = deque(maxlen=HARMLESS_ROWS)
        self._last: _Seen | None = None
        self._counted: tuple[_Seen, _Seen, Cells] | None = None
        self._waiting: list[Arrived] = []
        self._since = every
        self._since_looked = LOOKED_AGAIN_AFTER
        self._full_for = 0

    def is_due(self, arrived: Arrived, jumped: bool) -> bool:
        """Tell whether the picture just come is to be seen fully."""
        if not self._every or arrived.held.size[1] < FEWEST_ROWS:
            return False
        if self._last is not None and arrived.held is self._last.held:
            return True  # costs nothing
        self._since += 1
        return jumped or self._full_for > 0 or self._since >= self._every

    def pass_over(self, arrived: Arrived) -> None:
        """Keep a picture that is not seen now; it may have to be."""
        if self._every:  # 0: fine faults are not looked for, and nothing is kept
            self._waiting.append(arrived)
            del self._waiting[: -2 * self._every]

    def gone(self, t_s: float) -> Iterator[State]:
        """End everything: there is no picture to look at."""
        for episode in self.episodes.values():
            yield from episode.end(t_s)
        self._tint.gone()
        self._sparkle.gone()
        self._last = None
        self._tears = []
        self._standing = StandingTears()
        self._harmless.clear()
        self._waiting.clear()
        self._full_for = FULL_RATE_AT_FIRST
        self._shown.clear()

    def see(self, arrived: Arrived, kind_of: Callable[[Held], str]) -> Iterator[Seen]:
        """See a picture that is due, and those before it where it shows something new."""
        waiting = self._waiting
        self._waiting = []
        self._since = 0
        if kind_of(arrived.held) != PICTURE:  # asked first: seeing a picture fully is what costs
            self._tint.gone()
            if self._last is not None:
                lost = (picture for picture in waiting if kind_of(picture.held) != PICTURE)
                yield from self.gone(next(lost, arrived).t_s)
            self._full_for = 0
            return
        seen = self._look(arrived.held)
        if seen is None:
            return
        last = self._last
        if waiting and last is not None and self._shows_new(seen, last):
            for kept in waiting:
                before = self._look(kept.held)
                if before is not None and kind_of(kept.held) == PICTURE:
                    yield from self._judge(kept, before)
            self._full_for = FULL_RATE_FOR
        yield from self._judge(arrived, seen)

    def _look(self, held: Held) -> _Seen | None:
        if self._last is None:
            self._full_for = FULL_RATE_AT_FIRST
        elif self._last.held is held:
            return self._last
        view = view_of(held)
        colour = colour_of(held)
        return None if view is None or colour is None else _Seen(held, view, colour)

    def _shows_new(self, now: _Seen, last: _Seen) -> bool:
        if now is last:
            return False
        if any(one.active for kind, one in self.episodes.items() if kind != TINT):
            return True
        if self._tint.differs(now.colour) or self._blocks.stand_out(now.view):
            return True
        if now.view.luma.shape != last.view.luma.shape:
            return False
        if self._sparkle.sparks(self._fresh(now, last), now.view.luma.size):
            return True
        if tears(now.view, last.view, MOST_MOTION_BETWEEN):
            return True
        if self._since_looked < LOOKED_AGAIN_AFTER:
            self._since_looked += 1
            return False
        # Over several pictures of a moving scene no step is new: look at each for itself.
        rows = [row for row in prominent(now.view.row_steps) if row not in self._harmless]
        torn = [row for row in rows if shift_after(now.view, row, AGREE)]
        self._harmless.extend(torn)
        self._since_looked = 0 if torn else LOOKED_AGAIN_AFTER
        return bool(torn)

    def _fresh(self, now: _Seen, last: _Seen) -> Cells:
        """Return the sparks that are new since a picture; asked twice they are counted once."""
        known = self._counted
        if known is None or known[0] is not now or known[1] is not last:
            known = self._counted = (now, last, fresh_sparks(now.view, last.view))
        return known[2]

    def _judge(self, arrived: Arrived, now: _Seen) -> Iterator[Seen]:
        last = self._last
        tint = self._tint.see(arrived, now.colour)
        since = {TINT: tint.since}
        if now is not last:
            now.bad = self._bad(arrived, now, last, tint.bad)
            self._last = now
            if SPARKLE in now.bad:
                since[SPARKLE] = self._sparkle.since
            if TORN not in now.bad and (stood := self._standing.see(arrived, now.view)):
                row, shift, since[TORN] = stood
                self._tears = [(row, shift)]
                now.bad[TORN] = 1.0
        elif not now.bad:  # a still picture teaches as well
            now.compared = True
            self._sparkle.learn_still()
            self._blocks.learn_still(now.view)
        # A tint may last for hours: what follows it is seen at the usual rate.
        if now.bad or tint.bad != self.episodes[TINT].active:
            self._full_for = FULL_RATE_FOR
        elif self._full_for:
            self._full_for -= 1
        bad = now.bad | ({TINT: 1.0} if tint.bad else {})
        yield from self._tell(arrived, bad, since)
        if not bad and not self._tint.suspects and self._sparkle.early is None:
            self._clean = now.held

    def _tell(
        self, arrived: Arrived, bad: dict[str, float], since: dict[str, Arrived | None]
    ) -> Iterator[Seen]:
        """Say what begins and ends, where that is known only now since an earlier picture."""
        for kind, episode in self.episodes.items():
            first = since.get(kind)
            for state in episode.see(arrived, kind in bad, bad.get(kind, 0.0), first):
                yield state
                shown = first if first is not None and state.state == kind else arrived
                yield from self._evidence(kind, state, shown)

    def _evidence(self, kind: str, state: State, arrived: Arrived) -> Iterator[Seen]:
        """Show a change; the picture after it is the one that proved the end."""
        frames = self._frames
        if frames is None:
            return
        if state.state == kind:
            if not frames.begin(arrived.t_s, kind):
                return
            self._shown.add(kind)
            yield from frames.frame(arrived.t_s, self._clean, "before", kind)
            yield from frames.frame(arrived.t_s, arrived.held, "during", kind)
        elif kind in self._shown:
            self._shown.discard(kind)
            yield from frames.frame(arrived.t_s, arrived.held, "after", kind)

    def _bad(
        self, arrived: Arrived, now: _Seen, last: _Seen | None, tinted: bool
    ) -> dict[str, float]:
        """Return what is bad in a picture besides its colours."""
        bad: dict[str, float] = {}
        if self._blocks.stand_out(now.view):
            return bad | {BLOCK: 1.0}  # its rings look like sparks
        if last is None or last.view.luma.shape != now.view.luma.shape or BLOCK in last.bad:
            return bad
        now.compared = not is_cut(now.view, last.view)
        fresh = self._fresh(now, last)
        # After a picture that was compared and clean no sparks can have gone.
        was_clean = last.compared and not last.bad and self._sparkle.since is None
        pixels = now.view.luma.size
        stirs = was_clean and self._sparkle.stirs(fresh, pixels)
        if stirs and self._sparkle.jumped(fresh, now.view, last.view):
            fresh = np.zeros_like(fresh)
        if sparks := self._sparkle.sparks(fresh, pixels):
            bad[SPARKLE] = sparks
        if self._is_torn(now.view, last.view):
            bad[TORN] = float(len(self._tears))
        if not bad and not tinted:
            self._sparkle.learn(fresh, pixels, arrived)
            self._blocks.learn(now.view)
        return bad

    def _is_torn(self, now: View, last: View) -> bool:
        """Tell whether a tear found before is still there, or a new one is."""
        if self._tears and still_torn(now, self._tears):
            return True  # costs less than to look for another
        places = tears(now, last)
        if places or not self.episodes[TORN].active:
            self._tears = places
        return bool(places)
