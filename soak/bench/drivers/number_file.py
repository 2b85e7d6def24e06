"""Probe: a file that holds a number, such as the kernel's `/sys/class/hwmon/.../temp1_input`."""

from collections.abc import AsyncIterator, Sequence
from pathlib import Path
from typing import Literal

import trio
from pydantic import Field, field_validator

from soak.bench import nature
from soak.bench.host.patterns import fitting_files
from soak.bench.probe_settings import Pace, Polled
from soak.bench.readings import Refused, as_number, shown, watched
from soak.bench.registry import Tools, driver
from soak.errors import BenchFault, told_of
from soak.frozen.wiring import Claim
from soak.natures import Nature
from soak.records import Json, Reading, State
from soak.roles import OffLoop
from soak.settings import Seconds
from soak.words import Number, msg

_LONGEST_BYTES = 64


class NumberFile(Polled):
    """Settings of a number file.

    Attributes
    ----------
    file : str
        Its path; `*` may stand for what changes from boot to boot, if exactly one file fits.
    scale : float
        What the number is multiplied by; the kernel's thermometers give millidegrees, 0.001.
    needs_line_end : bool
        Refuse a number without a line end: another program may have written only half of it.
    changes_within_s : float or None
        A file that no program has written for so long is stale, s; for the kernel's, leave it out.
    """

    driver: Literal["number_file"]
    file: str = Field(min_length=1)
    scale: float = 1.0
    needs_line_end: bool = True
    changes_within_s: Seconds | None = Field(default=None, gt=0)

    @field_validator("scale")
    @classmethod
    def _keeps_the_number(cls, scale: float) -> float:
        if scale == 0:
            raise ValueError("would make every reading 0")
        return scale

    def claims(self) -> Sequence[Claim]:
        return ()  # reading takes nothing away from anyone


def parse(data: bytes, wired: NumberFile) -> float:
    """Return the value of what the file holds, in the probe's measurement unit.

    Raises
    ------
    Refused
        If it is not one number alone, or has no line end.
    """
    if len(data) > _LONGEST_BYTES:
        raise Refused(msg("the file holds more than a number: {data}", data=shown(data)))
    if wired.needs_line_end and not data.endswith(b"\n"):
        raise Refused(
            msg("the file holds {data} without a line end, perhaps only half", data=shown(data))
        )
    return as_number(str(as_number(data.decode("latin-1")) * wired.scale))


def _read(pattern: str) -> tuple[bytes, int]:
    """Return what the one file that fits holds and when it was written, ns. For a thread."""
    path = _the_file(pattern)
    with path.open("rb") as stream:
        return stream.read(_LONGEST_BYTES + 1), path.stat().st_mtime_ns


def _the_file(pattern: str) -> Path:
    paths = fitting_files(pattern)
    if len(paths) != 1:
        which = ", ".join(map(str, paths)) or "none"
        raise FileNotFoundError(f"{len(paths)} files fit {pattern}: {which}")
    return paths[0]


def _nature(pattern: str) -> Nature:
    return nature.of_number_file(_the_file(pattern))


class FileProbe:
    """A probe that reads a file again and again."""

    def __init__(self, name: str, wired: NumberFile, off_loop: OffLoop) -> None:
        self._name = name
        self._wired = wired
        self._off_loop = off_loop
        self._pace = Pace(wired.every_s)
        self._changed_at_s = trio.current_time()
        self._written_ns = 0
        self._nature = Nature.UNKNOWN

    @property
    def identity(self) -> Json:
        return {"driver": self._wired.driver, "nature": self._nature, "file": self._wired.file}

    def readings(self) -> AsyncIterator[Reading | State]:
        return watched(self._name, self._wired.silent_after_s, self._take)

    async def begin(self) -> None:
        """Read the file once and find out what it is.

        Raises
        ------
        BenchFault
            If it cannot be read.
        """
        await self.read()
        limit_s = self._wired.silent_after_s
        self._nature = await self._off_loop.call(limit_s, _nature, self._wired.file)

    async def read(self) -> bytes:
        """Return what the file holds.

        Raises
        ------
        BenchFault
            If it cannot be read.
        """
        try:
            data, written_ns = await self._off_loop.call(
                self._wired.silent_after_s, _read, self._wired.file
            )
        except FileNotFoundError as fault:
            what = str(fault) if fault.errno is None else f"there is no file {self._wired.file}"
            raise BenchFault(
                self._name, msg("{what}; correct `file` or plug it in", what=what)
            ) from None
        except (OSError, ValueError) as fault:
            raise BenchFault(
                self._name,
                msg("{file} cannot be read: {why}", file=self._wired.file, why=told_of(fault)),
            ) from None
        if written_ns != self._written_ns:
            self._written_ns = written_ns
            self._changed_at_s = trio.current_time()
        return data

    async def _take(self) -> float:
        await self._pace.next()
        value = parse(await self.read(), self._wired)
        stale_s = self._wired.changes_within_s
        if stale_s is not None and trio.current_time() - self._changed_at_s > stale_s:
            raise Refused(
                msg(
                    "nothing has been written to {file} for {stale_s} s",
                    file=self._wired.file,
                    stale_s=Number(stale_s, "g"),
                )
            )
        return value

    async def aclose(self) -> None:
        await trio.lowlevel.checkpoint()


@driver("probe", "number_file", NumberFile)
async def open_number_file(name: str, wired: NumberFile, tools: Tools) -> FileProbe:
    """Read the file once, so that a wrong path is found before anything starts."""
    probe = FileProbe(name, wired, tools.off_loop)
    await probe.begin()
    return probe
