"""Ask the operator at the terminal, and answer for a simulated one."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TextIO

import trio

from soak.errors import UsageError
from soak.roles import Ask, Pictured, Question

_WORDS = {"y": "yes", "yes": "yes", "n": "no", "no": "no"}


class TerminalOperator:
    """Ask one question at a time; where nobody sits at a terminal, wait for the inbox."""

    def __init__(self, out: TextIO | None = None, read: Callable[[], str] = input) -> None:
        self._out, self._read = out or sys.stderr, read
        self._lock = trio.Lock()

    async def __call__(self, question: Question) -> str | float | Pictured | None:
        if not sys.stdin.isatty():
            self._out.write(f"{question.text} Answer with: soak answer {question.id!r} ...\n")
            await trio.sleep_forever()
        async with self._lock:
            while True:
                self._out.write(f"\n{question.text} {_hint(question)} ")
                self._out.flush()
                typed = await trio.to_thread.run_sync(self._read, abandon_on_cancel=True)
                answer = understood(question, typed)
                if answer is not None:
                    return answer
                pictured = await trio.to_thread.run_sync(with_photograph, question, typed)
                if isinstance(pictured, Pictured):
                    return pictured
                why = pictured or f"{typed!r} is not an answer; {_hint(question)}"
                self._out.write(f"{why}\n")


def understood(question: Question, typed: str) -> str | float | None:
    """Return what was typed as the answer it is, or None."""
    text = typed.strip().lower()
    if question.expects == "done":
        return "done"
    if question.expects == "yes/no":
        return _WORDS.get(text)
    try:
        return float(text.removesuffix(question.unit.lower()).replace(",", "."))
    except ValueError:
        return None


def with_photograph(question: Question, typed: str) -> Pictured | str:
    """Return an answer with the photograph whose file stands behind it.

    Returns
    -------
    Pictured or str
        Why not, where the answer is one and the file is not; empty where it is no answer either.
    """
    first, _, file = typed.strip().partition(" ")
    answer = understood(question, first)
    if not question.photograph or answer is None:
        return ""
    try:
        return Pictured(answer, read_photograph(Path(file.strip().strip("'\""))))
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


def as_wanted(said: Callable[[str], None]) -> Ask:
    """Return an operator for simulated time who gives the wanted answer and says so."""

    async def answer(question: Question) -> str | float | None:
        await trio.sleep(1.0)
        given = question.wanted or {"done": "done", "yes/no": "yes"}.get(question.expects)
        said(f"{question.text} (simulated operator: {given})")
        return given

    return answer


def _hint(question: Question) -> str:
    hints = {"done": "(Enter when done)", "yes/no": "(yes or no)"}
    also = ", then a photograph's file if you like" if question.photograph else ""
    return hints.get(question.expects, f"(a number in {question.unit}{also})")
