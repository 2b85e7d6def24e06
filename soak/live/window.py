"""The window of soaks that run: what was said stays, below it the units, the question, the keys.

Where the window is no screen that can be written over (a pipe, a file, `TERM=dumb`, Windows) there
is no foot: whole lines only, and a terminal reads whole lines.
"""

import math
import os
import sys
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from typing import Protocol, TextIO

import trio

from soak.live.foot import Foot, Size, cut, filled, narrow, tail
from soak.live.keys import Keys, Typed, TypedLines
from soak.live.writer import Writer
from soak.reader import show, spoken
from soak.words import Data, Message, Output, Said, msg

_LOOK_EVERY_S = 1.0
"""The foot is looked at so often, s. Own choice: a clock that counts seconds."""
_LEAPING_EVERY_S = 0.2
"""In simulated time, which leaps, it is written so often at most, s."""
BELL = "\a"
_INDENT = "    "


class Panel(Protocol):
    """One unit's part of the foot."""

    unit: str

    def parts(self) -> Sequence[Said]:
        """Return what there is to say of it now, the most urgent first; nothing once it is over."""
        ...


class Card(Protocol):
    """The question that is open."""

    def lines(self) -> Sequence[Said]:
        """Return what stands there of it: who asks and until when, what, why not as answered."""
        ...


