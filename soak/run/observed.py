"""Observed time: a stretch lasts until it has been watched for long enough, holes not counted.

Nothing counts before `begin`: what is seen of a unit that nobody has confirmed to be on yet.
"""

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
        self._begun = False
        self._changed = trio.Event()

    def begin(self) -> None:
        """Count from now on; what has begun goes on."""
        if not self._begun:
            self._begun = True
            self._since_s = self._now_s()
            self._change()

    def notice(self, state: State) -> None:
        """Take a new state of any source."""
        if state.source not in self._sources:
            return
        self._total_s = self.total_s()
        self._since_s = self._now_s()
        (self._blind.add if _is_blind(state) else self._blind.discard)(state.source)
        self._change()

    def _change(self) -> None:
        self._changed.set()
        self._changed = trio.Event()

    def total_s(self) -> float:
        """Return the observed time so far in s."""
        return self._total_s + (self._now_s() - self._since_s if self._counts else 0.0)

    @property
    def _counts(self) -> bool:
        return self._begun and not self._blind

    async def reached(self, lasts_s: float) -> None:
        """Return when `lasts_s` have been observed."""
        while (left_s := lasts_s - self.total_s()) > 1e-9:
            changed = self._changed
            if not self._counts:
                await changed.wait()
            else:
                with trio.move_on_after(left_s):
                    await changed.wait()


def _is_blind(state: State | None) -> bool:
    return state is None or state.state in UNSEEN
