"""Look through a recording: which states it shows, from which picture to which."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from soak.measure.looker import LookerSettings, PictureLooker
from soak.records import State
from soak.roles import Picture, Seen


@dataclass(frozen=True, slots=True)
class Span:
    """One state of a recording.

    Attributes
    ----------
    first, last : int
        Numbers of its first and last picture, from 0; of a stall, which holds none, the picture
        before it, twice.
    from_s, seconds : float
        When it begins, and how long it lasts, s; the last one lasts to the end of its picture.
    """

    kind: str
    first: int
    last: int
    from_s: float
    seconds: float


def look_through(
    pictures: Iterable[Picture], settings: LookerSettings, period_s: float | None = None
) -> Sequence[Span]:
    """Return the states of a recording in order of time.

    Parameters
    ----------
    pictures : iterable of Picture
        In order of time; each is let go after it was looked at.
    settings : LookerSettings
        Evidence frames are not made, and no unit is thought to start. Without an expected size,
        that of the first picture counts.
    period_s : float or None
        Duration of the last picture in s; None: the time since the one before it.
    """
    times_s: list[float] = []
    states = list(_states(pictures, settings, times_s))
    if not times_s:
        return ()
    if period_s is None:
        period_s = times_s[-1] - times_s[-2] if len(times_s) > 1 else 0.0
    return tuple(_spans(states, times_s, times_s[-1] + period_s))


def _states(
    pictures: Iterable[Picture], settings: LookerSettings, times_s: list[float]
) -> Iterator[State]:
    looker: PictureLooker | None = None
    for picture in pictures:
        if looker is None:
            size = settings.size or (picture.size if all(picture.size) else None)
            as_recorded = replace(settings, size=size, still_at_start_s=0.0, frames_in_all=0)
            looker = PictureLooker(as_recorded)
        times_s.append(max(picture.t_s, times_s[-1]) if times_s else picture.t_s)
        yield from _only_states(looker.look(picture))
    if looker is not None:
        yield from _only_states(looker.finish())


def _only_states(seen: Sequence[Seen]) -> Iterator[State]:
    return (one for one in seen if isinstance(one, State))


def _spans(states: Sequence[State], times_s: Sequence[float], end_s: float) -> Iterator[Span]:
    ends_s = [state.t_s for state in states[1:]] + [end_s]
    at = 0
    for state, to_s in zip(states, ends_s, strict=True):
        while at < len(times_s) and times_s[at] < state.t_s:
            at += 1
        first = at
        while at < len(times_s) and times_s[at] < to_s:
            at += 1
        last = at - 1
        if last < first:  # a stall: no picture of its own
            first = last
        yield Span(state.state, first, last, state.t_s, to_s - state.t_s)
