"""A thread that writes: a slow line, or one that somebody halted, holds up nothing else."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager


class Writer:
    """Calls `write` soon after each `wake`, never twice at a time.

    What is woken for while it writes is written once, as it then is: a line too slow for all
    states of a screen gets the latest.
    """

    def __init__(self, write: Callable[[], None]) -> None:
        self._write = write
        self._woken = threading.Event()
        self._over = False

    @contextmanager
    def started(self) -> Iterator[None]:
        """Write meanwhile; at the end wait until all is out."""
        thread = threading.Thread(target=self._go_on, name="window", daemon=True)
        thread.start()
        try:
            yield
        finally:
            self._over = True
            self.wake()
            thread.join()

    def wake(self) -> None:
        """Have it written what is new."""
        self._woken.set()

    def _go_on(self) -> None:
        over = False
        while not over:
            self._woken.wait()
            self._woken.clear()
            over = self._over
            self._write()
