"""Ask the operator at the terminal, and answer for a simulated one."""

import sys
from collections.abc import Callable
from typing import TextIO

import trio

from soak.roles import Ask, Question

_WORDS = {"y": "yes", "yes": "yes", "n": "no", "no": "no"}


class TerminalOperator:
    """Ask one question at a time; where nobody sits at a terminal, wait for the inbox."""

    def __init__(self, out: TextIO | None = None, read: Callable[[], str] = input) -> None:
        self._out, self._read = out or sys.stderr, read
        self._lock = trio.Lock()

    async def __call__(self, question: Question) -> str | float | None:
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
                self._out.write(f"{typed!r} is not an answer; {_hint(question)}\n")


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
    return hints.get(question.expects, f"(a number in {question.unit})")
