"""What instruments worked by hand ask: on record, and to be answered from any terminal."""

from soak.roles import Operator, Pictured, Question
from soak.run.soak import Soak

_BY = "by hand"


class Asking:
    """Ask for the drivers: of the operator directly, and through the soak once it runs.

    Instruments are opened before there is a soak, and it is the soak that records a question, takes
    its answer from the inbox, and keeps a photograph that comes with it.

    Attributes
    ----------
    soak : Soak or None
        Set it as soon as there is one.
    """

    def __init__(self, ask: Operator) -> None:
        self._ask = ask
        self.soak: Soak | None = None

    async def __call__(self, question: Question) -> str | float | None:
        if self.soak is not None:
            return await self.soak.ask(_BY, question)
        answer = await self._ask(question)
        return answer.value if isinstance(answer, Pictured) else answer
