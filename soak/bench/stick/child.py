"""A stick whose reads and writes are done by a child process; the drivers say what to open."""

import errno
import mmap
import os
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, Literal, cast

import trio

from soak.bench.child import Child, ChildDied
from soak.bench.registry import Tools
from soak.bench.stick.folder import BLOCK_BYTES, Refused
from soak.bench.stick.medium import PARTS, Came, Order, open_medium, read_medium, write_medium
from soak.bench.stick.neighbours import Neighbours
from soak.errors import BenchFault, told_of
from soak.records import Json
from soak.roles import Transfer
from soak.words import Number, msg

_FIRST_BACK_OFF_S, _LONGEST_BACK_OFF_S = 5.0, 600.0
"""Each call that hangs in the kernel may leave a process behind: try ever less often. Our own
choice."""

_STOOD_S = 1.0
"""Who stood still for less explains no stall that a demand may forbid. Our own choice."""


class ChildStick:
    """A stick reached through a child process.

    All work is done there: a read that hangs in the kernel cannot be interrupted, and would keep
    the soak from ending.

    Parameters
    ----------
    name : str
        The source, for faults.
    where : str
        What the operator calls it: the folder, the device.
    limit_s : float
        A read or write that takes longer is given up, s.
    size_bytes : int
        How much may be filled; 0: what the identity says there is room for.
    order : callable
        Returns what to open, given the identity known so far.
    identity : dict
        What is known of it before it is opened.
    tools : Tools
        The way off the loop.
    apart : sequence of str
        Other USB devices of the same unit, and of units next to it.
    """

    def __init__(
        self,
        name: str,
        where: str,
        limit_s: float,
        size_bytes: int,
        order: Callable[[Json], Order],
        identity: dict[str, Any],
        tools: Tools,
        apart: Sequence[str] = (),
    ) -> None:
        self._name = name
        self._where = where
        self._limit_s = limit_s
        self._size_bytes = size_bytes
        self._order = order
        self._child = Child(tools.off_loop)
        self._shared = _Shared()
        self._identity = identity
        self._open = False
        self._neighbours = Neighbours(apart, trio.current_time)
        self._turn = trio.Lock()
        self._back_off_s = 0.0
        self._not_before_s = 0.0

    @property
    def identity(self) -> Json:
        """What the stick is: id, file system, device, USB link, whether reads may be cached."""
        return self._identity

    @property
    def size_bytes(self) -> int:
        """Bytes it may be filled with, a multiple of `block_bytes`."""
        size_bytes = self._size_bytes or int(self._identity.get("room_bytes", 0))
        return size_bytes // BLOCK_BYTES * BLOCK_BYTES

    @property
    def block_bytes(self) -> int:
        """Offsets and lengths are multiples of this: 4096."""
        return BLOCK_BYTES

    async def rested(self) -> None:
        pass

    async def begin(self) -> None:
        """Open it for the first time.

        Raises
        ------
        BenchFault
            In one sentence, if it cannot or must not be used.
        """
        try:
            await self._find()
        except Refused as refusal:
            raise BenchFault(self._name, told_of(refusal)) from None
        except TimeoutError:
            what = msg("{where} does not answer; unplug the stick", where=self._where)
            raise BenchFault(self._name, what) from None

    async def write_at(self, offset: int, data: bytes) -> Transfer:
        """Write and flush to the medium; failures of stick or port stand in `errno`.

        Raises
        ------
        BenchFault
            If the process that does the work died.
        """
        async with self._turn:
            shared = self._shared.room_for(len(data))
            if shared:
                self._shared.memory[: len(data)] = data
            sent = None if shared else data
            return _transfer(await self._do(write_medium, shared, offset, len(data), sent), None)

    async def read_at(self, offset: int, length: int) -> Transfer:
        """Read from the medium; failures of stick or port stand in `errno`.

        Raises
        ------
        BenchFault
            If the process that does the work died.
        """
        async with self._turn:
            shared = self._shared.room_for(length)
            came = await self._do(read_medium, shared, offset, length)
            data = came.data
            if shared and came.got_bytes:
                data = self._shared.memory[came.at : came.at + came.got_bytes]
            return _transfer(came, data if data is not None else b"")

    async def aclose(self) -> None:
        """End the child process; twice is safe, and a hanging stick is not waited for."""
        self._open = False
        await self._child.aclose()
        self._shared.close()

    async def _do(self, work: Any, *args: Any) -> Came:
        begin_s = trio.current_time()
        if begin_s < self._not_before_s:
            return Came(0.0, errno.ETIMEDOUT, 0, "direct")
        try:
            if not self._open:
                await self._find()
            came = cast(Came, await self._child.call(self._limit_s, work, *args))
            came = self._besides_standing(came)
        except TimeoutError:
            self._hung()
            return Came(trio.current_time() - begin_s, errno.ETIMEDOUT, 0, "direct")
        except ChildDied as fault:
            self._open = False
            raise BenchFault(
                self._name, msg("{why}; run on, it is started again", why=told_of(fault))
            ) from None
        except (OSError, Refused) as fault:
            await self._charge_the_right_one()
            number = getattr(fault, "errno", None) or errno.ENODEV
            return Came(trio.current_time() - begin_s, number, 0, "direct")
        except BaseException:  # cancelled: the child was killed, its read may go on
            self._open = False
            self._shared.abandon()
            raise
        self._open = came.errno is None  # after a failure look for the stick before going on
        if self._open:
            self._neighbours.stick_well(self._usb_port())
        else:
            await self._charge_the_right_one()
        self._back_off_s = 0.0
        return came

    async def _find(self) -> None:
        """Open the stick: any at first, later the same one wherever it is mounted."""
        order = self._order(self._identity)
        self._identity |= await self._child.call(self._limit_s, open_medium, order)
        self._open = True

    def _besides_standing(self, came: Came) -> Came:
        """Take off what the process that reads stood still itself; one that did long says nothing.

        Raises
        ------
        BenchFault
            Then.
        """
        stood_s = self._child.stood_s
        if stood_s > _STOOD_S:
            what = msg(
                "the process that reads it stood still for {stood_s} s",
                stood_s=Number(stood_s, ".1f"),
            )
            raise BenchFault(self._name, what)
        return replace(came, took_s=max(0.0, came.took_s - stood_s))

    def _usb_port(self) -> str:
        return str(self._identity.get("usb_port", ""))

    async def _charge_the_right_one(self) -> None:
        if why := await self._neighbours.stick_failed():
            raise BenchFault(self._name, why)

    def _hung(self) -> None:
        self._open = False
        self._shared.abandon()
        self._back_off_s = min(_LONGEST_BACK_OFF_S, self._back_off_s * 2 or _FIRST_BACK_OFF_S)
        self._not_before_s = trio.current_time() + self._back_off_s


