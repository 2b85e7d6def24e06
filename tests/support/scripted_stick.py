"""A stick in memory that misbehaves as it is told, and the little bench a check needs around it."""

import numpy as np
import trio
from headers import placed

from soak.records import Mark, Reading, State
from soak.roles import Transfer

CHUNK = 64 * 1024
SIZE = 8 * CHUNK
SHEET = {
    "functions": {
        "service_usb": {"check": "transfer", "port": "usb1"},
        "other_usb": {"check": "transfer", "port": "usb2"},
        "video": {"check": "picture", "port": "video"},
    },
    "ports": {"usb1": {"text": "service port"}, "usb2": {"text": "second port"}},
}


class ScriptedStick:
    """A stick in memory; `faults` says for how long and how it misbehaves."""

    block_bytes = 4096

    def __init__(self, clock, size_bytes=SIZE, speed=30e6, rest_s=0.0):
        self.clock, self.size_bytes, self.speed, self.rest_s = clock, size_bytes, speed, rest_s
        self.kept = bytearray(size_bytes)
        self.identity = {"driver": "scripted"}
        self.path = "direct"
        self.fails = lambda now_s: None
        self.write_fails = lambda now_s: None
        self.spoil = lambda data, offset: data
        self.reads, self.writes = [], []

    async def aclose(self):
        pass

    async def rested(self):
        pass

    async def write_at(self, offset, data):
        self.writes.append((self.clock.now_s(), offset, len(data)))
        took_s, number = await self._take(len(data), self.write_fails)
        if number is None:
            self.kept[offset : offset + len(data)] = data
        return Transfer(None, took_s, number, "direct")

    async def read_at(self, offset, length):
        self.reads.append((self.clock.now_s(), offset, length))
        took_s, number = await self._take(length, lambda now_s: None)
        data = bytes(self.kept[offset : offset + length])
        if number is not None:
            return Transfer(None, took_s, number, self.path)
        return Transfer(self.spoil(data, offset), took_s, None, self.path)

    async def _take(self, length, more):
        now_s = self.clock.now_s()
        if (found := self.fails(now_s) or more(now_s)) is not None:
            await trio.sleep(0.05)
            if isinstance(found, Exception):
                raise found
            return 0.05, found
        took_s = length / self.speed
        await trio.sleep(took_s + self.rest_s)
        return took_s, self.fails(now_s + took_s)


class BenchOfOneStick:
    """All that the check may touch: a clock, a random stream, one stick."""

    def __init__(self, clock, stick, seed=1):
        self.clock, self.random = clock, np.random.default_rng(seed)
        self._stick = stick

    def stick(self, name="stick"):
        assert name == "stick"
        return self._stick


def place(path="through", port="usb1"):
    """Return where the check runs."""
    return placed("night", {"stick": {"port": port, "path": path}}, SHEET)


def values(said, what):
    """Return the readings of one quantity."""
    name = f"transfer.stick.{what}"
    return [
        record.value for record in said if isinstance(record, Reading) and record.quantity == name
    ]


def marks(said, what):
    """Return the details of the marks of one kind."""
    return [record.detail for record in said if isinstance(record, Mark) and record.what == what]


def states(said):
    """Return the states in order."""
    return [record for record in said if isinstance(record, State)]
