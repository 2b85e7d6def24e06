"""Whether the stick is there, whatever a single transfer says."""

import errno
from collections.abc import Awaitable, Callable, Sequence

import trio

from soak.checks.base import Bench, Say
from soak.checks.transfer.settings import TransferSettings
from soak.errors import BenchFault
from soak.marks import BenchFaulted, BenchWell, Fact, Reconnected, mark_of
from soak.measure.stick.states import LEFT, StickStates
from soak.measure.stick.transfer_log import TransferLog
from soak.records import Reading, State
from soak.roles import Stick, Transfer
from soak.states import GONE
from soak.words import Message

NAME = "transfer"
"""The check's name: the key in a script."""

STICK = "stick"
TRY_AGAIN_S = 1.0
"""A stick that failed is tried again after so long, s. Our own choice."""
_TOLD = frozenset({None, errno.ETIMEDOUT, *LEFT})
"""What one block says of the whole stick: it answers, does not in time, or the system misses it."""


class StickWatch:
    """Tries transfers, and says what the stick is seen to be."""

    def __init__(
        self,
        stick: Stick,
        given: TransferSettings,
        log: TransferLog,
        stretch: str,
        bench: Bench,
        say: Say,
    ) -> None:
        self._stick = stick
        self._given = given
        self._stretch = stretch
        self._log = log
        self._now_s = bench.clock.now_s
        self._say = say
        self._states = StickStates(STICK)
        self._faulty = False
        self._since_s: float | None = None

    def close(self) -> None:
        """Say what has not been said: what is under way has taken so long at least."""
        now_s = self._now_s()
        if self._since_s is not None and self._since_s < now_s and self._states.state != GONE:
            self.tell(self._log.failed(now_s, now_s - self._since_s))
        self.tell(self._log.flush(now_s))

    async def tell_stalls(self) -> None:
        """Say of each transfer that takes too long that it stalls; never returns."""
        while True:
            since_s = self._since_s
            stall_s = self._given.stall_s
            gone_by_s = 0.0 if since_s is None else self._now_s() - since_s
            if gone_by_s < stall_s:
                await trio.sleep(stall_s - gone_by_s)
            if since_s is not None and since_s == self._since_s:
                self.tell(self._states.stalled(self._now_s()))
                await trio.sleep(stall_s)

    async def until_there(self) -> None:
        """Return as soon as the stick answers."""
        while True:
            came = await self._look()
            if came is not None and came.errno is None:
                self.believe(came, 0)
                return
            if came is not None and came.errno is not None:
                await self.gone(came.errno)

    async def attempt(self, transfer: Callable[[], Awaitable[Transfer]]) -> Transfer | None:
        """Try a transfer; None if it is to be tried again: the bench itself failed, or it hung.

        One that hung is one stall, up to when the stick answers again.
        """
        await self._stick.rested()
        self._since_s = since_s = self._now_s()
        came = await self._try(transfer)
        while came is not None and came.errno == errno.ETIMEDOUT and self._states.state != GONE:
            self.tell(self._states.stalled(self._now_s()))
            await trio.sleep(self._given.look_s)
            looked = await self._try(lambda: self._stick.read_at(0, self._stick.block_bytes))
            if looked is not None and looked.errno in LEFT:
                came = looked
            elif looked is None or looked.errno != errno.ETIMEDOUT:
                now_s = self._now_s()
                self.tell(self._log.failed(now_s, now_s - since_s))
                came = None
        self._since_s = None
        return came

    async def _try(self, transfer: Callable[[], Awaitable[Transfer]]) -> Transfer | None:
        """Try a transfer; None if the bench itself failed, after a while."""
        try:
            came = await transfer()
        except BenchFault as fault:
            self._since_s = None
            if not self._faulty:
                self.mark(BenchFaulted(instrument=fault.instrument, what=fault.what))
            self._faulty = True
            self.tell(self._states.fault(self._now_s(), fault.what))
            await trio.sleep(TRY_AGAIN_S)
            return None
        if self._faulty:
            self._faulty = False
            self.mark(BenchWell(instrument=STICK))
        if came.errno is None and self._states.state != GONE:
            self.tell(self._states.well(self._now_s()))
        return came

    def believe(self, came: Transfer, length: int) -> bool:
        """Return whether a read is evidence; say so where that changes."""
        self.tell(self._states.read(self._now_s(), came, length, self._stick.identity))
        return self._states.state == "seen"

    def blind(self, why: Message) -> None:
        """Say that there is nothing to see."""
        self.tell(self._states.blind(self._now_s(), why))

    async def answers(self) -> bool:
        """Return whether the stick answers at its beginning; waits while the bench itself fails."""
        while (came := await self._look()) is None:
            pass
        return came.errno is None

    async def gone(self, number: int) -> None:
        """Say that the stick is gone; return when it is back."""
        since_s = self._now_s()
        self.tell(self._states.gone(since_s, number))
        while True:
            await trio.sleep(self._given.look_s)
            looked_s = self._now_s()
            came = await self._look()
            if came is not None and came.errno is None:
                break
            self._states.looked(looked_s)
            if came is not None and came.errno is not None:  # the bench works again, it does not
                self.tell(self._states.gone(self._now_s(), came.errno))
        self.believe(came, 0)
        gone_s = round(self._now_s() - since_s, 3)
        self.mark(Reconnected(source=STICK, gone_s=gone_s))

    async def pause(self, length_s: float) -> None:
        """Wait, and look now and then whether the stick is still there."""
        until_s = self._now_s() + length_s
        while (left_s := until_s - self._now_s()) > 0:
            await trio.sleep(min(self._given.look_s, left_s))
            if left_s <= self._given.look_s:
                return
            came = await self._look()
            if came is not None and came.errno is not None and not await self.answers():
                await self.gone(came.errno)

    def mark(self, fact: Fact) -> None:
        """Make a mark of this check."""
        self._say(mark_of(self._now_s(), fact, self._stretch, NAME))

    async def _look(self) -> Transfer | None:
        """Read a block; if the first one cannot be read, another: that alone is no leaving."""
        block_bytes = self._stick.block_bytes
        came = await self.attempt(lambda: self._stick.read_at(0, block_bytes))
        elsewhere = self._stick.size_bytes // 2 // block_bytes * block_bytes
        if came is None or came.errno in _TOLD or not elsewhere:
            return came
        return await self.attempt(lambda: self._stick.read_at(elsewhere, block_bytes))

    def tell(self, records: Sequence[State | Reading]) -> None:
        """Say what was gathered."""
        for record in records:
            self._say(record)
