"""The operator at the terminal: one question at a time, which stays until it is answered."""

import math
import re
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import trio

from soak.live.prompt import hint, initials_of, taken
from soak.live.window import Window
from soak.roles import Given, Question
from soak.words import NOTHING_SAID, Amount, Message, Said, counted, joined, msg

_ANOTHER = re.compile(r"\s*(?:by|von)\s(.*)", re.IGNORECASE)
"""Stands before the initials of somebody else than who judged so far."""
_AGAIN_S = 60.0
"""A question that nobody answers is rung, and said again where no foot shows it, after so long,
then after twice as long each time: who is away hears it, who sleeps is not woken often, s. Own
choice."""


@dataclass(slots=True)
class _Open:
    """A question that stands on the screen."""

    question: Question
    until_s: float
    waiting: Callable[[], int] = lambda: 0
    by: str = ""
    wants_initials: bool = False
    wrong: Message = NOTHING_SAID

    def lines(self) -> Sequence[Said]:
        """Return what stands of it in the foot."""
        return [joined(" · ", self._head()), self.asks(), self.wrong]

    def head(self) -> Message:
        """Say whose question it is, and how long an answer is waited for."""
        return joined(", ", self._head())

    def _head(self) -> Sequence[Said]:
        left_s = max(0.0, self.until_s - trio.current_time())
        parts: list[Said] = [self.question.whose] if self.question.whose else []
        if math.isfinite(left_s):
            time = Amount(_round(left_s), "s")
            parts.append(msg("QUESTION, {time} to answer", time=time))
        else:
            parts.append(msg("QUESTION"))
        if others := self.waiting():
            parts.append(counted(others, "1 more question waits", "{count} more questions wait"))
        return parts

    def asks(self) -> Message:
        """Say what is asked, and what can be typed."""
        if self.wants_initials:
            return msg("Who judged? Initials:")
        text = self.question.text
        return joined(" ", [part for part in (text, hint(self.question), self._signing()) if part])

    def _signing(self) -> Message:
        if not (self.question.initials and self.by):
            return NOTHING_SAID
        return msg("(judged by {by}; somebody else first types: by INITIALS)", by=self.by)


class TerminalOperator:
    """Ask one question at a time; where nobody sits at a terminal, wait for the inbox.

    Parameters
    ----------
    by : str
        Initials of the one who works here; empty: asked for once, where an answer wants them.
    """

    def __init__(self, window: Window, by: str = "") -> None:
        self._window = window
        self._lock = trio.Lock()
        self._by = by

    async def __call__(self, question: Question) -> str | float | Given | None:
        until_s = trio.current_time() + question.wait_s
        if not sys.stdin.isatty():
            await self._elsewhere(_Open(question, until_s))
        async with self._lock:
            card = _Open(question, until_s, lambda: self._lock.statistics().tasks_waiting)
            with self._window.asking(card):
                async with trio.open_nursery() as nursery:
                    nursery.start_soon(self._again, card)
                    answer = await self._answered(card)
                    nursery.cancel_scope.cancel()
        return answer

    async def _answered(self, card: _Open) -> str | float | Given | None:
        """Wait until what is typed is an answer; for ever, where nothing can be typed."""
        question = card.question
        self._window.typed.forget()
        self._window.ring()
        while True:
            card.by = self._by
            typed = await self._typed(card)
            if question.initials and (another := _ANOTHER.fullmatch(typed)):
                self._by = initials_of(another[1])
                continue
            answer = await trio.to_thread.run_sync(taken, question, typed)
            if isinstance(answer, Given):
                return await self._signed(card, answer)
            card.wrong = answer
            if not self._window.live:
                self._window.say(answer)

    async def _typed(self, card: _Open) -> str:
        """Return the next line that is typed to a question, and no command."""
        while True:
            self._window.refresh()
            if not self._window.live:
                self._window.ask(joined("", ["\n", card.head(), ": ", card.asks(), " "]))
            typed = await self._window.typed.next()
            if typed is None:
                self._window.say(msg("nothing can be typed here any more."))
                await self._elsewhere(card)
            elif self._window.live or (reply := self._window.heed(typed)) is None:
                return typed
            else:
                self._window.say(reply)

    async def _signed(self, card: _Open, answer: Given) -> str | float | Given:
        """Put initials to an answer that wants them; asked for once."""
        card.wants_initials = card.question.initials and not self._by
        while card.wants_initials:
            card.wrong = NOTHING_SAID
            self._by = initials_of(await self._typed(card))
            card.wants_initials = not self._by
        if card.question.initials:
            return answer._replace(initials=self._by)
        return answer if answer.photograph else answer.value

    async def _again(self, card: _Open) -> None:
        """Call again and again, more and more seldom, for a question that nobody answers."""
        wait_s = _AGAIN_S
        while True:
            await trio.sleep(wait_s)
            wait_s *= 2
            self._window.ring()
            if not self._window.live:
                again = msg("asked again: {asked}", asked=card.asks())
                self._window.ask(joined("", ["\n", card.head(), ": ", again, " "]))

    async def _elsewhere(self, card: _Open) -> None:
        """Say how it can be answered, and again more and more seldom; for ever."""
        question = card.question
        wait_s = _AGAIN_S
        while True:
            how = answer_with(question)
            if not question.soak:
                how = msg(
                    "Nobody can answer here, for it is no terminal: soak waits {time}, then goes "
                    "on without an answer",
                    time=Amount(question.wait_s, "s"),
                )
            self._window.say(joined("", [card.head(), ": ", question.text, " ", how]))
            await trio.sleep(wait_s)
            wait_s *= 2


def answer_with(question: Question) -> Message:
    """Say by which command a question can be answered from elsewhere."""
    if question.initials:
        return msg(
            "Answer with: soak answer {soak} {question} ... --by INITIALS",
            soak=question.soak,
            question=repr(question.id),
        )
    return msg(
        "Answer with: soak answer {soak} {question} ...",
        soak=question.soak,
        question=repr(question.id),
    )


def _round(left_s: float) -> float:
    """Return a remaining time as people say it: whole minutes, at the end ten seconds."""
    step_s = 60.0 if left_s > 120 else 10.0
    return max(step_s, round(left_s / step_s) * step_s)
