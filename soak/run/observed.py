"""Observed time: a stretch lasts until it has been watched for long enough, holes not counted."""

from collections.abc import Callable, Sequence

import trio

from soak.records import State
from soak.states import UNSEEN


class ObservedTime:
    """Count the time in which none of the given sources is blind.

    Parameters
    ----------
    sources : sequence of str
        Sources whose blindness makes a hole; protected output is one, too.
    latest : callable
        Returns the latest state of a source.
    already_s : float
        What earlier sessions have observed, s.
    now_s : callable
        Soak time in s.
    """

    def __init__(
        self,
        sources: Sequence[str],
        latest: Callable[[str], State | None],
        already_s: float,
        now_s: Callable[[], float],
    ) -> None:
        self._sources, self._now_s = frozenset(sources), now_s
        states = {source: latest(source) for source in sources}
        self._blind = {source for source, state in states.items() if _is_blind(state)}
        self._total_s, self._since_s = already_s, now_s()
        self._changed = trio.Event()

    def notice(self, state: State) -> None:
        """Take a new state of any source."""
        if state.source not in self._sources:
            return
        self._total_s = self.total_s()
        self._since_s = self._now_s()
        (self._blind.add if _is_blind(state) else self._blind.discard)(state.source)
        self._changed.set()
        self._changed = trio.Event()

    def total_s(self) -> float:
        """Return the observed time so far in s."""
        return self._total_s + (0.0 if self._blind else self._now_s() - self._since_s)

    async def reached(self, lasts_s: float) -> None:
        """Return when `lasts_s` have been observed."""
        while (left_s := lasts_s - self.total_s()) > 1e-9:
            changed = self._changed
            if self._blind:
                await changed.wait()
            else:
                with trio.move_on_after(left_s):
                    await changed.wait()


def _is_blind(state: State | None) -> bool:
    return state is None or state.state in UNSEEN
