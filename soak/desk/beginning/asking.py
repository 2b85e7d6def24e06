"""Questions before anything is written: each answer is an option too, and breaking off is free."""

import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import TypeVar

from soak.desk.wrapped import window_width, wrapped
from soak.errors import Stopped, UsageError, told_of
from soak.live.prompt import asked
from soak.reader import show
from soak.words import NOTHING_SAID, Data, Message, joined, lines_of, msg

T = TypeVar("T")


class Asking:
    """Take each answer from the options, else from the one who sits at the terminal.

    Parameters
    ----------
    given : mapping of option to text
        As typed after the verb; None or not there: it has to be asked.
    """

    def __init__(self, given: Mapping[str, str | None]) -> None:
        self._given = given

    def has(self, option: str) -> bool:
        """Tell whether an answer came with the command."""
        return self._given.get(option) is not None

    def given(self, option: str) -> str:
        """Return what came with the command; empty if nothing did."""
        return self._given.get(option) or ""

    @property
    def somebody(self) -> bool:
        """Whether anybody can be asked."""
        return sys.stdin.isatty()

    def ask(self, option: str, question: Message, hint: Message, read: Callable[[str], T]) -> T:
        """Return the answer to a question; it is asked until it is one.

        Parameters
        ----------
        option : str
            Which gives the answer beforehand, as it is typed: `"--mains"`, `"TIME"`.
        read : callable
            Makes the answer of what was typed; raises UsageError with why it is none.

        Raises
        ------
        UsageError
            If what the option says is no answer, or it is not given and nobody can be asked.
        Stopped
            If nothing can be typed any more.
        """
        given = self._given.get(option)
        if given is not None:
            try:
                return read(given)
            except UsageError as fault:
                raise UsageError(
                    msg("{option}: {why}", option=option, why=told_of(fault))
                ) from None
        if not self.somebody:
            raise UsageError(
                msg(
                    "{question} Nobody can be asked here, for it is no terminal: give {option} "
                    "{hint}",
                    question=question,
                    option=option,
                    hint=hint,
                )
            )
        say(NOTHING_SAID)
        while True:
            typed = asked(_in_lines(joined(" ", [question, hint])))
            if not typed:
                raise KeyboardInterrupt
            try:
                return read(typed.strip())
            except UsageError as fault:
                say(told_of(fault))


@contextmanager
def broken_off() -> Iterator[None]:
    """Say that nothing was written, where somebody ends it while being asked."""
    try:
        yield
    except KeyboardInterrupt:
        show(NOTHING_SAID)
        raise Stopped(msg("broken off: nothing was begun and nothing was written")) from None


def say(told: Message, indent: str = "") -> None:
    """Say a sentence in whole words, no wider than the window."""
    show(Data(wrapped(told, window_width(), indent, then="  ")))


def _in_lines(question: Message) -> Message:
    """Return a question in whole words a line, the last with room for an answer."""
    text = wrapped(question, window_width() - 1, "", then="  ")
    return lines_of(text.split("\n"))
