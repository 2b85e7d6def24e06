"""One session of transfers: fill, write, read back, tell what came of it."""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import replace
from typing import Any

import trio

from soak.checks.base import Bench, Done, Say, beside
from soak.checks.transfer.again import Narrowed, narrow
from soak.checks.transfer.filling import fill
from soak.checks.transfer.settings import TransferSettings
from soak.checks.transfer.watch import STICK, TRY_AGAIN_S, StickWatch
from soak.errors import BenchFault
from soak.marks import WritingRefused, WrongChunk
from soak.measure.stick.passes import Passes
from soak.measure.stick.pattern import SECTOR_BYTES, Pattern
from soak.measure.stick.sectors import MOST_DETAILS, SectorCounts
from soak.measure.stick.states import LEFT, NO_WRITING, in_words
from soak.measure.stick.transfer_log import TransferLog
from soak.roles import Stick, Transfer
from soak.words import Amount, msg

ONCE = "failed once"
"""What came of a transfer that failed and of which every piece then went well."""

MOST_MARKS = 200
"""So many wrong chunks are described one by one; after that one description a pass. Our own
choice."""


class Crossing:
    """One session's transfers: what is on the stick, what it is seen to be, what was said."""

    def __init__(
        self, settings: TransferSettings, stretch: str, bench: Bench, done: Done, say: Say
    ) -> None:
        self._given = settings
        self._bench = bench
        self._say = say
        self.stick: Stick = bench.stick()
        self.pattern = Pattern(bench.random.bytes(16))
        self._ahead = MakesAhead(self.pattern)
        self._log = TransferLog(STICK, settings.readings_every_s, settings.stall_s)
        self.watch = StickWatch(
            self.stick, settings, self._log, stretch=stretch, bench=bench, say=say
        )
        size_bytes = min(settings.size_bytes or self.stick.size_bytes, self.stick.size_bytes)
        size_bytes = min(size_bytes, settings.write_budget_bytes)
        block_bytes = self.stick.block_bytes
        chunk_bytes = min(settings.chunk_bytes, size_bytes) // block_bytes * block_bytes
        if not chunk_bytes:
            raise BenchFault(
                STICK,
                msg(
                    "{size_bytes} are too few to move; allow more",
                    size_bytes=Amount(size_bytes, "B"),
                ),
            )
        self._chunk_bytes = chunk_bytes
        self._already_bytes = int(done.note.get("written_bytes", 0))
        budget_bytes = settings.write_budget_bytes - self._already_bytes
        self._passes = Passes(chunk_bytes, size_bytes // chunk_bytes, budget_bytes)
        self._to_fill = settings.whole and not done.note.get("filled", False)
        self._next_write_s = 0.0
        self._writes = True
        self._marks_left = MOST_MARKS
        self._untold: dict[str, int] = {}

    async def run(self) -> None:
        async with beside(self.watch.tell_stalls):
            await self._transfer()

    async def _transfer(self) -> None:
        await self.watch.until_there()
        if self._to_fill:
            budget_bytes = self._given.write_budget_bytes
            self._passes = await fill(self, self._chunk_bytes, budget_bytes, self._already_bytes)
            if self._passes.to_read():
                self._next_write_s = self._bench.clock.now_s() + self._given.write_every_s
        else:
            await self._adopt()
        while True:
            due = self._bench.clock.now_s() >= self._next_write_s
            if due and self._writes and self._passes.fits:
                await self._write_pass()
            await self._read_pass()
            await self.watch.pause(self._given.rest_s)

    async def _adopt(self) -> None:
        """Take over what an earlier session of this stretch wrote: the data itself says so."""
        numbers: list[int] = []
        for chunk in range(self._passes.chunks):
            came = await self.read(self._passes.place(chunk), self._chunk_bytes)
            if came.errno is not None and any(numbers):  # of the rest of a stick that is ours
                await self.unreadable(self._passes.place(chunk), came)
            numbers.append(self._pass_of(chunk, came))
            if not numbers[0]:
                return  # a new stick, or another soak's
        self._passes.adopt(numbers)

    def _pass_of(self, chunk: int, came: Transfer) -> int:
        """Return the pass a whole chunk is of; 0 if it was cut short when the bench stopped."""
        offset = self._passes.place(chunk)
        length = self._chunk_bytes
        data = came.data or b""
        label = self.pattern.whose(data[:SECTOR_BYTES]) if len(data) == length else None
        if label is None or label.offset_bytes != offset:
            return 0
        counts = self.pattern.examine(data, label.pass_number, offset)
        return 0 if counts.wrong else label.pass_number

    def close(self) -> None:
        """Say what has not been said."""
        self.watch.close()
        self._tell_untold()

    async def _write_pass(self) -> None:
        number = self._passes.begin()
        for chunk in range(self._passes.chunks):
            await self._write_chunk(chunk, number)
            if not self._writes:
                return
            await self.watch.pause(self._given.pause_s)
        self._next_write_s = self._bench.clock.now_s() + self._given.write_every_s

    async def _write_chunk(self, chunk: int, pass_number: int) -> None:
        offset = self._passes.place(chunk)
        length = self._chunk_bytes
        came = await self.write(offset, pass_number, length)
        if came.errno is None:
            self._passes.wrote(chunk)
            return
        self._passes.lost(chunk)  # a part of it may have been written
        self._writes = came.errno not in NO_WRITING

    async def write(self, offset: int, pass_number: int, length: int) -> Transfer:
        """Write a chunk; say what it took, or what came of it."""
        came = await self._cross(lambda: self._ahead.write(self.stick, pass_number, offset, length))
        now_s = self._bench.clock.now_s()
        if came.errno is None:
            self._tell(self._log.wrote(now_s, length, came.took_s))
            return came
        if came.errno not in NO_WRITING:
            came = await self._unwritten((offset, length), pass_number, came)
        if came.errno in NO_WRITING:
            why = msg("it can no longer be written: {errno}", errno=in_words(came.errno))
            self.watch.mark(WritingRefused(source=STICK, errno=came.errno, why=why))
        return came

    async def _unwritten(
        self, chunk: tuple[int, int], pass_number: int, came: Transfer
    ) -> Transfer:
        """Say which sectors of a chunk cannot be written; return what the last failure was."""

        async def move(at: int, size: int) -> Transfer:
            data = self.pattern.make(pass_number, at, size)
            return await self._cross(lambda: self.stick.write_at(at, data))

        narrowed = Narrowed([chunk])
        try:
            await narrow(narrowed, move, self._bench.clock.now_s, self.stick.block_bytes)
        finally:  # charged also where the stretch ends meanwhile
            self._failed(chunk[0], came, narrowed, kind="not written", pass_number=pass_number)
        return narrowed.refused or came

    async def read(self, offset: int, length: int) -> Transfer:
        """Read a chunk."""
        return await self._cross(lambda: self.stick.read_at(offset, length))

    def took(self, came: Transfer, length: int, damaged_bytes: int) -> bool:
        """Say what a read that went well took; return whether it is evidence."""
        now_s = self._bench.clock.now_s()
        came_bytes = len(came.data or b"")
        is_evidence = self.watch.believe(came, came_bytes)
        if is_evidence and came_bytes == length:
            took = self._log.read(now_s, length, came.took_s, damaged_bytes, came.waited_s)
            self._tell(took)
        elif is_evidence:  # what came short has no speed
            self._tell(self._log.failed(now_s, came.took_s, damaged_bytes))
        return is_evidence

    async def _read_pass(self) -> None:
        known = self._passes.to_read()
        for chunk, pass_number in known:
            await self._read_chunk(chunk, pass_number)
            await self.watch.pause(self._given.pause_s)
        self._tell_untold()
        if not known:
            self.watch.blind(msg("nothing could be written, so nothing can be read back"))
            await self.watch.pause(TRY_AGAIN_S)

    def charge(self, damaged_bytes: int) -> None:
        """Say that so many more bytes were wrong."""
        if damaged_bytes:
            self._tell(self._log.failed(self._bench.clock.now_s(), 0.0, damaged_bytes))

    async def _read_chunk(self, chunk: int, pass_number: int) -> None:
        offset = self._passes.place(chunk)
        length = self._chunk_bytes
        came = await self.read(offset, length)
        if came.errno is not None or came.data is None:
            await self.unreadable(offset, came, pass_number)
            return
        counts = self.pattern.examine(came.data, pass_number, offset, length)
        self.took(came, length, counts.damaged_bytes)
        if counts.wrong:
            self.wrong(offset, replace(counts.described(), pass_=pass_number, path=came.path))

    async def unreadable(self, offset: int, came: Transfer, pass_number: int = 0) -> None:
        """Say which sectors of a chunk cannot be read though the stick is there.

        Parameters
        ----------
        pass_number : int
            What the rest of it must hold; 0: that is not known.
        """
        narrowed = Narrowed([(offset, self._chunk_bytes)])
        try:
            await narrow(narrowed, self.read, self._bench.clock.now_s, self.stick.block_bytes)
        finally:
            self._failed(offset, came, narrowed, kind="unreadable", pass_number=pass_number)

    def _failed(
        self, offset: int, came: Transfer, found: Narrowed, kind: str, pass_number: int
    ) -> None:
        """Charge what is bad of a chunk that failed, and what is wrong in the rest of it."""
        counts = SectorCounts(0, 0)
        for at, size, piece in found.well if pass_number else ():
            if piece.data is not None and self.watch.believe(piece, len(piece.data)):
                counts = counts.and_then(self.pattern.examine(piece.data, pass_number, at, size))
        described = counts.described()
        wrong = dict(described.kinds)
        bad_bytes = found.bad_bytes
        if bad_bytes:
            wrong[kind] = bad_bytes // SECTOR_BYTES
        else:  # it has no place, and was a failure all the same
            wrong[ONCE] = 1
            bad_bytes = SECTOR_BYTES
        damaged_bytes = counts.damaged_bytes + bad_bytes
        self._tell(self._log.failed(self._bench.clock.now_s(), came.took_s, damaged_bytes))
        bad = [{"kind": kind, "offset_bytes": at, "damaged_bytes": size} for at, size in found.bad]
        where = sorted([*described.where, *bad], key=lambda one: int(one["offset_bytes"]))
        chunk = replace(
            described,
            kinds=wrong,
            damaged_bytes=damaged_bytes,
            where=where[:MOST_DETAILS],
            cut_short=not found.ended,
            errno=came.errno if found.errno is None else found.errno,
        )
        self.wrong(offset, chunk)

    async def _cross(self, transfer: Callable[[], Awaitable[Transfer]]) -> Transfer:
        """Return a transfer that went well, or one that failed though the stick is there."""
        while True:
            came = await self.watch.attempt(transfer)
            if came is None:
                continue
            if came.errno is None:
                return came
            if came.errno in NO_WRITING and await self.watch.answers():
                return came  # else its file system was shut because the stick went
            if came.errno in LEFT or not await self.watch.answers():
                await self.watch.gone(came.errno)
            else:
                return came

    def wrong(self, offset: int, chunk: WrongChunk) -> None:
        """Describe a wrong chunk, one by one at first, then all of a pass together."""
        if self._marks_left:
            self._marks_left -= 1
            begins_bytes = self.stick.identity.get("begins_bytes")
            first = int(chunk.where[0]["offset_bytes"]) if chunk.where else offset
            on_disk = None if begins_bytes is None else begins_bytes + first
            placed = replace(
                chunk,
                offset_bytes=offset,
                length_bytes=self._chunk_bytes,
                disk_address_bytes=on_disk,
            )
            self.watch.mark(placed)
            return
        for kind, count in {**chunk.kinds, "chunks": 1}.items():
            self._untold[kind] = self._untold.get(kind, 0) + count

    def _tell_untold(self) -> None:
        untold = self._untold
        self._untold = {}
        if chunks := untold.pop("chunks", 0):
            self.watch.mark(WrongChunk(kinds=untold, chunks=chunks))

    def _tell(self, readings: Sequence[Any]) -> None:
        for reading in readings:
            self._say(reading)


class MakesAhead:
    """Writes chunks of a pattern; a quick stick does not wait for the data to be made.

    Parameters
    ----------
    pattern : Pattern
        What the data is.
    """

    def __init__(self, pattern: Pattern) -> None:
        self._pattern = pattern
        self._made: tuple[tuple[int, int, int], bytes] = ((0, 0, 0), b"")

    async def write(self, stick: Stick, pass_number: int, offset: int, length: int) -> Transfer:
        """Write one chunk, and make the one that follows meanwhile."""
        asked, data = self._made
        if asked != (pass_number, offset, length):
            data = self._pattern.make(pass_number, offset, length)
        came: list[Transfer | BaseException] = []

        async def cross() -> None:
            try:
                came.append(await stick.write_at(offset, data))
            except Exception as fault:  # handed on below, not as a group of one
                came.append(fault)

        async with trio.open_nursery() as nursery:
            nursery.start_soon(cross)
            await trio.lowlevel.checkpoint()  # let it go first
            following = (pass_number, offset + length, length)
            self._made = (following, self._pattern.make(*following))
        if isinstance(came[0], BaseException):
            raise came[0]
        return came[0]
