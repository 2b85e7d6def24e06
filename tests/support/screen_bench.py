"""A terminal with a screen: `soak` before it, what a person sees there, what is typed."""

import fcntl
import os
import pty
import select
import signal
import struct
import termios
import time
from collections.abc import Callable, Mapping
from pathlib import Path

import pyte
from patience import LIMIT_S
from soak_process import SOAK

ASKS = """\
name = "asks"
not_after = "1 h"
[[stretch]]
name = "look-over"
attended = true
[stretch.look]
wait_s = 3000
[[stretch]]
name = "run"
lasts = "50 min"
[stretch.spots]
"""
"""A script that asks at once and then goes on for long."""


class ScreenTerminal:
    """A terminal of some columns and rows with `soak` in its foreground.

    Attributes
    ----------
    came : bytes
        All that the program wrote.
    """

    def __init__(
        self,
        bench: Path,
        *words: str,
        columns: int = 80,
        rows: int = 24,
        environment: Mapping[str, str] | None = None,
    ) -> None:
        self._screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self._screen)
        self.came = b""
        self._status: int | None = None
        ready, go = os.pipe()
        self.pid, self._terminal = pty.fork()
        if self.pid == 0:
            os.read(ready, 1)  # the size is set before it is asked for
            os.chdir(bench)
            os.environ.update({"TERM": "xterm", **(environment or {})})
            os.execv(SOAK[0], [*SOAK, *words])
        self.resize(columns, rows)
        self.echoes_before = self.echoes()
        os.write(go, b".")
        os.close(go)
        os.close(ready)

    def resize(self, columns: int, rows: int = 24) -> None:
        """Draw the window larger or smaller."""
        self._screen.resize(rows, columns)
        size = struct.pack("HHHH", rows, columns, 0, 0)
        fcntl.ioctl(self._terminal, termios.TIOCSWINSZ, size)

    @property
    def rows(self) -> list[str]:
        """What stands on the screen, without the empty rows at its end."""
        return self.text.splitlines()

    @property
    def text(self) -> str:
        """The same as one text."""
        return "\n".join(row.rstrip() for row in self._screen.display).rstrip()

    @property
    def words(self) -> str:
        """The same with each break as a space, to find what was broken into rows."""
        return " ".join(self.text.split())

    def echoes(self) -> bool:
        """Tell whether the terminal shows by itself what is typed, and edits it in lines."""
        flags = termios.tcgetattr(self._terminal)[3]
        return bool(flags & termios.ECHO) and bool(flags & termios.ICANON)

    def until(self, true: Callable[[], bool] | str) -> None:
        """Take what is written until something is true, or some words stand there."""
        seen = (lambda: true in self.words) if isinstance(true, str) else true
        ends_s = time.monotonic() + LIMIT_S
        while not seen():
            if time.monotonic() > ends_s or not self._more(0.1):
                raise AssertionError(f"{true!r} did not happen; the screen shows:\n{self.text}")

    def type(self, text: str) -> None:
        """Press keys."""
        os.write(self._terminal, text.encode())

    def hang_up(self) -> None:
        """Close the window."""
        os.close(self._terminal)
        self._terminal = -1

    def ended(self) -> int:
        """Read to the end; return the exit code, negative for a signal."""
        ends_s = time.monotonic() + LIMIT_S
        while self._status is None:
            if self._terminal >= 0:
                self._more(0.05)
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self._status = os.waitstatus_to_exitcode(status)
            assert time.monotonic() < ends_s, f"it does not end; the screen shows:\n{self.text}"
        while (
            self._terminal >= 0
            and self._more(0.0)
            and select.select([self._terminal], [], [], 0)[0]
        ):
            pass
        return self._status

    def __enter__(self) -> "ScreenTerminal":
        return self

    def __exit__(self, *_: object) -> None:
        if self._status is None:
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
        if self._terminal >= 0:
            os.close(self._terminal)

    def _more(self, wait_s: float) -> bool:
        """Take what is written next; False once nothing more can come."""
        ready, _, _ = select.select([self._terminal], [], [], wait_s)
        if not ready:
            return True
        try:
            came = os.read(self._terminal, 65536)
        except OSError:  # Linux says EIO at the end of a terminal
            return False
        self.came += came
        self._stream.feed(came)
        return bool(came)
