"""Ask the operator at the terminal, and answer for a simulated one."""

import re
import sys
import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TextIO

import trio

from soak.errors import UsageError
from soak.quantities import show_duration
from soak.roles import Given, Operator, Question

_NUMBER = re.compile(r"([+-]?\d+(?:[.,]\d*)?)\s*([^\d\s]*)")
_UNITS = {"degC": ("degc", "c", "°c"), "A": ("a",), "V": ("v",), "W": ("w",)}
_FAHRENHEIT = ("degf", "f", "°f", "fahrenheit")
_INITIALS = re.compile(r"[^\W\d_][\w. -]{0,19}")
_ANOTHER = "by "
"""Stands before the initials of somebody else than who judged so far."""
_WORDS = {"y": "yes", "yes": "yes", "n": "no", "no": "no"}
_DONE = {"": "done", "done": "done", "y": "done", "yes": "done", "n": "no", "no": "no"}


class TerminalOperator:
    """Ask one question at a time; where nobody sits at a terminal, wait for the inbox.

    Parameters
    ----------
    by : str
        Initials of the one who works here; empty: asked for once, where an answer wants them.
    """

    def __init__(
        self, out: TextIO | None = None, read: Callable[[], str] = input, by: str = ""
    ) -> None:
        self._out = out or sys.stderr
        self._lines = TypedLines(read)
        self._lock = trio.Lock()
        self._by = by

    async def __call__(self, question: Question) -> str | float | Given | None:
        if not sys.stdin.isatty():
            await self._elsewhere(question)
        async with self._lock:
            self._lines.forget()
            while True:
                self._say(f"\n{question.text} {_hint(question)}{self._signing(question)} ")
                typed = await self._lines.next()
                if typed is None:
                    self._say("\nnothing can be typed here any more. ")
                    await self._elsewhere(question)
                    continue
                if question.initials and typed.strip().lower().startswith(_ANOTHER):
                    self._by = initials_of(typed.strip()[len(_ANOTHER) :])
                    continue
                answer = await trio.to_thread.run_sync(taken, question, typed)
                if isinstance(answer, Given):
                    return await self._signed(question, answer)
                self._say(f"{answer}\n")

    def _signing(self, question: Question) -> str:
        if not (question.initials and self._by):
            return ""
        return f" (judged by {self._by}; somebody else first types: by INITIALS)"

    async def _signed(self, question: Question, answer: Given) -> str | float | Given:
        """Put initials to an answer that wants them; asked for once."""
        while question.initials and not self._by:
            self._say("Who judged? Initials: ")
            typed = await self._lines.next()
            if typed is None:
                await self._elsewhere(question)
            self._by = initials_of(typed or "")
        if question.initials:
            return answer._replace(initials=self._by)
        return answer if answer.photograph else answer.value

    async def _elsewhere(self, question: Question) -> None:
        signed = " --by INITIALS" if question.initials else ""
        how = f"Answer with: soak answer {question.soak} {question.id!r} ...{signed}"
        if not question.soak:
            how = f"Nobody can answer here, for it is no terminal: {_waits(question)}"
        self._say(f"{question.text} {how}\n")
        await trio.sleep_forever()

    def _say(self, text: str) -> None:
        with suppress(OSError):  # a terminal that hung up takes nothing, and the soak goes on
            self._out.write(text)
            self._out.flush()


def understood(question: Question, typed: str) -> str | float | None:
    """Return what was typed as the answer it is, or None."""
    text = typed.strip().lower()
    if question.expects == "done":
        return _DONE.get(text)
    if question.expects == "yes/no":
        return _WORDS.get(text)
    found = _NUMBER.fullmatch(text)
    if found is None or found[2] not in ("", *_UNITS.get(question.unit, (question.unit.lower(),))):
        return None
    return float(found[1].replace(",", "."))


def why_not(question: Question, typed: str) -> str:
    """Say why what was typed is no answer, and what would be."""
    found = _NUMBER.fullmatch(typed.strip().lower())
    if question.unit == "degC" and found is not None and found[2] in _FAHRENHEIT:
        degc = (float(found[1].replace(",", ".")) - 32) / 1.8
        return f"{typed.strip()!r} is Fahrenheit: that is {degc:.1f} degC; type it in degC"
    return f"{typed!r} is not an answer; {_hint(question)}"


def initials_of(typed: str) -> str:
    """Return what was typed as initials or a name; empty if it is none."""
    text = typed.strip()
    return text if _INITIALS.fullmatch(text) and text.lower() not in _WORDS else ""


def taken(question: Question, typed: str) -> Given | str:
    """Return what was typed as the answer it is, or say why it is none."""
    answer = understood(question, typed)
    if answer is None:
        return with_photograph(question, typed) or why_not(question, typed)
    if question.photograph == "must":
        return f"a photograph is wanted with it: type {typed.strip()} and the photograph's file"
    return Given(answer)


def with_photograph(question: Question, typed: str) -> Given | str:
    """Return an answer with the photograph whose file stands behind it.

    Returns
    -------
    Given or str
        Why not, where the answer is one and the file is not; empty where it is no answer either.
    """
    first, _, file = typed.strip().partition(" ")
    answer = understood(question, first)
    if not question.photograph or answer is None:
        return ""
    try:
        return Given(answer, read_photograph(Path(file.strip().strip("'\""))))
    except UsageError as fault:
        return str(fault)


def read_photograph(file: Path) -> bytes:
    """Return a photograph as it is kept.

    Raises
    ------
    UsageError
        If the file cannot be read, or is no JPEG or PNG.
    """
    from soak.measure.photograph import prepared

    try:
        return prepared(file.expanduser().read_bytes())
    except OSError as fault:
        raise UsageError(f"{file}: cannot be read: {fault.strerror}") from None
    except ValueError as fault:
        raise UsageError(f"{file}: {fault}; give a JPEG or PNG photograph") from None


def yes_or_no(text: str) -> bool:
    """Ask before anything runs; what cannot be answered any more is a no."""
    question = Question("", text, "yes/no")
    while True:
        try:
            sys.stderr.write(f"{text} {_hint(question)} ")
            sys.stderr.flush()
            typed = sys.stdin.readline()
        except OSError:  # the window was closed
            return False
        if not typed:
            return False
        answer = understood(question, typed)
        if answer is not None:
            return answer == "yes"
        sys.stderr.write(f"{why_not(question, typed.strip())}\n")


def as_wanted(said: Callable[[str], None]) -> Operator:
    """Return an operator for simulated time who gives the wanted answer and says so."""

    async def answer(question: Question) -> str | float | Given | None:
        await trio.sleep(1.0)
        given = question.wanted or {"done": "done", "yes/no": "yes"}.get(question.expects)
        said(f"{question.text} (simulated operator: {given})")
        if given is None or not question.initials:
            return given
        return Given(given, initials="simulated operator")

    return answer


def _waits(question: Question) -> str:
    return f"soak waits {show_duration(question.wait_s)}, then goes on without an answer"


def _hint(question: Question) -> str:
    also = {
        "": "",
        "may": ", then a photograph's file if you like",
        "must": ", then a photograph's file",
    }[question.photograph]
    hints = {"done": "Enter when done, or no", "yes/no": f"yes or no{also}"}
    return f"({hints.get(question.expects, f'a number in {question.unit}{also}')})"


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
