"""Lines that the operator types: one reader for a whole run, so that none is lost.

A read from a terminal cannot be taken back. A reader for each question would, once a question has
timed out, still sit there and swallow the answer to the next one.
"""

import threading
from collections import deque
from collections.abc import Callable

import trio


class TypedLines:
    """Read lines in a thread of its own.

    Parameters
    ----------
    read : callable
        Returns the next line; raises EOFError or OSError where there is none any more.
    """

    def __init__(self, read: Callable[[], str]) -> None:
        self._read = read
        self._typed: deque[str | None] = deque()
        self._came = trio.Event()
        self._reads = False

    def forget(self) -> None:
        """Drop what was typed before: it answers no question that is yet to be asked."""
        self._typed.clear()

    async def next(self) -> str | None:
        """Return the next line that is typed; None where nothing can be typed any more."""
        if not self._reads:
            self._reads = True
            token = trio.lowlevel.current_trio_token()
            threading.Thread(target=self._go_on, args=(token,), daemon=True).start()
        while not self._typed:
            self._came = trio.Event()
            await self._came.wait()
        return self._typed.popleft()

    def _go_on(self, token: trio.lowlevel.TrioToken) -> None:
        line: str | None = ""
        while line is not None:
            try:
                line = self._read()
            except (EOFError, OSError, ValueError):  # closed, hung up, or not to be decoded
                line = None
            try:
                trio.from_thread.run_sync(self._hand_over, line, trio_token=token)
            except (trio.RunFinishedError, trio.Cancelled):
                return

    def _hand_over(self, line: str | None) -> None:
        self._reads = line is not None
        self._typed.append(line)
        self._came.set()
