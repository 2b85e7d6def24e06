"""A capture in a process of its own: one that hangs is killed, and the card is opened again.

Only what the watcher says comes from there; pictures stay where they arrive.
"""

import contextlib
import pickle
import time
from collections.abc import AsyncIterator, Iterator
from dataclasses import replace

import trio

from soak.bench.capture.again import asked_again
from soak.bench.capture.child_link import ChildLink
from soak.bench.capture.video_stream import CannotOpen
from soak.bench.capture.words import (
    BATCH_S,
    FIRST_PAUSE_S,
    LONGEST_PAUSE_S,
    WELL_AFTER_S,
    Job,
    Word,
)
from soak.bench.child import START_LIMIT_S
from soak.bench.registry import Tools
from soak.errors import BenchFault
from soak.quantities import show_duration
from soak.records import Json, State
from soak.roles import Seen, Watcher
from soak.states import BLIND

MARGIN_S = 3.0
"""A busy host may keep a child waiting; beyond its own limits it is given this, s. Own choice."""
MOST_EVIDENCE = 600
"""Evidence frames taken from children started again, in all: each begins its own count."""
_END_LIMIT_S = 1.5
_AFRESH = "what was learned of its picture is learned afresh"


class _Lost(Exception):
    """Report that the child must be started again."""


