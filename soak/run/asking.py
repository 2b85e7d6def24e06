"""What instruments worked by hand ask: on record, and to be answered from any terminal."""

from typing import Protocol

import trio

from soak.roles import Given, Operator, Question

_BY = "by hand"


class Records(Protocol):
    """Puts questions of instruments to the operator, and them and the answers on record."""

    async def ask(self, source: str, question: Question) -> str | float | None:
        """Return the answer, or None if nobody answered in time."""
        ...


class Asking:
    """Ask for the drivers: of the operator directly, and through the soak once it runs.

    Instruments are opened before there is a soak, and it is the soak that records a question, takes
    its answer from the inbox, and keeps a photograph that comes with it.

    Attributes
    ----------
    through : Records or None
        The soak; set it as soon as there is one.
    """

    def __init__(self, ask: Operator) -> None:
        self._ask = ask
        self.through: Records | None = None

    async def __call__(self, question: Question) -> str | float | None:
        if self.through is not None:
            return await self.through.ask(_BY, question)
        answer: str | float | Given | None = None
        with trio.move_on_after(question.wait_s):
            answer = await self._ask(question)
        return answer.value if isinstance(answer, Given) else answer
