"""The simulated stick: the storage that a unit's service port shows as a drive."""

import errno
from typing import Literal

import numpy as np
import trio
from pydantic import Field

from soak.clock import SoakClock
from soak.frozen.wiring import StickWired
from soak.natures import Nature
from soak.records import Json
from soak.roles import Transfer
from soak.settings import Seconds
from soak.sim.chance import stream
from soak.sim.played import played
from soak.sim.unit import SimulatedUnit

BLOCK_BYTES = 4096
JITTER = 0.03
"""Standard deviation of the logarithm of a transfer's speed."""
GONE_S = 1.0
"""So long the host tries before it says that the drive is gone, s."""


class StickSimulated(StickWired):
    """Settings of the simulated stick.

    Attributes
    ----------
    size_bytes : int
        Bytes it may be filled with.
    rest_s_per_byte : float
        Rest between two transfers for each byte of the first, not part of either's duration, s/B.
        A simulated night would otherwise move as many real bytes as a real one.
    """

    driver: Literal["simulated"]
    size_bytes: int = Field(default=128 << 10, ge=BLOCK_BYTES, le=1 << 30, multiple_of=BLOCK_BYTES)
    rest_s_per_byte: Seconds = Field(default=3e-5, ge=0, le=1)


class SimulatedStick:
    """Keeps what is written; damages what is read as the scene says.

    With the path `through` it is there only while the unit is started and the contact closed;
    with `bench_only` the unit has no part in it and cannot damage anything.
    """

    def __init__(self, wired: StickSimulated, clock: SoakClock, unit: SimulatedUnit) -> None:
        self._wired = wired
        self._clock = clock
        self._unit = unit
        self._kept = bytearray(wired.size_bytes)
        self._through = wired.path == "through"
        chance = stream(unit.seed, "stick speed")
        self._jitter = np.exp(chance.normal(0.0, JITTER, 1024))
        self._ended_s = 0.0
        self._rests_until_s = 0.0

    @property
    def identity(self) -> Json:
        """What it is."""
        return {"driver": "simulated", "nature": Nature.SIMULATED, "scene": self._unit.scene.name}

    @property
    def size_bytes(self) -> int:
        """Bytes it may be filled with."""
        return self._wired.size_bytes

    @property
    def block_bytes(self) -> int:
        """Offsets and lengths are multiples of this."""
        return BLOCK_BYTES

    async def rested(self) -> None:
        if self._there(self._clock.now_s()):
            await trio.sleep_until(self._rests_until_s)

    async def write_at(self, offset: int, data: bytes) -> Transfer:
        if offset + len(data) > self.size_bytes:
            return Transfer(None, 0.0, errno.ENOSPC, "direct")
        speed = self._unit.scene.data.write_bytes_per_s
        took_s, error = await self._cross(len(data), speed)
        if error is None:
            self._kept[offset : offset + len(data)] = data
        return Transfer(None, took_s, error, "direct")

    async def read_at(self, offset: int, length: int) -> Transfer:
        if offset + length > self.size_bytes:
            return Transfer(None, 0.0, errno.EINVAL, "direct")
        since_s = self._ended_s  # what befell the link in a rest shows in the read after it
        took_s, error = await self._cross(length, self._unit.scene.data.read_bytes_per_s)
        if error is not None:
            return Transfer(None, took_s, error, "direct")
        data = bytes(self._kept[offset : offset + length])
        if self._through and self._unit.damaged(since_s, self._clock.now_s()):
            if self._unit.scene.data.kind == "errors":
                return Transfer(None, took_s, errno.EIO, "direct")
            data = self._damage(data, offset)
        return Transfer(data, took_s, None, "direct")

    async def aclose(self) -> None:
        pass

    async def _cross(self, length: int, bytes_per_s: float) -> tuple[float, int | None]:
        """Let a transfer take its time; return duration in s and error number."""
        begin_s = self._clock.now_s()
        if not self._there(begin_s):
            await trio.sleep(GONE_S)
            return GONE_S, errno.ENODEV
        if self._through and self._unit.fallen(begin_s):
            bytes_per_s = min(bytes_per_s, self._unit.scene.data.fallen_bytes_per_s)
        jitter = float(self._jitter[int(begin_s) % len(self._jitter)])
        took_s = length / (bytes_per_s * jitter)
        await trio.sleep(took_s)
        self._ended_s = self._clock.now_s()
        self._rests_until_s = self._ended_s + length * self._wired.rest_s_per_byte
        return took_s, None if self._there(begin_s + took_s) else errno.EIO

    def _there(self, t_s: float) -> bool:
        return not self._through or self._unit.connected(self._wired.port, t_s)

    def _damage(self, data: bytes, offset: int) -> bytes:
        """Damage a read; what and where depends on its time and place, not on earlier reads."""
        chance = stream(self._unit.seed, "damage", offset + (int(self._clock.now_s()) << 32))
        kind = self._unit.scene.data.kind
        wrong = bytearray(data)
        if kind == "flips":
            for bit in chance.integers(0, 8 * len(wrong), int(chance.integers(1, 9))):
                wrong[int(bit) // 8] ^= 1 << (int(bit) % 8)
            return bytes(wrong)
        at = int(chance.integers(0, len(wrong) // 512)) * 512
        elsewhere = (offset + at + self.size_bytes // 2) % self.size_bytes // 512 * 512
        stale = self._kept[elsewhere : elsewhere + 512]
        wrong[at : at + 512] = stale if kind == "stale" else bytes(512)
        return bytes(wrong)


@played(StickSimulated)
def open_stick(
    name: str, wired: StickSimulated, clock: SoakClock, unit: SimulatedUnit
) -> SimulatedStick:
    """Take the unit's stick."""
    return SimulatedStick(wired, clock, unit)
