"""The writer of one soak's journal: takes what is observed and makes it durable."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

import trio

from soak.clock import SoakClock
from soak.errors import JournalError, JournalFull
from soak.journal.batches import Batches, LoopBatches, ThreadBatches
from soak.journal.faults import writing_fault
from soak.journal.intake import as_kept, beginning, canonical, entry_of
from soak.journal.ownership import Ownership
from soak.journal.reserve import Reserve
from soak.journal.rows import Chain, Entry
from soak.journal.sealing import make_final
from soak.journal.store import FILE, KEPT, Store
from soak.records import Header, Json, KeptFile, Observed, Reading, Seal, Session
from soak.words import msg


class Writer:
    """The write side of a journal; made by `create` or `resume`.

    Under a clock that keeps real time, one thread writes: readings each half second, all else at
    once. Under a leaping clock the loop writes, by count.

    Attributes
    ----------
    full : JournalFull or None
        That the disk was found full; what comes is written into room kept back for the end.
    """

    def __init__(
        self, store: Store, ownership: Ownership, clock: SoakClock, taken: frozenset[str]
    ) -> None:
        self._store = store
        self._ownership = ownership
        self._clock = clock
        self._reserve = Reserve(store.path.parent)
        self.full: JournalFull | None = None
        self._taken = set(taken)
        self._next = store.chain.next_number
        self._open = True
        self._batches: Batches = (
            LoopBatches(self._write)
            if clock.leaping
            else ThreadBatches(self._write, self._next - 1)
        )

    def append(self, record: Observed) -> int:
        return self._put(entry_of(record, self._store.chain.index))

    def keep(self, kept: KeptFile, data: bytes) -> int:
        event = as_kept(kept, data, self._taken)
        number = self._put(event)
        self._taken.add(event.file_name)
        return number

    async def acknowledged(self, number: int) -> None:
        """Return when the record of that number is durable on the medium.

        No soak waits for that; whoever tries what a crash leaves does.

        Raises
        ------
        JournalError
            If it cannot be made durable.
        """
        await self._batches.written(number)

    async def seal(
        self, ended: Literal["complete", "stopped", "bench fault"], guard_log: Json
    ) -> str:
        number = self._put(canonical(Seal(self._clock.now_s(), ended, guard_log)))
        await self._batches.written(number)
        if self._clock.leaping:
            return self._finish()
        return await trio.to_thread.run_sync(self._finish)

    def close(self) -> None:
        """Write what waits and close without a seal, so that the soak can be resumed.

        Raises
        ------
        JournalError
            If that fails, or an earlier failure was told to nobody.
        """
        if not self._open:
            return
        self._open = False
        try:
            self._batches.stop()
        finally:
            self._store.close()
            self._ownership.release()

    def _write(self, entries: Sequence[Entry]) -> None:
        """Write a batch; where the disk is full, into the room kept back."""
        try:
            self._store.write(entries)
        except JournalFull:
            full = self._reserve.spend()
            if full is None:
                raise
            self._store.write(entries)
            self.full = full

    def _finish(self) -> str:
        if not self._open:
            raise JournalError(msg("{path}: is closed", path=str(self._store.path)))
        self._open = False
        try:
            self._batches.stop()
            self._reserve.give_back()
            self._store.leave_wal()
            return make_final(self._store.path)
        finally:
            self._store.close()
            self._ownership.release()

    def _put(self, entry: Entry) -> int:
        if not self._open:
            raise JournalError(
                msg("{path}: is closed; nothing can be added", path=str(self._store.path))
            )
        self._batches.put(entry, at_once=not isinstance(entry, Reading))
        self._next += 1
        return self._next - 1


def create(folder: Path, header: Header, session: Session, *, clock: SoakClock) -> Writer:
    """Begin the journal of a new soak; header and session are durable on return.

    Parameters
    ----------
    folder : Path
        The soak's folder; made if it is not there.

    Raises
    ------
    JournalError
        If the folder has a journal already or cannot be written.
    """
    first = beginning(header, session)
    if (folder / FILE).exists():
        raise JournalError(
            msg(
                "{folder}: is there already; give the new soak another name",
                folder=str(folder / FILE),
            )
        )
    try:
        (folder / KEPT).mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise writing_fault(folder, fault) from None
    ownership = Ownership(folder)
    with undone_on_error(ownership.release):
        if not clock.leaping:  # of a simulated soak no night is lost
            Reserve(folder).take()
        store = Store(folder, synced=not clock.leaping)
        with undone_on_error(store.close):
            store.begin(Chain(header.quantities), first)
            return Writer(store, ownership, clock, frozenset())


@contextmanager
def undone_on_error(undo: Callable[[], None]) -> Iterator[None]:
    """Let go of what was taken if the block fails."""
    try:
        yield
    except BaseException:
        undo()
        raise
