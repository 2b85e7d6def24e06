"""A serial port for drivers: one owner, whole frames only, found again after it vanished."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from typing import Literal, TypeVar

import trio
from pydantic import Field

from soak.bench import nature
from soak.bench.readings import Refused, shown
from soak.bench.registry import Tools
from soak.bench.serial.names import Adapter, again, named, plugged_in
from soak.bench.serial.wire import Parity, Wire, WireFault
from soak.errors import BenchFault
from soak.natures import Nature
from soak.records import Json
from soak.roles import OffLoop
from soak.settings import Seconds, Settings
from soak.words import NOTHING_SAID, Amount, Message, just, message_of, msg

T = TypeVar("T")

_OPEN_LIMIT_S = 10.0
"""A port has so long to open, s. Our own choice."""
_SEND_LIMIT_S = 5.0
"""A port has so long to take what is sent, s. Our own choice."""
_STALLED_LINE_S = 1.0
"""A line that stops in its middle for so long is dropped: an instrument that restarted would
otherwise glue half of an old value to a new one. Our own choice."""

Complete = Callable[[bytes], int]
"""Length of the whole frame that the bytes begin with; 0 while there is none yet."""

_LONGEST_BYTES = 256
"""More bytes than that without an end are no answer. Our own choice."""


class SerialSettings(Settings):
    """How a driver reaches its serial port; a base for settings classes.

    Attributes
    ----------
    port : str
        A path, `VID:PID`, `VID:PID/SERIAL`, or a serial number.
    baud : int
        Speed of the serial port, bits a second, as the manual of the instrument says.
    parity : str
        Parity bit: none, even or odd.
    stop_bits : int
        Stop bits after each character.
    answer_s : float
        Longest wait for an answer, s.
    settle_s : float
        Wait after opening before anything is said, s; 2 to 3 s for a board that restarts then.
    """

    port: str = Field(min_length=1)
    baud: int = Field(default=9600, ge=50, le=4_000_000)
    parity: Parity = "N"
    stop_bits: Literal[1, 2] = 1
    answer_s: Seconds = Field(default=1.0, gt=0, le=60)
    settle_s: Seconds = Field(default=0.1, ge=0, le=30)


class _Shared:
    """One adapter of this process, whoever uses it."""

    def __init__(self, settings: SerialSettings, adapter: Adapter, off_loop: OffLoop) -> None:
        self.settings = settings
        self.adapter = adapter
        self.off_loop = off_loop
        self.turn = trio.Lock()
        self.wire: Wire | None = None
        self.users: dict[SerialPort, str] = {}
        self.key = adapter.key
        self.nature = Nature.UNKNOWN
        self.in_step = False
        self.had_bytes = 0
        self.grew_at_s = 0.0

    async def open_wire(self) -> Wire:
        if self.wire is not None:
            return self.wire
        way = self.settings
        call = self.off_loop.call
        with trio.CancelScope(shield=True):  # a port opened for nobody would stay locked
            wire = await call(
                _OPEN_LIMIT_S, Wire, self.adapter, way.baud, way.parity, way.stop_bits
            )
            self.wire = wire
        # Until raw mode was set the terminal echoed the instrument's own text back to it, and
        # what it printed then, or said to the echo, is nobody's answer.
        await trio.sleep(way.settle_s)
        await call(_SEND_LIMIT_S, wire.forget)
        self.in_step = False
        self.had_bytes = 0
        return wire

    async def find_again(self) -> Wire:
        if self.wire is None:
            there = await self.off_loop.call(_OPEN_LIMIT_S, plugged_in)
            self.adapter = again(self.adapter, self.settings.port, there)
        return await self.open_wire()

    def stands_still(self, size_bytes: int) -> bool:
        """Say whether a half line of this size has not grown for too long."""
        now_s = trio.current_time()
        if size_bytes != self.had_bytes:
            self.had_bytes = size_bytes
            self.grew_at_s = now_s
        return size_bytes > 0 and now_s - self.grew_at_s > _STALLED_LINE_S

    async def close_wire(self) -> None:
        wire = self.wire
        self.wire = None
        if wire is not None:
            # One that hangs in the kernel is left behind with its thread.
            with trio.CancelScope(shield=True), suppress(TimeoutError):
                await self.off_loop.call(_SEND_LIMIT_S, wire.close)


_Pool = dict[str, _Shared]
_pool: trio.lowlevel.RunVar[_Pool] = trio.lowlevel.RunVar("soak_serial_ports")
_pool_turn: trio.lowlevel.RunVar[trio.Lock] = trio.lowlevel.RunVar("soak_serial_ports_turn")


class SerialPort:
    """One instrument's use of a serial port; `open_port` makes it."""

    def __init__(self, name: str, shared: _Shared, pool: _Pool) -> None:
        self.name = name
        self._shared = shared
        self._pool = pool
        self._closed = False

    @property
    def identity(self) -> Json:
        """Port and adapter as found, and what it was when it was opened."""
        adapter = self._shared.adapter
        return {
            "port": adapter.device,
            "adapter": adapter.key,
            "description": adapter.description,
            "nature": self._shared.nature,
        }

    @asynccontextmanager
    async def turn(self) -> AsyncIterator[None]:
        """Keep other users of the same port from speaking in between."""
        async with self._shared.turn:
            yield

    async def tell(self, data: bytes) -> None:
        """Send `data`, having thrown away what came in before.

        Raises
        ------
        BenchFault
            If the port has vanished and is not back.
        """
        async with self._reaching() as wire:
            await self._shared.off_loop.call(_SEND_LIMIT_S, wire.forget)
            await self._shared.off_loop.call(_SEND_LIMIT_S, wire.send, data)

    async def answer(self, line_end: bytes, limit_s: float) -> bytes:
        """Return the next line, its end included. Raises as `hear`."""
        lacks = msg(
            "without {end} at its end; line_end must be what the device sends", end=shown(line_end)
        )
        return await self.hear(_line_of(line_end), limit_s, lacks=lacks)

    async def hear(
        self, complete: Complete, limit_s: float, lacks: Message = NOTHING_SAID
    ) -> bytes:
        """Return the next whole frame.

        Parameters
        ----------
        lacks : Message
            What half of one lacks, to be said of it.

        Raises
        ------
        Refused
            If none came within `limit_s` of soak time, only half of one, or too many bytes.
        BenchFault
            If the port has vanished.
        """
        async with self._reaching() as wire:
            with trio.move_on_after(limit_s):
                while True:
                    length = complete(bytes(wire.came))
                    if length:
                        return self._taken(wire, length)
                    if len(wire.came) > _LONGEST_BYTES:
                        raise Refused(
                            msg(
                                "more than {longest_bytes} bytes without an end",
                                longest_bytes=_LONGEST_BYTES,
                            )
                        )
                    await self._shared.off_loop.call(_SEND_LIMIT_S, wire.more)
            half = bytes(wire.came)
            wire.came.clear()
        limit = Amount(limit_s, "s")
        if not half:
            raise Refused(msg("no answer within {limit}", limit=limit))
        if lacks:
            raise Refused(
                msg(
                    "only {half} came within {limit} {lacks}",
                    half=shown(half),
                    limit=limit,
                    lacks=lacks,
                )
            )
        raise Refused(msg("only {half} came within {limit}", half=shown(half), limit=limit))

    async def line(self, line_end: bytes, limit_s: float) -> bytes | None:
        """Return the next whole line of an instrument that talks unasked, without its end.

        The first line after opening is dropped, for it may have begun before: the rest of
        `123.50` is a plausible wrong value. The beginning of a line stays for the next call.

        Returns
        -------
        bytes or None
            None if no line ended within `limit_s` of soak time.

        Raises
        ------
        Refused
            If a line was too long or stood still in its middle; it is dropped up to its end.
        BenchFault
            If the port has vanished.
        """
        shared = self._shared
        ends_at_s = trio.current_time() + limit_s
        async with self._reaching() as wire:
            while True:
                end = wire.came.find(line_end)
                if end >= 0:
                    taken = self._taken(wire, end + len(line_end))[:end]
                    shared.had_bytes = 0
                    if shared.in_step:
                        return taken
                    shared.in_step = True
                    continue
                if shared.stands_still(len(wire.came)) or len(wire.came) > _LONGEST_BYTES:
                    half = bytes(wire.came)
                    wire.came.clear()
                    shared.in_step = False
                    raise Refused(msg("no line end after {half}", half=shown(half)))
                if trio.current_time() >= ends_at_s:
                    return None
                await shared.off_loop.call(_SEND_LIMIT_S, wire.more)

    async def aclose(self) -> None:
        """Give up the port; the last user closes it. Twice is safe."""
        if self._closed:
            return
        self._closed = True
        self._shared.users.pop(self, None)
        if not self._shared.users:
            self._pool.pop(self._shared.key, None)
            await self._shared.close_wire()

    @asynccontextmanager
    async def _reaching(self) -> AsyncIterator[Wire]:
        if self._closed:
            raise BenchFault(self.name, msg("is closed"))
        try:
            yield await self._shared.find_again()
        except (WireFault, TimeoutError, LookupError) as fault:
            await self._shared.close_wire()
            raise BenchFault(self.name, _plain(fault)) from None

    @staticmethod
    def _taken(wire: Wire, length: int) -> bytes:
        data = bytes(wire.came[:length])
        del wire.came[:length]
        return data


