"""Join a soak that runs in another window, or in none: its screen, and its questions."""

import getpass
import signal
import sys
from collections.abc import Iterator, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import trio

from soak.desk.bench_card import read_bench
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.desk.soaking.inbox import running
from soak.errors import ExitCode, UsageError
from soak.journal import JournalEvidence, open_evidence
from soak.journal.ownership import is_owned
from soak.live.against import Against
from soak.live.prompt import TerminalOperator
from soak.live.terminal import Terminal
from soak.marks import Answered, QuestionAsked, fact_of
from soak.names import named
from soak.records import Mark, Observed, Reading
from soak.roles import Given, Question
from soak.run.inbox import Request, send
from soak.words import message_of, msg

_LOOK_EVERY_S = 1.0


def join(bench_path: Path, soak: str) -> int:
    """Show a running soak until it ends or the operator leaves; return the exit code."""
    bench = BenchFolder(bench_path)
    folder = running(bench_path, soak)
    if not (folder / JOURNAL).is_file():
        raise UsageError(msg("{soak}: has not begun, it asks; see `soak answer`", soak=folder.name))
    joined = _Joined(folder, TerminalOperator(by=read_bench(bench).operator))
    return int(trio.run(joined.follow))


class _Joined:
    """Follows one soak by what is in its journal."""

    def __init__(self, folder: Path, operator: TerminalOperator) -> None:
        self._folder = folder
        self._operator = operator
        self._evidence = open_evidence(folder)
        header = self._evidence.header
        units = {quantity.name: quantity.unit for quantity in header.quantities}
        self._tag = header.unit.tag
        self._screen = Terminal(
            self._tag,
            units,
            {},
            lambda: datetime.now(UTC),
            Against(header, lambda _: self._evidence),
            left_known=False,
        )
        self._left = False
        self._shown: dict[str, int] = {}
        self._asked: dict[str, trio.CancelScope] = {}

    async def follow(self) -> ExitCode:
        """Show what comes, ask what is asked, until the soak has ended."""
        async with trio.open_nursery() as nursery:
            await nursery.start(self._leave, nursery.cancel_scope)
            while True:
                runs = is_owned(self._folder)  # before reading, so that nothing is missed
                self._evidence.refresh()
                for record in self._news(self._evidence):
                    self._screen.watch(record)
                    if isinstance(record, Mark):
                        self._heed(record, nursery)
                if self._evidence.seal is not None or not runs:
                    break
                await trio.sleep(_LOOK_EVERY_S)
            nursery.cancel_scope.cancel()
        return self._how_it_ended()

    async def _leave(self, following: trio.CancelScope, task_status: trio.TaskStatus[None]) -> None:
        """Leave at Ctrl-C, which is for this window and not for the soak."""
        with trio.open_signal_receiver(signal.SIGINT) as arriving:
            task_status.started()
            async for _ in arriving:
                self._left = True
                following.cancel()

    def _how_it_ended(self) -> ExitCode:
        seal = self._evidence.seal
        name = self._folder.name
        if self._left:
            self._screen.say(msg("left; {soak} goes on", soak=name))
            return ExitCode.DONE
        if seal is None:
            self._screen.say(msg("it was cut off; go on with `soak resume {soak}`", soak=name))
            return ExitCode.BENCH_FAULT
        sentence = msg(
            "it has ended: {how}; see `soak show {soak}` and `soak judge {soak}`",
            how=named(seal.ended),
            soak=name,
        )
        self._screen.say(sentence)
        return ExitCode.DONE

    def _news(self, evidence: JournalEvidence) -> Iterator[Observed]:
        """Yield what is new, in order of time."""
        header = evidence.header
        news = list[Observed]()
        for name in header.fixture.wired:
            news += self._new(f"state {name}", evidence.states(name))
        news += self._new("marks", evidence.marks())
        for quantity in header.quantities:
            times, values = evidence.series(quantity.name)
            before = self._shown.get(quantity.name, 0)
            self._shown[quantity.name] = len(times)
            news += [
                Reading(float(t_s), quantity.name, float(value))
                for t_s, value in zip(times[before:], values[before:], strict=True)
            ]
        yield from sorted(news, key=lambda record: record.t_s)

    def _new(self, kind: str, records: Sequence[Observed]) -> Sequence[Observed]:
        before = self._shown.get(kind, 0)
        self._shown[kind] = len(records)
        return records[before:]

    def _heed(self, mark: Mark, nursery: trio.Nursery) -> None:
        """Ask what is asked; take a question back that was answered elsewhere, or by nobody."""
        match fact_of(mark):
            case QuestionAsked() as asked if sys.stdin.isatty():
                self._asked[asked.id] = trio.CancelScope()
                nursery.start_soon(self._ask, asked)
            case Answered(id=question) if question in self._asked:
                self._asked.pop(question).cancel()

    async def _ask(self, asked: QuestionAsked) -> None:
        question = Question(
            asked.id,
            message_of(asked.text),
            asked.expects,
            unit=asked.unit,
            photograph=asked.photograph,
            initials=asked.initials,
            soak=self._folder.name,
        )
        with self._asked[asked.id]:
            said = await self._operator(question)
            if said is None:
                return
            given = said if isinstance(said, Given) else Given(said)
            detail = {"id": asked.id, "answer": given.value}
            detail |= {"initials": given.initials} if given.initials else {}
            by = getpass.getuser()
            with suppress(UsageError):  # it ended meanwhile
                send(self._folder, Request("answer", by, detail, attached=given.photograph))
