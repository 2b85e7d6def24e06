"""A capture in a process of its own: one that hangs is killed, and the card is opened again.

Only what the watcher says comes from there; pictures stay where they arrive.
"""

import contextlib
import pickle
import signal
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import AsyncIterator, Iterator
from dataclasses import replace

import trio

from soak.bench.capture.again import asked_again
from soak.bench.capture.video_stream import CannotOpen
from soak.bench.capture.words import (
    BATCH_S,
    FIRST_PAUSE_S,
    LONGEST_PAUSE_S,
    WELL_AFTER_S,
    Job,
    Order,
    Word,
)
from soak.bench.child import START_LIMIT_S, leave_behind
from soak.bench.child_end import receive, send
from soak.bench.registry import Tools
from soak.errors import BenchFault, told_of
from soak.marks import StateSaid, also_said, state_of
from soak.records import Json, State
from soak.roles import Seen, Watcher
from soak.states import BLIND
from soak.words import Amount, Message, message_of, msg


class ChildLink:
    """One child process and the two pipes to it.

    A word is kept here as soon as it has been read, so that none is lost with a thread that was
    given up.

    Raises
    ------
    OSError
        If no process can be started.
    """

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "soak.bench.capture.child_end"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # decoders speak there past everything; faults are words
            start_new_session=True,  # Ctrl-C is for the parent, which then decides
        )
        self._words: deque[Word] = deque()
        self._reading = threading.Lock()
        self._telling = threading.Lock()
        self._over = False
        self.used = False
        with contextlib.suppress(OSError):
            self._send(("path", sys.path))

    @property
    def pid(self) -> int:
        """The child's process id."""
        return self._process.pid

    def tell(self, *orders: Order) -> None:
        """Tell the child; that it is gone is found when its words are read."""
        with self._telling, contextlib.suppress(OSError, ValueError):
            for order in orders:
                self._send(order)

    def _send(self, order: Order) -> None:
        assert self._process.stdin is not None
        send(self._process.stdin, order)

    def wait(self) -> None:
        """Return when there is a word."""
        with self._reading:
            if not self._words:
                self._words.append(self._read())

    def next(self) -> Word | None:
        """Return the next word that has come, None if there is none; does not block."""
        return self._words.popleft() if self._words else None

    def _read(self) -> Word:
        assert self._process.stdout is not None
        try:
            word: Word = receive(self._process.stdout)
        except (EOFError, OSError, ValueError):
            return Word("gone", why=self._how_it_ended())
        finally:
            if self._over:
                self._process.stdout.close()
        return word

    def _how_it_ended(self) -> Message:
        with contextlib.suppress(subprocess.TimeoutExpired):
            code = self._process.wait(1.0)
            if code < 0:
                with contextlib.suppress(ValueError):
                    return msg(
                        "the process that captures was ended by {signal}",
                        signal=signal.Signals(-code).name,
                    )
        return msg("the process that captures has ended by itself")

    def let_go(self, limit_s: float) -> None:
        """Let the child close the source and end; kill it if that takes longer."""
        with contextlib.suppress(OSError):
            assert self._process.stdin is not None
            self._process.stdin.close()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(limit_s)
        self.kill()

    def kill(self) -> None:
        """Kill the child; one that hangs in the kernel is left behind. Twice is safe."""
        if self._over:
            return
        self._over = True
        leave_behind(self._process)
        stdin = self._process.stdin
        stdout = self._process.stdout
        with contextlib.suppress(OSError):
            assert stdin is not None
            stdin.close()
        # A thread that reads holds the pipe: it finds its end and closes it.
        if stdout is not None and self._reading.acquire(blocking=False):
            stdout.close()
            self._reading.release()


MARGIN_S = 3.0
"""A busy host may keep a child waiting; beyond its own limits it is given this, s. Own choice."""
MOST_EVIDENCE = 600
"""Evidence frames taken from children started again, in all: each begins its own count."""
_END_LIMIT_S = 1.5
"""The process that reads a card has so long to end by itself, s. Our own choice."""
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
        self._job = job
        self._tools = tools
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
            raise CannotOpen(
                msg("{source} does not open; unplug it and try again", source=asked.source)
            ) from None
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
                limit_s = START_LIMIT_S
                word = Word("busy")
                while word.kind != "ended":
                    word = await self._next(limit_s)
                    limit_s = self._open_limit_s if word.kind == "busy" else self._silent_limit_s
                    for seen in self._taken(word):
                        yield seen
                link.kill()
                await trio.sleep_forever()  # the clip has ended, or it cannot be read any more
            except (_Lost, CannotOpen) as fault:
                why = told_of(fault)
            except BenchFault as fault:
                self._kill()
                yield self._blinded(msg("nobody looks: {why}", why=fault.what))
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
                raise _Lost(
                    msg(
                        "the capture's driver hangs: no sign of life for {limit}; its process was "
                        "ended and the card is opened again, {afresh}",
                        limit=Amount(limit_s, "s"),
                        afresh=_AFRESH,
                    )
                ) from None
        if word.kind == "gone" and link.used:
            raise _Lost(
                msg("{why}; the card is opened again, {afresh}", why=word.why, afresh=_AFRESH)
            )
        if word.kind == "broke":
            raise BenchFault(self._job.name, message_of(word.why))
        return word

    def _taken(self, word: Word) -> Iterator[Seen]:
        """Yield what the child saw."""
        self._last_s = max(self._last_s, word.last_s)
        lost = word.dropped - self._dropped_there
        self._dropped_there += lost
        self.dropped += lost
        self._untold += lost
        for seen in word.seen:
            if isinstance(seen, State):
                self._last_s = max(self._last_s, seen.t_s)
                self._blind = seen.state == BLIND
                yield self._with_dropped(seen)
            elif not isinstance(seen, tuple) or self.started == 1:
                yield seen
            elif self._evidence < MOST_EVIDENCE:
                self._evidence += 1
                kept, data = seen
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
        dropped = StateSaid(evidence_dropped=self._untold)
        self._untold = 0
        return also_said(state, dropped)

    def _blinded(self, why: Message) -> State:
        """Say blind from the last picture on: what came after it nobody saw."""
        self._blind = True
        return self._with_dropped(state_of(self._last_s, self._job.name, BLIND, StateSaid(why=why)))

    def _kill(self) -> None:
        link = self._link
        self._link = None
        if link is not None:
            link.kill()

    async def aclose(self) -> None:
        """Let the child close the source and end, or kill it; twice is safe."""
        self._closed = True
        link = self._link
        self._link = None
        if link is None:
            return
        try:
            await self._tools.off_loop.call(_END_LIMIT_S + 1, link.let_go, _END_LIMIT_S)
        except TimeoutError:
            pass
        finally:
            link.kill()
