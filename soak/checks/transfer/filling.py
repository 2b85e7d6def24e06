"""Fill a stick once, read it all back: does it hold what it claims?"""

from dataclasses import replace
from typing import Protocol

from soak.checks.transfer.watch import STICK, StickWatch
from soak.errors import BenchFault
from soak.marks import WrongChunk
from soak.measure.stick.capacity import Filling
from soak.measure.stick.passes import Passes
from soak.measure.stick.pattern import SECTOR_BYTES, Pattern
from soak.measure.stick.states import NO_WRITING
from soak.roles import Stick, Transfer
from soak.words import Amount, msg


class Crosses(Protocol):
    """What moves single chunks and says what came of them."""

    pattern: Pattern
    stick: Stick
    watch: StickWatch

    async def write(self, offset: int, pass_number: int, length: int) -> Transfer:
        """Write a chunk and say what it took."""
        ...

    async def read(self, offset: int, length: int) -> Transfer:
        """Read a chunk."""
        ...

    async def unreadable(self, offset: int, came: Transfer, pass_number: int) -> None:
        """Say which sectors of a chunk cannot be read."""
        ...

    def took(self, came: Transfer, length: int, damaged_bytes: int) -> bool:
        """Say what a read that went well took; return whether it is evidence."""
        ...

    def charge(self, damaged_bytes: int) -> None:
        """Say that so many more bytes were wrong."""
        ...

    def wrong(self, offset: int, chunk: WrongChunk) -> None:
        """Describe a wrong chunk."""
        ...


async def fill(crossing: Crosses, chunk_bytes: int, budget_bytes: int, done_bytes: int) -> Passes:
    """Fill all there is room for, read it back, and make the mark `capacity`.

    Parameters
    ----------
    budget_bytes : int
        What may be written by this stretch at all.
    done_bytes : int
        What an earlier session of it has written.

    Returns
    -------
    Passes
        What lies on the stick now, as far as it holds.

    Raises
    ------
    BenchFault
        If the budget does not allow it.
    """
    identity = crossing.stick.identity
    room_bytes = int(identity.get("room_bytes", crossing.stick.size_bytes))
    chunks = room_bytes // chunk_bytes
    if chunks * chunk_bytes > budget_bytes:
        raise BenchFault(
            STICK,
            msg(
                "whole fills {chunks}, more than write_budget_bytes ({budget_bytes}) allows; "
                "raise that, or leave whole out",
                chunks=Amount(chunks * chunk_bytes, "B"),
                budget_bytes=Amount(budget_bytes, "B"),
            ),
        )
    filling = Filling(int(identity.get("claims_bytes", room_bytes)))
    passes = Passes(chunk_bytes, chunks, budget_bytes - done_bytes)
    already = min(chunks, done_bytes // chunk_bytes)
    passes.adopt([1] * already + [0] * (chunks - already))
    written = await _write(crossing, passes, filling, chunk_bytes)
    if not filling.honest or await _read(crossing, passes, written, filling):
        crossing.watch.mark(filling.fact())
    crossing.charge(filling.unexplained_bytes)
    if not filling.honest:  # go on with what there is, on data that is written anew
        left_bytes = max(0, budget_bytes - written * chunk_bytes)
        passes = Passes(chunk_bytes, filling.holds_bytes // 2 // chunk_bytes, left_bytes)
        passes.number = 1
    return passes


async def _write(crossing: Crosses, passes: Passes, filling: Filling, chunk_bytes: int) -> int:
    """Write each chunk that is not there yet; return how many are there."""
    begun = len(passes.to_read())
    number = passes.number or passes.begin()
    for chunk in range(begun, passes.chunks):
        came = await crossing.write(passes.place(chunk), number, chunk_bytes)
        if came.errno in NO_WRITING:
            return chunk
        if came.errno is None:
            passes.wrote(chunk)
        # Where addresses wrap, the beginning goes first: stop before more of a stick is spoilt.
        if distance_bytes := await _moved(crossing, number):
            filling.moved(distance_bytes)
            return chunk + 1
    return passes.chunks


async def _moved(crossing: Crosses, number: int) -> int:
    """Return from where the beginning's data has come, B; 0 if it is its own.

    A stick that wraps says so again; what is otherwise the next time is wrong data of one read.
    """
    block_bytes = crossing.stick.block_bytes
    distance_bytes = 0
    for _ in range(2):
        before_bytes = distance_bytes
        block = (await crossing.read(0, block_bytes)).data or b""
        label = crossing.pattern.whose(block[:SECTOR_BYTES]) if block else None
        ours = label is not None and label.pass_number == number
        distance_bytes = label.offset_bytes if ours and label is not None else 0
        if not distance_bytes and not before_bytes:
            return 0
    if distance_bytes == before_bytes:
        return distance_bytes
    crossing.charge(block_bytes)
    kinds = {"wrong address": block_bytes // SECTOR_BYTES}
    crossing.wrong(0, WrongChunk(kinds=kinds, pass_=number))
    return 0


async def _read(crossing: Crosses, passes: Passes, chunks: int, filling: Filling) -> bool:
    """Read back what was written; return whether all of that is evidence."""
    believed = True
    chunk_bytes = passes.place(1)
    written = {chunk for chunk, _ in passes.to_read()}  # one that failed is charged already
    for chunk in range(chunks):
        if chunk not in written:
            continue
        offset = passes.place(chunk)
        came = await crossing.read(offset, chunk_bytes)
        if came.data is None:
            await crossing.unreadable(offset, came, 1)
            continue
        counts = crossing.pattern.examine(came.data, 1, offset, chunk_bytes)
        damaged_bytes = filling.read(counts)
        believed &= crossing.took(came, chunk_bytes, damaged_bytes)
        if counts.wrong:
            crossing.wrong(offset, replace(counts.described(), pass_=1, path=came.path))
    return believed and chunks > 0
