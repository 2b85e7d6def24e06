"""The parent's end of a capture's child process. Its methods block: they run in threads."""

import contextlib
import signal
import subprocess
import sys
import threading
from collections import deque

from soak.bench.capture.words import Order, Word
from soak.bench.child import leave_behind
from soak.bench.child_end import receive, send


class ChildLink:
    """One child process and the two pipes to it.

    A word is kept here as soon as it has been read, so that none is lost with a thread that was
    given up.

    Raises
    ------
    OSError
        If no process can be started.
    """

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "soak.bench.capture.child_end"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # decoders speak there past everything; faults are words
            start_new_session=True,  # Ctrl-C is for the parent, which then decides
        )
        self._words: deque[Word] = deque()
        self._reading, self._telling = threading.Lock(), threading.Lock()
        self._over = False
        self.used = False
        with contextlib.suppress(OSError):
            self._send(("path", sys.path))

    @property
    def pid(self) -> int:
        """The child's process id."""
        return self._process.pid

    def tell(self, *orders: Order) -> None:
        """Tell the child; that it is gone is found when its words are read."""
        with self._telling, contextlib.suppress(OSError, ValueError):
            for order in orders:
                self._send(order)

    def _send(self, order: Order) -> None:
        assert self._process.stdin is not None
        send(self._process.stdin, order)

    def wait(self) -> None:
        """Return when there is a word."""
        with self._reading:
            if not self._words:
                self._words.append(self._read())

    def next(self) -> Word | None:
        """Return the next word that has come, None if there is none; does not block."""
        return self._words.popleft() if self._words else None

    def _read(self) -> Word:
        assert self._process.stdout is not None
        try:
            word: Word = receive(self._process.stdout)
        except (EOFError, OSError, ValueError):
            return Word("gone", why=self._how_it_ended())
        finally:
            if self._over:
                self._process.stdout.close()
        return word

    def _how_it_ended(self) -> str:
        with contextlib.suppress(subprocess.TimeoutExpired):
            code = self._process.wait(1.0)
            if code < 0:
                with contextlib.suppress(ValueError):
                    return f"the process that captures was ended by {signal.Signals(-code).name}"
        return "the process that captures has ended by itself"

    def let_go(self, limit_s: float) -> None:
        """Let the child close the source and end; kill it if that takes longer."""
        with contextlib.suppress(OSError):
            assert self._process.stdin is not None
            self._process.stdin.close()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(limit_s)
        self.kill()

    def kill(self) -> None:
        """Kill the child; one that hangs in the kernel is left behind. Twice is safe."""
        if self._over:
            return
        self._over = True
        leave_behind(self._process)
        stdin, stdout = self._process.stdin, self._process.stdout
        with contextlib.suppress(OSError):
            assert stdin is not None
            stdin.close()
        # A thread that reads holds the pipe: it finds its end and closes it.
        if stdout is not None and self._reading.acquire(blocking=False):
            stdout.close()
            self._reading.release()
