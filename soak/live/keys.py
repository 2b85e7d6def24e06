"""What is typed at a terminal: a line at a time, or a sign at a time where the screen is ours."""

import codecs
import os
import re
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import Any, Protocol

import trio

from soak.visible import in_line

_SEQUENCE = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]|O.|[^\[O])", re.DOTALL)
"""What arrows and other keys send (ECMA-48, 5.4; SS3 of cursor keys as in xterm's documents)."""
_BEGUN = re.compile(r"\x1b(?:\[[0-?]*[ -/]*|O)?\Z")
_ANOTHER_HAS_IT_S = 0.5
"""So often it is looked whether a keyboard is ours again, s. Decides nothing."""
_RUB_OUT, _ALL, _WORD = ("\x7f", "\x08"), "\x15", "\x17"
"""What a terminal's own line editing takes by default (termios: VERASE, VKILL, VWERASE)."""


class Typed(Protocol):
    """Lines that somebody types."""

    def forget(self) -> None:
        """Drop what was typed before: it answers no question that is yet to be asked."""

    async def next(self) -> str | None:
        """Return the next line that is typed; None where nothing can be typed any more."""


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


class LineInHand:
    """The line that is being typed.

    Attributes
    ----------
    text : str
        As far as it is typed.
    """

    def __init__(self) -> None:
        self.text = ""
        self._rest = ""

    def take(self, signs: str) -> Iterator[str]:
        """Take what keys send; yield each line that Enter ended."""
        plain = _SEQUENCE.sub("", self._rest + signs)
        begun = _BEGUN.search(plain)
        self._rest = begun[0] if begun else ""
        for sign in plain[: begun.start()] if begun else plain:
            if sign in "\r\n":
                line, self.text = self.text, ""
                yield line
            else:
                self._put(sign)

    def _put(self, sign: str) -> None:
        if sign in _RUB_OUT:
            self.text = self.text[:-1]
        elif sign == _ALL:
            self.text = ""
        elif sign == _WORD:
            before, space, _ = self.text.rstrip().rpartition(" ")
            self.text = before + space
        elif in_line(sign) == sign:  # else it is no sign that is drawn
            self.text += sign


class Keys:
    """The keyboard of a terminal whose screen is ours: nothing that is typed shows by itself."""

    def __init__(self) -> None:
        self.line = LineInHand()
        self._decode = codecs.getincrementaldecoder("utf-8")("replace").decode
        self._before: Any = None

    @contextmanager
    def held(self) -> Iterator[None]:
        """Take the keyboard; give it back as it was, however this ends."""
        self.take()
        try:
            yield
        finally:
            self._give_back()

    def take(self) -> None:
        """Take the keyboard, also again after the shell had it; not while another has it."""
        import termios

        with suppress(termios.error, OSError, ValueError):
            if not _is_ours():
                return
            now = termios.tcgetattr(sys.stdin.fileno())
            if now[3] & (termios.ICANON | termios.ECHO):
                self._before = self._before or termios.tcgetattr(sys.stdin.fileno())
                now[3] &= ~(termios.ICANON | termios.ECHO)
                termios.tcsetattr(sys.stdin.fileno(), termios.TCSADRAIN, now)

    async def lines(self, on_line: Callable[[str], None], changed: Callable[[], None]) -> None:
        """Read until nothing can be typed any more; `changed` hears of every sign."""
        while True:
            await trio.lowlevel.wait_readable(sys.stdin.fileno())
            try:
                if not _is_ours():  # what is typed is for somebody else now
                    await trio.sleep(_ANOTHER_HAS_IT_S)
                    continue
                came = os.read(sys.stdin.fileno(), 4096)
            except OSError:  # the window was closed
                came = b""
            if not came:
                return
            for line in self.line.take(self._decode(came)):
                on_line(line)
            changed()

    def _give_back(self) -> None:
        import termios

        with suppress(termios.error, OSError, ValueError):
            if self._before is not None and _is_ours():
                termios.tcsetattr(sys.stdin.fileno(), termios.TCSADRAIN, self._before)


def _is_ours() -> bool:
    """Tell whether this process stands before the terminal: who does not is stopped by it."""
    return os.tcgetpgrp(sys.stdin.fileno()) == os.getpgrp()
