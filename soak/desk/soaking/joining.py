"""Join a soak that runs in another window, or in none: its screen, and its questions."""

import getpass
import math
import signal
from collections.abc import Iterator, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import trio

from soak.clock import boot_id, boot_time_s
from soak.desk.bench_card import read_bench
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.desk.soaking.at_the_keys import Commands
from soak.desk.soaking.inbox import running
from soak.errors import ExitCode, UsageError
from soak.journal import JournalEvidence, open_evidence
from soak.journal.ownership import is_owned
from soak.live.against import Against
from soak.live.operator import TerminalOperator
from soak.live.terminal import Terminal
from soak.live.window import Window
from soak.marks import Answered, QuestionAsked, fact_of
from soak.names import named
from soak.records import Header, Mark, Observed, Reading
from soak.roles import Given, Question
from soak.run.inbox import Request, send
from soak.run.plan import Wanted, make_plan
from soak.run.questions import of_unit
from soak.run.script import script_again
from soak.words import message_of, msg

_LOOK_EVERY_S = 1.0


def join(bench_path: Path, soak: str) -> int:
    """Show a running soak until it ends or the operator leaves; return the exit code."""
    bench = BenchFolder(bench_path)
    folder = running(bench_path, soak)
    if not (folder / JOURNAL).is_file():
        raise UsageError(msg("{soak}: has not begun, it asks; see `soak answer`", soak=folder.name))
    evidence = open_evidence(folder)
    hint = msg("type: note TEXT, or stop WHY; Ctrl-C only leaves")
    commands = Commands({evidence.header.unit.tag: folder})
    window = Window(apart=True, heed=commands, hint=hint)
    operator = TerminalOperator(window, by=read_bench(bench).operator)
    with window.opened():
        return int(trio.run(_Joined(folder, evidence, window, operator).follow))


def _expected_s(header: Header) -> dict[str, float]:
    """Return how long each stretch was expected to take when the soak was planned, s."""
    plan = make_plan(script_again(header.script), Wanted.again(header), {})
    return {part.stretch.name: part.expected_s for part in plan.stretches}


class _Joined:
    """Follows one soak by what is in its journal."""

    def __init__(
        self, folder: Path, evidence: JournalEvidence, window: Window, operator: TerminalOperator
    ) -> None:
        self._folder = folder
        self._operator = operator
        self._evidence = evidence
        self._window = window
        header = self._evidence.header
        self._screen = Terminal(
            header.unit.tag,
            {quantity.name: quantity.unit for quantity in header.quantities},
            _expected_s(header),
            lambda: datetime.now(UTC),
            Against(header, lambda _: self._evidence),
            window=window,
            now_s=self._now_s,
        )
        self._left = False
        self._shown: dict[str, int] = {}
        self._asked: dict[str, trio.CancelScope] = {}

    def _now_s(self) -> float:
        """Return soak time now, s; where another computer soaks, when the session began."""
        session = self._evidence.sessions()[-1]
        if session.boot_s is None or session.boot_id != boot_id():
            return session.begins_at_s
        return session.begins_at_s + boot_time_s() - session.boot_s

    async def follow(self) -> ExitCode:
        """Show what comes, ask what is asked, until the soak has ended."""
        async with trio.open_nursery() as nursery:
            await nursery.start(self._leave, nursery.cancel_scope)
            nursery.start_soon(self._window.keep)
            while True:
                runs = is_owned(self._folder)  # before reading, so that nothing is missed
                self._evidence.refresh()
                for record in self._news(self._evidence):
                    if isinstance(record, Mark):
                        self._heed(record, nursery)
                    self._screen.watch(record)
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
            case QuestionAsked() as asked:
                scope = self._asked[asked.id] = trio.CancelScope()
                left_s = asked.wait_s - (self._now_s() - mark.t_s) if asked.wait_s else math.inf
                nursery.start_soon(self._ask, asked, left_s, scope)
            case Answered(id=question) if question in self._asked:
                self._asked.pop(question).cancel()

    async def _ask(self, asked: QuestionAsked, left_s: float, scope: trio.CancelScope) -> None:
        question = Question(
            asked.id,
            message_of(asked.text),
            asked.expects,
            unit=asked.unit,
            wait_s=left_s,
            photograph=asked.photograph,
            initials=asked.initials,
            soak=self._folder.name,
            whose=of_unit(self._evidence.header.unit),
        )
        with scope:
            said = await self._operator(question)
            if said is None:
                return
            given = said if isinstance(said, Given) else Given(said)
            detail = {"id": asked.id, "answer": given.value}
            detail |= {"initials": given.initials} if given.initials else {}
            by = getpass.getuser()
            with suppress(UsageError):  # it ended meanwhile
                send(self._folder, Request("answer", by, detail, attached=given.photograph))
