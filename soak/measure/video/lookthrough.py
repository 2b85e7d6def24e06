"""Look through a recording: which states it shows, from which picture to which."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from soak.measure.video.accounts import FrameAccounts
from soak.measure.video.fine.episode import CLEAN
from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.records import State
from soak.roles import Picture


@dataclass(frozen=True, slots=True)
class Shown:
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


@dataclass(frozen=True, slots=True)
class Look:
    """What a recording shows.

    Attributes
    ----------
    spans : sequence of Shown
        The states, one after the other.
    faults : sequence of Shown
        Fine faults; they lie over the states.
    pictures, damaged : int
        Pictures looked at, and packets that were no whole picture.
    backwards : int
        Pictures whose time lay before the one before.
    lost, repeated : int
        Pictures missing by the stream's own rhythm (stalls apart), and exact repeats.
    rate_hz : float
        The stream's own rate, pictures a second; 0 where it is not known.
    longest_still_s : float
        The longest time that the picture stood still, s; 0 where motion is not followed.
    """

    spans: Sequence[Shown]
    faults: Sequence[Shown]
    pictures: int
    damaged: int
    backwards: int
    lost: int = 0
    repeated: int = 0
    rate_hz: float = 0.0
    longest_still_s: float = 0.0


def look_over(
    pictures: Iterable[Picture], settings: WatcherSettings, period_s: float | None = None
) -> Look:
    """Look through a recording.

    Parameters
    ----------
    pictures : iterable of Picture
        In order of time; each is let go after it was looked at.
    settings : WatcherSettings
        Evidence frames are not made, and no unit is thought to start. Without an expected size,
        that of the first picture counts.
    period_s : float or None
        Duration of the last picture in s; None: the time since the one before it.
    """
    run = _Run(settings)
    states = list(run.states(pictures))
    times_s = run.times_s
    if not times_s:
        return Look((), (), 0, damaged=0, backwards=0)
    if period_s is None:
        period_s = times_s[-1] - times_s[-2] if len(times_s) > 1 else 0.0
    end_s = times_s[-1] + period_s
    sources = dict.fromkeys(state.source for state in states)
    by_source = {name: [state for state in states if state.source == name] for name in sources}
    spans = tuple(_spans(by_source.pop(settings.source, []), times_s, end_s))
    fine = (span for own in by_source.values() for span in _spans(own, times_s, end_s))
    faults = sorted((span for span in fine if span.kind != CLEAN), key=lambda one: one.from_s)
    rate_hz = 1 / run.accounts.period_s if run.accounts.period_s else 0.0
    counts = (len(times_s), run.damaged, run.backwards, run.accounts.lost, run.accounts.repeated)
    return Look(spans, tuple(faults), *counts, rate_hz, run.longest_still_s)


class _Run:
    """Runs a watcher over a recording and keeps the times."""

    def __init__(self, settings: WatcherSettings) -> None:
        self._settings = settings
        self.times_s: list[float] = []
        self.backwards = self.damaged = 0
        self.longest_still_s = 0.0
        self.accounts = FrameAccounts()

    def states(self, pictures: Iterable[Picture]) -> Iterator[State]:
        watcher: PictureWatcher | None = None
        for picture in pictures:
            watcher = watcher or self._watcher(picture)
            last_s = self.times_s[-1] if self.times_s else picture.t_s
            self.backwards += picture.t_s < last_s
            self.times_s.append(max(picture.t_s, last_s))
            for reading in watcher.look(picture):
                if isinstance(reading, State):
                    yield reading
        if watcher is not None:
            self.damaged = watcher.damaged
            self.accounts = watcher.accounts
            self.longest_still_s = watcher.longest_still_s
            yield from (last for last in watcher.finish() if isinstance(last, State))

    def _watcher(self, first: Picture) -> PictureWatcher:
        settings = self._settings
        size = settings.size or (first.size if all(first.size) else None)
        as_recorded = replace(settings, size=size, still_at_start_s=0.0, frames_in_all=0)
        return PictureWatcher(as_recorded)


def _spans(states: Sequence[State], times_s: Sequence[float], end_s: float) -> Iterator[Shown]:
    ends_s = [*(state.t_s for state in states), end_s][1:]  # none where nothing was ever shown
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
        yield Shown(state.state, first, last, from_s=state.t_s, seconds=to_s - state.t_s)