class Window:
    """The one window of a command that soaks.

    Parameters
    ----------
    apart : bool
        Whether a thread of its own writes: then a slow or a halted line holds up nothing. In
        simulated time there is nothing to hold up.
    heed : callable
        Takes a line that is no answer; returns what to say to it, or None if it is no command.
    hint : Message or None
        What can be typed where nothing is asked.

    Attributes
    ----------
    live : bool
        Whether it has a foot.
    typed : Typed
        What is typed here to a question.
    """

    def __init__(
        self,
        out: TextIO | None = None,
        *,
        apart: bool = False,
        heed: Callable[[str], Message | None] = lambda _: None,
        hint: Message | None = None,
    ) -> None:
        self._out = out or sys.stderr
        self.live = _written_over(self._out)
        self.heed = heed
        self._hint = hint
        self._keys = Keys() if self.live and apart and sys.stdin.isatty() else None
        self.typed: Typed = TypedLines(input) if self._keys is None else _Lines()
        self._panels: list[Panel] = []
        self._card: Card | None = None
        self._foot = Foot()
        self._lines = deque[str]()
        self._now: tuple[Sequence[str], Size] = ((), self._now_size())
        self._due_s = -math.inf
        self._writer = Writer(self._write) if apart else None

    @contextmanager
    def opened(self) -> Iterator["Window"]:
        """Write meanwhile; return only once all that was said has come out."""
        if self._writer is None:
            yield self
            return
        with self._writer.started():
            yield self

    async def keep(self) -> None:
        """Keep the foot up to date, and read what is typed; cancelled, the screen has no foot."""
        with ExitStack() as held:
            held.callback(self.leave)
            if self._keys is not None:
                held.enter_context(self._keys.held())
            async with trio.open_nursery() as nursery:
                if self._keys is not None:
                    nursery.start_soon(self._read_keys, self._keys)
                while self.live:
                    if self._keys is not None:
                        self._keys.take()
                    self.refresh()
                    await trio.sleep(_LOOK_EVERY_S)

    def add(self, panel: Panel) -> None:
        """Show a unit from now on."""
        self._panels = sorted([*self._panels, panel], key=lambda shown: shown.unit)

    def say(self, told: Output, before: str = "", rings: int = 0) -> None:
        """Print a line that stays."""
        bells = BELL * (rings if self._out.isatty() else 0)
        self._lines.append(f"{before}{spoken(told)}\n{bells}")
        self._paint()

    def ask(self, told: Said) -> None:
        """Print a question behind which is typed, where there is no foot to show it in."""
        self._lines.append(spoken(told))
        self._paint()

    def ring(self) -> None:
        """Ring the bell of a terminal."""
        if self._out.isatty():
            self._lines.append(BELL)
            self._paint()

    @contextmanager
    def asking(self, card: Card) -> Iterator[None]:
        """Show a question meanwhile."""
        self._card = card
        self.refresh()
        try:
            yield
        finally:
            self._card = None
            self.refresh()

    def refresh(self, *, seldom: bool = False) -> None:
        """Show what is true now; `seldom`: not if that was done a moment ago."""
        if not self.live or (seldom and time.monotonic() < self._due_s):
            return
        self._due_s = time.monotonic() + _LEAPING_EVERY_S
        size = self._now_size()
        self._now = self._composed(size), size
        self._paint()

    def _composed(self, size: Size) -> Sequence[str]:
        asked = self._asked(size.columns)
        room = max(1, size.rows - 1 - len(asked) - 1)
        panels = [[spoken(part) for part in panel.parts()] for panel in self._panels]
        shown = [parts for parts in panels if parts]
        most = max(1, room // max(1, len(shown)))
        units = [row for parts in shown for row in filled(parts, size.columns, most, _INDENT)]
        units = units[:room]
        rule = ["-" * (size.columns - 1)] if units or asked else []
        return [*rule, *units, *asked][-max(1, size.rows - 1) :]

    def _asked(self, columns: int) -> Sequence[str]:
        """Return the rows of the question, of what can be typed, and of what is typed."""
        rows: list[str] = []
        if self._card is not None:
            said = [spoken(line) for line in self._card.lines()]
            rows = ["", *(row for line in said if line for row in narrow(line, columns))]
        elif self._keys is not None and self._hint is not None:
            rows = [cut(spoken(self._hint), columns)]
        return [*rows, tail(f"> {self._keys.line.text}", columns)] if self._keys else rows

    def _paint(self) -> None:
        if self._writer is None:
            self._write()
        else:
            self._writer.wake()

    def _write(self) -> None:
        """Write what is new; in the writer's thread, if there is one."""
        lines = [self._lines.popleft() for _ in range(len(self._lines))]
        painted = "".join(lines)
        if self.live:
            bells = BELL * painted.count(BELL)
            whole = painted.replace(BELL, "").splitlines()
            painted = self._foot.painted(whole, *self._now) + bells
        if painted:
            show(Data(""), self._out, before=painted, end="")

    def leave(self) -> None:
        """Take the foot away: what is said from now on is below all that was said."""
        self._panels.clear()
        self._keys = None
        self._hint = None
        self.refresh()

    async def _read_keys(self, keys: Keys) -> None:
        await keys.lines(self._take, self.refresh)
        self._keys = None
        assert isinstance(self.typed, _Lines)
        self.typed.close()

    def _take(self, line: str) -> None:
        """Take a line: a command at any time, else the answer to what is asked."""
        answer = self.heed(line)
        if answer is not None:
            self.say(answer)
        elif self._card is not None:
            assert isinstance(self.typed, _Lines)
            self.typed.put(line)
        elif line.strip():
            self.say(msg("nothing is asked now: {typed} was not taken", typed=repr(line)))

    def _now_size(self) -> Size:
        try:
            found = os.get_terminal_size(self._out.fileno())
        except (OSError, ValueError, AttributeError):
            return Size(80, 24)
        return Size(found.columns or 80, found.lines or 24)


def _written_over(out: TextIO) -> bool:
    """Tell whether rows of a screen can be written over (POSIX: `TERM` names the terminal)."""
    return out.isatty() and os.name == "posix" and os.environ.get("TERM", "") not in ("", "dumb")


class _Lines:
    """Lines that the window hands on."""

    def __init__(self) -> None:
        self._send, self._receive = trio.open_memory_channel[str](math.inf)

    def put(self, line: str) -> None:
        self._send.send_nowait(line)

    def close(self) -> None:
        self._send.close()

    def forget(self) -> None:
        with suppress(trio.WouldBlock, trio.EndOfChannel):
            while True:
                self._receive.receive_nowait()

    async def next(self) -> str | None:
        try:
            return await self._receive.receive()
        except trio.EndOfChannel:
            return None
