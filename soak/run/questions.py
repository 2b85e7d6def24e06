"""Questions to the operator: asked at the terminal, answered there or through the inbox."""

import trio

from soak.clock import SoakClock
from soak.records import Mark
from soak.roles import Ask, Question
from soak.run.hub import Hub


class Questions:
    """Ask, take the first answer from wherever it comes, record both."""

    def __init__(self, ask: Ask, hub: Hub, clock: SoakClock) -> None:
        self._ask, self._hub, self._clock = ask, hub, clock
        self._waiting: dict[str, trio.MemorySendChannel[tuple[str | float, str]]] = {}

    async def put(self, question: Question, stretch: str, check: str) -> str | float | None:
        """Ask; return the answer, or None if nobody answered in time."""
        detail = {"id": question.id, "text": question.text, "expects": question.expects}
        self._hub.publish(Mark(self._clock.now_s(), "question", stretch, check, detail))
        answer, by = await self._first_answer(question)
        told = {"id": question.id, "answer": answer, "by": by}
        self._hub.publish(Mark(self._clock.now_s(), "answer", stretch, check, told))
        return answer

    def answered(self, question_id: str, answer: str | float, by: str) -> bool:
        """Take an answer from the inbox; return whether such a question was open."""
        channel = self._waiting.pop(question_id, None)
        if channel is None:
            return False
        channel.send_nowait((answer, by))
        return True

    async def _first_answer(self, question: Question) -> tuple[str | float | None, str]:
        send, receive = trio.open_memory_channel[tuple[str | float, str]](2)
        self._waiting[question.id] = send
        answer: tuple[str | float | None, str] = (None, "nobody")

        async def at_terminal() -> None:
            said = await self._ask(question)
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