async def open_port(
    name: str, settings: SerialSettings, tools: Tools, speaks: str = ""
) -> SerialPort:
    """Open a serial port, or share it with another instrument of this run.

    Parameters
    ----------
    name : str
        The instrument, `"probe.heatsink"`.
    speaks : str
        The driver's kind, if several instruments may share the port by taking turns; empty if
        this one wants it for itself.

    Raises
    ------
    BenchFault
        If there is no such port, or it is in use.
    """
    pool = _run_wide(_pool, dict[str, _Shared])
    async with _run_wide(_pool_turn, trio.Lock):
        try:
            there = await tools.off_loop.call(_OPEN_LIMIT_S, plugged_in)
            adapter = named(settings.port, there)
            shared = pool.get(adapter.key)
            if shared is None:
                shared = _Shared(settings, adapter, tools.off_loop)
                await _open_first(shared)
                shared.nature = await tools.off_loop.call(
                    _OPEN_LIMIT_S, nature.of_terminal, adapter.device, bool(adapter.usb_id)
                )
                pool[adapter.key] = shared
            else:
                _may_share(shared, settings, speaks)
        except (WireFault, TimeoutError, LookupError) as fault:
            raise BenchFault(name, _plain(fault)) from None
        port = SerialPort(name, shared, pool)
        shared.users[port] = speaks
        return port


