"""What instruments worked by hand ask: on record, and to be answered from any terminal."""

import json
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Protocol

import trio

from soak.clock import SoakClock
from soak.errors import Stopped
from soak.journal.ownership import Ownership
from soak.marks import QuestionAsked, fact_as, fact_in
from soak.outside import json_of, read_bytes
from soak.records import KeptFile, Mark
from soak.roles import Operator, Question
from soak.run.inbox import given, requests
from soak.run.questions import Questions
from soak.words import NOTHING_SAID, Message, msg

ASKED = "asked.json"
"""Stands in a soak's folder while a question is open and there is no journal to find it in."""
_BY = "by hand"


class Records(Protocol):
    """Puts questions of instruments to the operator, and them and the answers on record."""

    async def ask(self, source: str, question: Question) -> str | float | None:
        """Return the answer, or None if nobody answered in time."""
        ...

    def put_on_record(self, mark: Mark) -> None:
        """Record what was asked, or answered, before there was a soak."""
        ...


class Asking:
    """Ask for the drivers: of the operator directly, and through the soak once it runs.

    Instruments are opened before there is a soak, and it is the soak that records a question, takes
    its answer from the inbox, and keeps a photograph that comes with it. Until then the question
    stands in the soak's folder, where `soak answer` finds it.

    Parameters
    ----------
    folder : Path or None
        The soak's folder, with an inbox; None where nobody answers from elsewhere.
    whose : Message
        Of which unit, by tag and serial.
    """

    def __init__(
        self,
        ask: Operator,
        clock: SoakClock,
        folder: Path | None = None,
        whose: Message = NOTHING_SAID,
    ) -> None:
        self._folder = folder
        self._before = _Before(folder)
        soak = "" if folder is None else folder.name
        self._questions = Questions(ask, self._before, clock, soak, whose)
        self._records: Records | None = None

    def go_through(self, records: Records) -> None:
        """Ask through what runs from now on; it records what was asked and answered before."""
        self._records = records
        for mark in self._before.marks:
            records.put_on_record(mark)

    async def __call__(self, question: Question) -> str | float | None:
        if self._records is not None:
            return await self._records.ask(_BY, question)
        if self._folder is None:
            return await self._questions.put(question, "", _BY)
        answer: str | float | None = None
        stopped = ""
        with ExitStack() as held:
            held.callback(Ownership(self._folder).release)  # tells others that it is alive
            held.callback(self._before.forget)
            async with trio.open_nursery() as nursery:

                async def read_inbox(folder: Path) -> None:
                    nonlocal stopped
                    async for request in requests(folder, only=("answer", "stop")):
                        if request.what == "stop":
                            stopped = request.by
                            nursery.cancel_scope.cancel()
                        self._questions.answered(*given(request))

                nursery.start_soon(read_inbox, self._folder)
                answer = await self._questions.put(question, "", _BY)
                nursery.cancel_scope.cancel()
        if stopped:
            raise Stopped(
                msg("stopped by {stopped} before anything was switched on", stopped=stopped)
            )
        return answer


class _Before:
    """Takes what is on record before there is a journal; shows the open question to others."""

    def __init__(self, folder: Path | None) -> None:
        self.marks: list[Mark] = []
        self._file = None if folder is None else folder / ASKED

    def publish(self, record: Mark) -> int:
        self.marks.append(record)
        if fact_in(record, QuestionAsked) and self._file is not None:
            with suppress(OSError):  # a full disk: it can still be answered at the terminal
                self._file.write_text(json.dumps(record.detail), encoding="utf-8")
        return 0

    def keep(self, kept: KeptFile, data: bytes) -> int:
        """Keep no photograph: no driver asks for one before there is a soak."""
        return 0

    def forget(self) -> None:
        """Show no question any more."""
        if self._file is not None:
            with suppress(OSError):
                self._file.unlink(missing_ok=True)


def open_question(folder: Path) -> QuestionAsked | None:
    """Return what a soak asks that has no record of it yet; None if it asks nothing that is one."""
    try:
        content = json_of(read_bytes(folder / ASKED))
        if not isinstance(content, dict) or not {"id", "expects"} <= content.keys():
            return None
        return fact_as(Mark(0.0, QuestionAsked.mark, detail=content), QuestionAsked)
    except (OSError, ValueError):
        return None
