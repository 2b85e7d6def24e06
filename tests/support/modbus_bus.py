"""Two serial ports joined by a cable, and a Modbus RTU device of pymodbus's on one of them."""

import asyncio
import os
import select
import threading
import tty
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from patience import LIMIT_S
from pymodbus.pdu.bit_message import WriteSingleCoilRequest
from pymodbus.server import ModbusSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice


@contextmanager
def joined() -> Iterator[tuple[str, str]]:
    """Two serial ports joined by a cable."""
    (one, one_end), (two, two_end) = os.openpty(), os.openpty()
    stop_out, stop_in = os.pipe()
    for descriptor in (one, two):
        tty.setraw(descriptor)

    def carry() -> None:
        while True:
            ready, _, _ = select.select([one, two, stop_out], [], [])
            if stop_out in ready:
                return
            for source, target in ((one, two), (two, one)):
                if source in ready:
                    os.write(target, os.read(source, 4096))

    thread = threading.Thread(target=carry)
    thread.start()
    try:
        yield os.ttyname(one_end), os.ttyname(two_end)
    finally:
        os.write(stop_in, b"x")
        thread.join()
        for descriptor in (one, two, one_end, two_end, stop_in, stop_out):
            os.close(descriptor)


@contextmanager
def module(port: str, coils: int, registers: Sequence[int] = (0,)) -> Iterator[list[Any]]:
    """Serve device 17 on a port, by pymodbus: so many coils, and registers that hold these.

    Yields what it was told to switch.
    """
    told: list[Any] = []
    ready, loop = threading.Event(), asyncio.new_event_loop()

    def heard(sending: bool, pdu: Any) -> Any:
        if not sending and isinstance(pdu, WriteSingleCoilRequest):
            told.append((pdu.dev_id, pdu.address, pdu.bits[0]))
        return pdu

    async def serve() -> None:
        data = SimData(0, count=coils, values=False, datatype=DataType.BITS)
        held = SimData(0, values=list(registers), datatype=DataType.REGISTERS)
        device = SimDevice(17, simdata=([data], [data], [held], [held]))
        server = ModbusSerialServer(device, port=port, baudrate=9600, trace_pdu=heard)
        await server.serve_forever(background=True)
        ready.set()
        stopped = asyncio.Event()
        loop.call_soon_threadsafe(lambda: None)
        stop.append(stopped)
        await stopped.wait()
        await server.shutdown()

    stop: list[asyncio.Event] = []
    thread = threading.Thread(target=lambda: loop.run_until_complete(serve()))
    thread.start()
    assert ready.wait(LIMIT_S)
    try:
        yield told
    finally:
        loop.call_soon_threadsafe(lambda: stop[0].set())
        thread.join()
        loop.close()
