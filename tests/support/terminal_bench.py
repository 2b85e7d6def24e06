"""An operator at a terminal: `soak` as its foreground process, what it shows, what is typed."""

import os
import pty
import re
import select
import signal
import time
from collections.abc import Sequence
from pathlib import Path

from patience import LIMIT_S
from soak_process import SOAK


class Terminal:
    """A terminal with `soak` in the foreground, so that the kernel turns Ctrl-C into a signal."""

    def __init__(self, bench: Path, *words: str, program: str = SOAK[-1]) -> None:
        self.shown = ""
        self.pid, self._terminal = pty.fork()
        if self.pid == 0:
            os.chdir(bench)
            os.environ["TERM"] = "dumb"
            os.execv(SOAK[0], [*SOAK[:-1], program, *words])
        self._status: int | None = None

    def until(self, *words: str) -> str:
        """Read until one of the words is shown; return it.

        Raises
        ------
        AssertionError
            If it never is.
        """
        deadline_s = time.monotonic() + LIMIT_S
        while time.monotonic() < deadline_s:
            found = next((word for word in words if word in self.shown), None)
            if found is not None:
                self.shown = self.shown.partition(found)[2]
                return found
            if not self._more(deadline_s):
                break
        raise AssertionError(
            f"{' or '.join(words)!r} was not shown; the terminal shows:\n{self.shown}"
        )

    def type(self, text: str) -> None:
        """Type a line."""
        os.write(self._terminal, text.encode() + b"\n")

    def ctrl_c(self) -> None:
        """Press Ctrl-C."""
        os.write(self._terminal, b"\x03")

    def hang_up(self) -> None:
        """Close the terminal's window."""
        os.close(self._terminal)
        self._terminal = -1

    def ended(self) -> int:
        """Read to the end; return the exit code, negative for a signal."""
        deadline_s = time.monotonic() + LIMIT_S
        while self._terminal >= 0 and time.monotonic() < deadline_s and self._more(deadline_s):
            pass
        while self._status is None:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self._status = os.waitstatus_to_exitcode(status)
            elif time.monotonic() > deadline_s:
                raise AssertionError(f"it does not end; the terminal shows:\n{self.shown}")
            else:
                select.select([], [], [], 0.02)
        return self._status

    def __enter__(self) -> "Terminal":
        return self

    def __exit__(self, *_: object) -> None:
        if self._status is None:
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
        if self._terminal >= 0:
            os.close(self._terminal)

    def _more(self, deadline_s: float) -> bool:
        """Take what is shown next; False once nothing more can come."""
        ready, _, _ = select.select(
            [self._terminal], [], [], max(0.0, deadline_s - time.monotonic())
        )
        if not ready:
            return False
        try:
            came = os.read(self._terminal, 4096)
        except OSError:  # Linux says EIO at the end of a terminal
            return False
        self.shown += re.sub(r"\r\n?", "\n", came.decode(errors="replace"))
        return bool(came)


def typed_at(bench: Path, words: Sequence[str]) -> Terminal:
    """Start `soak` at a terminal in a bench folder."""
    return Terminal(bench, *words)
