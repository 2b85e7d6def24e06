"""Questions to the operator: asked at the terminal, answered there or through the inbox."""

from dataclasses import replace
from typing import Protocol

import trio

from soak.clock import SoakClock
from soak.frozen.shape import as_json
from soak.frozen.unit import UnitStated
from soak.marks import Answered, FileShown, QuestionAsked, mark_of
from soak.records import KeptFile, Mark
from soak.roles import Given, Operator, Question
from soak.words import NOTHING_SAID, Message, msg

_Said = tuple[str | float | Given, str]


class Takes(Protocol):
    """What takes questions and answers on record."""

    def publish(self, record: Mark) -> int:
        """Take a mark; return its number."""
        ...

    def keep(self, kept: KeptFile, data: bytes) -> int:
        """Take a photograph; return the number of its record."""
        ...


class Questions:
    """Ask, take the first answer from wherever it comes, record both.

    Parameters
    ----------
    soak : str
        Its id, by which the question can be answered from elsewhere; empty where it cannot.
    whose : Message
        Of which unit, by tag and serial.
    """

    def __init__(
        self,
        ask: Operator,
        hub: Takes,
        clock: SoakClock,
        soak: str = "",
        whose: Message = NOTHING_SAID,
    ) -> None:
        self._ask = ask
        self._hub = hub
        self._clock = clock
        self._soak = soak
        self._whose = whose
        self._waiting: dict[str, trio.MemorySendChannel[_Said]] = {}

    async def put(self, question: Question, stretch: str, check: str) -> str | float | None:
        """Ask; return the answer, or None if nobody answered in time."""
        asked = QuestionAsked(
            id=question.id,
            text=question.text,
            expects=question.expects,
            unit=question.unit,
            initials=question.initials,
            photograph=question.photograph if question.initials else "",
            wait_s=question.wait_s,
        )
        self._hub.publish(mark_of(self._clock.now_s(), asked, stretch, check))
        came, by = await self._first_answer(question)
        said = Answered(id=question.id, by=by)
        if isinstance(came, Given):
            kept = self._keep(question, came.photograph) if came.photograph else ""
            said = replace(said, answer=came.value, initials=came.initials, photograph=kept)
        else:
            said = replace(said, answer=came)
        self._hub.publish(mark_of(self._clock.now_s(), said, stretch, check))
        return said.answer

    def _keep(self, question: Question, photograph: bytes) -> str:
        """Put a photograph into the journal, ahead of the answer it comes with; return its name."""
        now_s = self._clock.now_s()
        name = f"{''.join(c if c.isalnum() else '-' for c in question.id)}-{now_s:.0f}s.jpg"
        detail = as_json(FileShown(shows="photograph"))
        self._hub.keep(
            KeptFile(now_s, name, "image/jpeg", sha256="", of=question.id, detail=detail),
            photograph,
        )
        return name

    def answered(self, question_id: str, answer: str | float | Given, by: str) -> bool:
        """Take an answer from the inbox; return whether such a question was open."""
        channel = self._waiting.pop(question_id, None)
        if channel is None:
            return False
        channel.send_nowait((answer, by))
        return True

    async def _first_answer(self, question: Question) -> "_Said | tuple[None, str]":
        send, receive = trio.open_memory_channel[_Said](2)
        self._waiting[question.id] = send
        answer: _Said | tuple[None, str] = (None, "nobody")

        async def at_terminal() -> None:
            said = await self._ask(replace(question, soak=self._soak, whose=self._whose))
            if said is not None:
                send.send_nowait((said, "operator"))

        try:
            async with trio.open_nursery() as nursery:
                nursery.start_soon(at_terminal)
                with trio.move_on_after(question.wait_s):
                    answer = await receive.receive()
                nursery.cancel_scope.cancel()
        finally:
            self._waiting.pop(question.id, None)
        return answer


def of_unit(unit: UnitStated) -> Message:
    """Say of which unit a question is; nothing of one that has no tag."""
    return (
        NOTHING_SAID
        if not unit.tag
        else msg("{tag}, serial {serial}", tag=unit.tag, serial=unit.serial)
    )
