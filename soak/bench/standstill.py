"""Whether this computer itself stood still: a thread that wakes often notices when it wakes late.

A starved or paused host reads no picture and its kernel may not even take one, so that no driver's
timestamp tells it from a card that has stopped.
"""

import threading
import time
from collections import deque
from collections.abc import Callable

WAKES_EVERY_S = 0.05
"""A thread wakes so often to notice a standstill, s. Our own choice: a third of what counts as
late."""
LATE_S = 0.15
"""Woken so much later than asked, it stood still, s. Own choice: a busy one is late by less."""
_KEPT = 256


class Standstills:
    """Remembers when the computer stood still.

    Parameters
    ----------
    now_s : callable
        Soak time, s.
    """

    def __init__(self, now_s: Callable[[], float]) -> None:
        self._now_s = now_s
        self._woke_s = now_s()
        self._spans: deque[tuple[float, float]] = deque(maxlen=_KEPT)

    def watch(self) -> None:
        """Begin to wake; the thread ends with the process."""
        threading.Thread(target=self._wake_for_ever, daemon=True).start()

    def wake(self) -> None:
        """Notice how late it is."""
        now_s = self._now_s()
        if now_s - self._woke_s > WAKES_EVERY_S + LATE_S:
            self._spans.append((self._woke_s, now_s))
        self._woke_s = now_s

    def stood_s(self, from_s: float, to_s: float) -> float:
        """Return for how long of a span nothing woke, s."""
        spans = [*self._spans]
        now_s = self._now_s()
        if now_s - self._woke_s > WAKES_EVERY_S + LATE_S:
            spans.append((self._woke_s, now_s))  # it has not had time to notice yet
        return sum(max(0.0, min(end_s, to_s) - max(begin_s, from_s)) for begin_s, end_s in spans)

    def _wake_for_ever(self) -> None:
        while True:
            time.sleep(WAKES_EVERY_S)
            self.wake()
