"""Dropouts, episodes, restarts and hangs, derived from what a source was seen to be.

What of a loss lies so near a hole that the hole explains it is in doubt, unless another instrument
saw it too: it is not charged to the unit, and its time becomes a hole itself. What goes on for
longer is the unit's.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from soak.derive.electric.power import ANSWER_SLACK_S
from soak.derive.seeing.holes import REOPENING_LEAST_S, Hole, Period
from soak.derive.spans import Span, minus
from soak.states import WENT, longest_start_s


@dataclass(frozen=True, slots=True)
class Dropout:
    """A loss of what should be there, while the unit had power and was started.

    Attributes
    ----------
    states : tuple of str
        The bad states it went through.
    returned : bool
        Whether the good state came back before power, evidence or sight ended.
    charged : bool
        False: in doubt, a hole and nothing else.
    until_off : bool
        Whether it lasted until the power went.
    within_s : float
        It may have begun so much earlier.
    """

    from_s: float
    to_s: float
    source: str
    states: tuple[str, ...]
    returned: bool
    charged: bool
    until_off: bool
    within_s: float

    @property
    def length_s(self) -> float:
        """Length in s as seen."""
        return self.to_s - self.from_s

    @property
    def state(self) -> str:
        """The first of its states."""
        return self.states[0]


@dataclass(frozen=True, slots=True)
class Episode:
    """Dropouts that belong together: contacts bounce."""

    dropouts: tuple[Dropout, ...]
    kind: Literal["dropout", "restart", "hang"]

    @property
    def from_s(self) -> float:
        """Begin of the first dropout, s."""
        return self.dropouts[0].from_s

    @property
    def to_s(self) -> float:
        """End of the last dropout, s."""
        return self.dropouts[-1].to_s

    @property
    def longest_s(self) -> float:
        """Longest of its dropouts, s."""
        return max(dropout.length_s for dropout in self.dropouts)


def find_dropouts(
    source: str,
    seen: Sequence[Period],
    bad: frozenset[str],
    windows: Sequence[Span],
    holes: Sequence[Hole],
    grace_s: float,
    witnessed: Callable[[float, float], bool] = lambda from_s, to_s: False,
) -> list[Dropout]:
    """Return the losses of one source, in order of time.

    Parameters
    ----------
    seen : sequence of Period
        What the source was seen to be.
    windows : sequence of (float, float)
        When the unit had power and was started, up to where losses are charged.
    holes : sequence of Hole
        When the bench could not see this source, and what that explains.
    grace_s : float
        A loss that was there when the unit had just started is one only if it lasts longer, s.
    witnessed : callable
        Tells whether something else saw what was lost between two times in s: then it is no doubt.
    """
    dropouts: list[Dropout] = []
    runs = _bad_runs(seen, bad)
    at = 0
    for begins_s, until_s in windows:
        while at < len(runs) and runs[at][-1].to_s <= begins_s:
            at += 1
        look = at
        while look < len(runs) and runs[look][0].from_s < until_s:
            window = (begins_s, until_s)
            dropouts += _losses(
                source, runs[look], window, holes=holes, grace_s=grace_s, witnessed=witnessed
            )
            look += 1
    return sorted(dropouts, key=lambda loss: loss.from_s)


def _bad_runs(seen: Sequence[Period], bad: frozenset[str]) -> list[list[Period]]:
    runs: list[list[Period]] = []
    for period in seen:
        if period.state in bad:
            if runs and runs[-1][-1].to_s == period.from_s:
                runs[-1].append(period)
            else:
                runs.append([period])
    return runs


def _losses(
    source: str,
    run: Sequence[Period],
    window: Span,
    holes: Sequence[Hole],
    grace_s: float,
    witnessed: Callable[[float, float], bool],
) -> Iterator[Dropout]:
    """Yield what of a run of bad states is the unit's, and what may be the doing of a hole."""
    began_s = run[0].from_s
    ended_s = run[-1].to_s
    from_s = max(began_s, window[0])
    to_s = min(ended_s, window[1])
    came_back = run[-1].ended and ended_s <= window[1]
    carried = began_s < window[0]
    if to_s <= from_s or (carried and came_back and to_s - from_s <= grace_s):
        return
    # The window ends a little before the power went or a gap began: a hole there still touches.
    reach_s = min(ended_s, to_s + ANSWER_SLACK_S)
    near = [hole for hole in holes if hole.from_s <= reach_s and from_s <= hole.explains[1]]
    blinded = any(hole.from_s <= reach_s and hole.to_s >= to_s for hole in near)
    within_s = 0.0 if carried else run[0].within_s
    whole = Dropout(
        from_s=from_s,
        to_s=to_s,
        source=source,
        states=tuple(period.state for period in run),
        returned=came_back and not blinded,
        charged=True,
        until_off=not came_back and not blinded and run[-1].to_s >= window[1],
        within_s=within_s,
    )
    spans = [(from_s, to_s)]
    unseen = [(hole.from_s, hole.to_s) for hole in near]
    own = minus(spans, unseen)
    touched = any(hole.unit_too for hole in near)
    if not own or touched or not witnessed(from_s, to_s):
        own = minus(spans, [_explained(hole, began_s, from_s) for hole in near])
    if own:
        begins_s = own[0][0]
        until_s = own[-1][1]
        since_s = within_s if begins_s == from_s else begins_s - from_s + within_s
        yield replace(whole, from_s=begins_s, to_s=until_s, within_s=since_s)
        spans = minus(spans, [(begins_s, until_s)])
    yield from (
        replace(whole, from_s=a, to_s=b, charged=False, returned=False, until_off=False)
        for a, b in spans
    )


def _explained(hole: Hole, began_s: float, from_s: float) -> Span:
    """Return when what was lost from `from_s` on, and bad since `began_s`, may be a hole's doing.

    Before it only where the loss began so late that the source may have been giving way by then;
    after it only where the source had not shown what is good meanwhile: its reopening is over then.
    """
    begins_s, ends_s = hole.explains
    if not hole.unit_too and began_s > hole.to_s + REOPENING_LEAST_S:
        ends_s = hole.to_s
    return (begins_s if from_s >= begins_s else hole.from_s, ends_s)


def episodes(
    losses: Sequence[Dropout],
    gap_s: float,
    usual_start_s: float,
    alive: Callable[[float, float], bool] = lambda from_s, to_s: False,
) -> list[Episode]:
    """Join charged dropouts at most `gap_s` apart and tell restarts and hangs from them.

    A restart: the picture went (not merely stood still) and came back after at least half the time
    of a usual start. A hang: it did not come back while the power stayed on for longer than any
    start takes.

    Parameters
    ----------
    alive : callable
        Tells whether something else proves that the unit ran on between two times in s.
    """
    groups: list[list[Dropout]] = []
    for loss in losses:
        if not loss.charged:
            continue
        if groups and loss.from_s - groups[-1][-1].to_s <= gap_s:
            groups[-1].append(loss)
        else:
            groups.append([loss])
    return [Episode(tuple(group), _kind(group, usual_start_s, alive)) for group in groups]


def _kind(
    group: Sequence[Dropout], usual_start_s: float, alive: Callable[[float, float], bool]
) -> Literal["dropout", "restart", "hang"]:
    last = group[-1]
    length_s = last.to_s - group[0].from_s
    if last.until_off and last.length_s >= max(longest_start_s(usual_start_s), 60):
        return "hang"
    went = any(state in WENT for loss in group for state in loss.states)
    like_a_start = went and last.returned and length_s >= usual_start_s / 2
    if like_a_start and not alive(group[0].from_s, last.to_s):
        return "restart"
    return "dropout"