def _line_of(line_end: bytes) -> Complete:
    """Return the rule for frames that are lines, empty ones before it and its end included."""

    def complete(data: bytes) -> int:
        begins = len(data) - len(data.lstrip(b" \r\n"))
        at = data.find(line_end, begins)
        return 0 if at < 0 else at + len(line_end)

    return complete


async def _open_first(shared: _Shared) -> None:
    try:
        await shared.open_wire()
    except BaseException:
        await shared.close_wire()
        raise


def _may_share(shared: _Shared, settings: SerialSettings, speaks: str) -> None:
    user, spoken = next(iter(shared.users.items()))
    if not speaks or spoken != speaks:
        raise WireFault(
            msg(
                "{device} is already taken by {name}; give each its own port",
                device=shared.adapter.device,
                name=user.name,
            )
        )
    ways = ("baud", "parity", "stop_bits")
    if any(getattr(settings, way) != getattr(shared.settings, way) for way in ways):
        raise WireFault(
            msg(
                "{device} is shared with {name}, which gives another baud, parity or "
                "stop_bits; write the same in both",
                device=shared.adapter.device,
                name=user.name,
            )
        )


def _plain(fault: Exception) -> Message:
    if isinstance(fault, TimeoutError):
        return msg("the port does not react ({why}); plug it out and in again", why=str(fault))
    return message_of(fault.args[0]) if fault.args else just(str(fault))


def _run_wide(variable: trio.lowlevel.RunVar[T], make: Callable[[], T]) -> T:
    """Return the one object of this trio run: a port has one owner, whoever made the tools."""
    try:
        return variable.get()
    except LookupError:
        made = make()
        variable.set(made)
        return made
