"""When what was appended gets written: in a thread beside the loop, or within the loop."""

import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Protocol

import trio

from soak.errors import JournalError
from soak.journal.rows import Entry
from soak.words import just

BATCH_S = 0.5
"""Readings wait at most this long; a power cut loses no more of them."""

LOOP_BATCH = 4000
"""Records in a batch under a leaping clock, where time says nothing about cost."""

Write = Callable[[Sequence[Entry]], None]


class Batches(Protocol):
    """Takes entries in order and has them written."""

    def put(self, entry: Entry, *, at_once: bool) -> None:
        """Take an entry; raise what an earlier one failed of."""
        ...

    async def written(self, number: int) -> None:
        """Return when the record of that number is written."""
        ...

    def stop(self) -> None:
        """Write what waits and end; raise a failure that nobody was told of."""
        ...


class LoopBatches:
    """Writes by count, in the caller's thread: under a leaping clock nothing may leave the loop."""

    def __init__(self, write: Write) -> None:
        self._write = write
        self._pending: list[Entry] = []
        self._failure: JournalError | None = None

    def put(self, entry: Entry, *, at_once: bool) -> None:
        if self._failure is not None:
            raise _again(self._failure)
        self._pending.append(entry)
        if len(self._pending) >= LOOP_BATCH:
            self._flush()

    async def written(self, number: int) -> None:
        await trio.lowlevel.checkpoint()
        if self._failure is not None:
            raise _again(self._failure)
        self._flush()

    def stop(self) -> None:
        if self._failure is None:
            self._flush()

    def _flush(self) -> None:
        pending = self._pending
        self._pending = []
        if not pending:
            return
        try:
            self._write(pending)
        except JournalError as failure:
            self._failure = failure
            raise


class ThreadBatches:
    """Writes in one thread of its own, so that a slow disk never holds up the loop.

    Parameters
    ----------
    write : callable
        Writes a batch; called in the thread only.
    written_already : int
        Number of the last record that is durable.
    """

    def __init__(self, write: Write, written_already: int) -> None:
        self._write = write
        self._done = written_already
        self._changed = threading.Condition()
        self._pending: list[Entry] = []
        self._waiting: list[tuple[int, trio.lowlevel.TrioToken, trio.Event]] = []
        self._urgent = self._stopping = self._told = False
        self._failure: JournalError | None = None
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)
        self._thread.start()

    def put(self, entry: Entry, *, at_once: bool) -> None:
        with self._changed:
            self._raise_failure()
            self._pending.append(entry)
            if at_once or len(self._pending) == 1:
                self._urgent = self._urgent or at_once
                self._changed.notify()

    async def written(self, number: int) -> None:
        await trio.lowlevel.checkpoint()
        with self._changed:
            if number <= self._done:
                return
            self._raise_failure()
            event = trio.Event()
            self._waiting.append((number, trio.lowlevel.current_trio_token(), event))
            self._urgent = True
            self._changed.notify()
        await event.wait()
        with self._changed:
            if number > self._done:
                self._raise_failure()

    def stop(self) -> None:
        with self._changed:
            self._stopping = True
            self._changed.notify()
        self._thread.join()
        if not self._told:
            self._raise_failure()

    def _raise_failure(self) -> None:
        if self._failure is not None:
            self._told = True
            raise _again(self._failure)

    def _run(self) -> None:
        while batch := self._next_batch():
            try:
                self._write(batch)
            except Exception as fault:  # also our own mistakes: a waiting loop must hear of them
                self._ended(
                    0, fault if isinstance(fault, JournalError) else JournalError(just(repr(fault)))
                )
                return
            self._ended(len(batch), None)

    def _next_batch(self) -> list[Entry]:
        with self._changed:
            self._changed.wait_for(lambda: self._pending or self._stopping)
            self._changed.wait_for(lambda: self._urgent or self._stopping, BATCH_S)
            batch = self._pending
            self._pending = []
            self._urgent = False
            return batch

    def _ended(self, count: int, failure: JournalError | None) -> None:
        with self._changed:
            self._done += count
            self._failure = failure
            due = [entry for entry in self._waiting if failure or entry[0] <= self._done]
            self._waiting = [entry for entry in self._waiting if entry not in due]
        for _, token, event in due:
            with suppress(trio.RunFinishedError):  # whoever waited is gone
                token.run_sync_soon(event.set)


def _again(failure: JournalError) -> JournalError:
    """Return a fresh error of the same kind: one exception raised twice garbles its traceback."""
    return type(failure)(*failure.args)