class _Shared:
    """Memory that this process and the child both see: the data goes through no pipe.

    Where the system has no such memory (other than Linux) the data is sent.
    """

    def __init__(self) -> None:
        self._descriptor = -1
        self._generation = 0
        self.memory: mmap.mmap = mmap.mmap(-1, BLOCK_BYTES)

    def room_for(self, length: int) -> str:
        """Return the name under which the child maps it, empty if the data must be sent."""
        if not hasattr(os, "memfd_create"):
            return ""
        if self._descriptor < 0 or len(self.memory) < PARTS * length:
            self.close()
            self._descriptor = os.memfd_create("soak-stick", os.MFD_CLOEXEC)
            os.ftruncate(self._descriptor, PARTS * max(length, BLOCK_BYTES))
            self.memory = mmap.mmap(self._descriptor, 0)
            self._generation += 1
        return f"{self._generation}:/proc/{os.getpid()}/fd/{self._descriptor}"

    def abandon(self) -> None:
        """Use other memory from now on: a read that hangs may still write into this one."""
        self.close()

    def close(self) -> None:
        if self._descriptor >= 0:
            self.memory.close()
            os.close(self._descriptor)
            self._descriptor = -1


def _transfer(came: Came, data: bytes | None) -> Transfer:
    path = cast(Literal["direct", "reopened", "maybe cached"], came.path)
    data = data if came.errno is None else None
    return Transfer(data, came.took_s, came.errno, path=path, waited_s=came.waited_s)