class ChildCapture:
    """Fills `roles.Capture` from a child process; open it before anything else.

    Parameters
    ----------
    job : Job
        What the child is to capture.
    tools : Tools
    read_limit_s : float
        The longest a read may take, s.

    Attributes
    ----------
    started : int
        Children started so far.
    dropped : int
        Evidence frames and readings that were not kept, because nobody took them in time or
        because there were too many.

    Notes
    -----
    What a watcher has learned is lost with its child; the next begins with the watcher as it was
    handed to `watch`.
    """

    def __init__(self, job: Job, tools: Tools, read_limit_s: float) -> None:
        self._job, self._tools = job, tools
        self._silent_limit_s = BATCH_S + read_limit_s + MARGIN_S
        self._open_limit_s = job.asked.open_limit_s + MARGIN_S
        self._link: ChildLink | None = None
        self._identity: Json = {}
        self._closed = self._blind = False
        self._last_s = 0.0
        self._evidence = self._dropped_there = self._untold = 0
        self.started = self.dropped = 0

    @property
    def identity(self) -> Json:
        return self._identity

    @property
    def pid(self) -> int | None:
        """The child's process id, None while there is none."""
        return None if self._link is None else self._link.pid

    async def open(self) -> None:
        """Start a child that opens the source.

        Raises
        ------
        CannotOpen
            If it cannot be opened: one sentence.
        """
        asked = asked_again(self._job.asked, self._identity)
        off_loop = self._tools.off_loop
        self.started += 1
        self._dropped_there = 0
        self._link = None
        try:
            self._link = await off_loop.call(START_LIMIT_S, ChildLink)
            job = ("job", replace(self._job, asked=asked))
            await off_loop.call(START_LIMIT_S, self._link.tell, job)
            word = await self._next(START_LIMIT_S)
            if word.kind == "busy":
                word = await self._next(self._open_limit_s)
            if word.kind != "opened":
                raise CannotOpen(word.why or "the process that captures does not start")
        except TimeoutError:
            self._kill()
            raise CannotOpen(f"{asked.source} does not open; unplug it and try again") from None
        except BaseException:
            self._kill()
            raise
        self._identity = word.identity

    async def watch(self, watcher: Watcher) -> AsyncIterator[Seen]:
        """Yield what the watcher sees; see `roles.Capture`.

        Raises
        ------
        BenchFault
            If the watcher or the driver breaks: a mistake in a program, said in one sentence.
        """
        as_given = pickle.dumps(watcher)
        pause_s = FIRST_PAUSE_S
        while not self._closed:
            began_s = self._last_s = self._tools.clock.now_s()
            try:
                link = await self._fresh_child(as_given)
                limit_s, word = START_LIMIT_S, Word("busy")
                while word.kind != "ended":
                    word = await self._next(limit_s)
                    limit_s = self._open_limit_s if word.kind == "busy" else self._silent_limit_s
                    for one in self._taken(word):
                        yield one
                link.kill()
                await trio.sleep_forever()  # the clip has ended, or it cannot be read any more
            except (_Lost, CannotOpen) as fault:
                why = str(fault)
            except BenchFault as fault:
                self._kill()
                yield self._blinded(f"nobody looks: {fault.what}")
                raise
            self._kill()
            if not self._blind:
                yield self._blinded(why)
            if self._last_s - began_s > WELL_AFTER_S:
                pause_s = FIRST_PAUSE_S
            await trio.sleep(pause_s)
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)

    async def _fresh_child(self, watcher: bytes) -> ChildLink:
        """Return a child with its source open, that has just been given the watcher."""
        if self._link is not None and self._link.used:
            self._kill()
        if self._link is None:
            await self.open()
        link = self._link
        assert link is not None
        link.used = True
        with contextlib.suppress(TimeoutError):  # a child that does not listen is found silent
            order = ("watcher", watcher)
            await self._tools.off_loop.call(self._silent_limit_s, link.tell, order)
        return link

    async def _next(self, limit_s: float) -> Word:
        """Wait for the child's next word.

        Raises
        ------
        TimeoutError
            If none came while the child is only being opened.
        _Lost
            If none came in time afterwards, or the child is gone.
        BenchFault
            If the child says that something broke in it.
        """
        link = self._link
        assert link is not None
        while (word := link.next()) is None:
            began_s = time.monotonic()
            try:
                await self._tools.off_loop.call(limit_s, link.wait)
            except TimeoutError:
                # A host that slept leaves nobody time to answer: that clock did not run then.
                if time.monotonic() - began_s < 0.9 * limit_s:
                    continue
                if not link.used:
                    raise
                limit = show_duration(limit_s)
                raise _Lost(
                    f"the capture's driver hangs: no sign of life for {limit}; its process was "
                    f"ended and the card is opened again, {_AFRESH}"
                ) from None
        if word.kind == "gone" and link.used:
            raise _Lost(f"{word.why}; the card is opened again, {_AFRESH}")
        if word.kind == "broke":
            raise BenchFault(self._job.name, word.why)
        return word

    def _taken(self, word: Word) -> Iterator[Seen]:
        """Yield what the child saw."""
        self._last_s = max(self._last_s, word.last_s)
        lost = word.dropped - self._dropped_there
        self._dropped_there += lost
        self.dropped += lost
        self._untold += lost
        for one in word.seen:
            if isinstance(one, State):
                self._last_s = max(self._last_s, one.t_s)
                self._blind = one.state == BLIND
                yield self._with_dropped(one)
            elif not isinstance(one, tuple) or self.started == 1:
                yield one
            elif self._evidence < MOST_EVIDENCE:
                self._evidence += 1
                kept, data = one
                # Each watcher numbers its own frames; within a soak a name is used once.
                name = f"again-{self.started}-{kept.name}"
                yield replace(kept, name=name), data
            else:
                self.dropped += 1
                self._untold += 1

    def _with_dropped(self, state: State) -> State:
        """Say with the next state how much evidence was not kept."""
        if not self._untold:
            return state
        detail = {**state.detail, "evidence_dropped": self._untold}
        self._untold = 0
        return replace(state, detail=detail)

    def _blinded(self, why: str) -> State:
        """Say blind from the last picture on: what came after it nobody saw."""
        self._blind = True
        return self._with_dropped(State(self._last_s, self._job.name, BLIND, detail={"why": why}))

    def _kill(self) -> None:
        link, self._link = self._link, None
        if link is not None:
            link.kill()

    async def aclose(self) -> None:
        """Let the child close the source and end, or kill it; twice is safe."""
        self._closed = True
        link, self._link = self._link, None
        if link is None:
            return
        try:
            await self._tools.off_loop.call(_END_LIMIT_S + 1, link.let_go, _END_LIMIT_S)
        except TimeoutError:
            pass
        finally:
            link.kill()
