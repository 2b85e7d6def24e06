"""Capture through OpenCV: a camera or capture card, a video file, or a stream's address.

Pictures are looked at in a child process of each capture, where they arrive; only what was seen
comes from there. A card that fails or hangs goes `blind`, its process or handle is given up, and
it is opened again with growing pauses, under whatever number it has by then.
"""

import contextlib
from collections.abc import AsyncIterator, Sequence
from typing import Annotated, Literal

import trio
from pydantic import Field

from soak.bench.capture.again import asked_again
from soak.bench.capture.child import ChildCapture
from soak.bench.capture.picture_reader import PictureReader
from soak.bench.capture.video_stream import (
    Asked,
    CannotOpen,
    Stream,
    check_file,
    kind_of_source,
    open_stream,
)
from soak.bench.capture.words import (
    BATCH_S,
    FIRST_PAUSE_S,
    LONGEST_PAUSE_S,
    WELL_AFTER_S,
    Job,
)
from soak.bench.registry import Tools, driver
from soak.clock import boot_time_s
from soak.errors import BenchFault, told_of
from soak.frozen.wiring import CaptureWired, Claim
from soak.marks import StateSaid, state_of
from soak.records import Json
from soak.roles import BlindWatcher, Capture, Seen, Watcher
from soak.settings import Seconds
from soak.states import BLIND
from soak.words import NOTHING_SAID, Message, msg

_MARGIN_S = 2.0
"""So much longer than its own limits the process that reads may take to say a word, s. Our own
choice."""


class OpenCvWired(CaptureWired):
    """A capture through OpenCV.

    Attributes
    ----------
    source : str
        A device (`"/dev/v4l/by-id/..."`, `"/dev/video0"`, `"0"`), a video file, or an address
        (`"rtsp://..."`).
    size : two int or None
        Width and height in pixels to ask of a device.
    rate_hz : float or None
        Pictures a second to ask of a device.
    pace : str
        A file in `real time` by its own frame times, or as `fast` as it can be read.
    at_end : str
        After a file's end: `blind`, or play it `again`.
    open_limit_s : float
        Longest time to open the source, s.
    read_limit_s : float
        Longest time to wait for a picture, s.
    reopen_after_s : float
        A card that has delivered nothing for so long is closed and opened again, s. Not too
        short: some cards deliver nothing while the unit is off.
    in_process : bool
        Read it within this program: cheaper, but a driver that hangs for good leaves a thread
        behind, and a crash in it ends the soak.
    """

    driver: Literal["opencv"]
    source: str = Field(min_length=1)
    size: Sequence[Annotated[int, Field(ge=1, le=65535)]] | None = Field(
        default=None, min_length=2, max_length=2
    )
    rate_hz: float | None = Field(default=None, gt=0, le=1000)
    pace: Literal["real time", "fast"] = "real time"
    at_end: Literal["blind", "again"] = "blind"
    open_limit_s: Seconds = Field(default=10.0, gt=0, le=120)
    read_limit_s: Seconds = Field(default=2.0, ge=1, le=60)
    reopen_after_s: Seconds = Field(default=120.0, gt=0)
    in_process: bool = False

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.source),) if kind_of_source(self.source) == "device" else ()

    def asked(self) -> Asked:
        """Return what is asked of the source."""
        size = None if self.size is None else (self.size[0], self.size[1])
        return Asked(
            self.source,
            size,
            self.rate_hz,
            open_limit_s=self.open_limit_s,
            read_limit_s=self.read_limit_s,
        )


class OpenCvCapture:
    """Fills `roles.Capture` within this process.

    Parameters
    ----------
    stream : Stream
        Opened already.
    """

    def __init__(self, name: str, wired: OpenCvWired, tools: Tools, stream: Stream) -> None:
        self._name = name
        self._wired = wired
        self._tools = tools
        self._stream: Stream | None = stream
        self._identity = stream.identity
        self._is_file = kind_of_source(wired.source) == "file"
        self._closed = False
        self.opened = 1

    @property
    def identity(self) -> Json:
        return self._identity

    async def watch(self, watcher: Watcher) -> AsyncIterator[Seen]:
        pause_s = FIRST_PAUSE_S
        while not self._closed:
            began_s = self._tools.clock.now_s()
            why = NOTHING_SAID if self._stream else await self._open_again()
            since_s = began_s
            if self._stream is not None:
                reader = self._reader(self._stream, watcher)
                try:
                    while not why:
                        why = await self._batch(reader)
                        for seen in reader.take_seen():
                            yield seen
                finally:
                    reader.abandon()
                since_s = reader.last_s
            for seen in self._blinded(watcher, since_s, why):
                yield seen
            if self._is_file:
                await trio.sleep_forever()  # the clip has ended, or it cannot be read any more
            await self._give_up()
            if self._tools.clock.now_s() - began_s > WELL_AFTER_S:
                pause_s = FIRST_PAUSE_S
            await trio.sleep(pause_s)
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)

    def _reader(self, stream: Stream, watcher: Watcher) -> PictureReader:
        wired = self._wired
        return PictureReader(
            stream,
            watcher,
            self._tools.clock,
            paced=self._is_file and wired.pace == "real time",
            again=self._reopened_file if self._is_file and wired.at_end == "again" else None,
            is_file=self._is_file,
            silent_limit_s=wired.reopen_after_s,
        )

    def _reopened_file(self) -> Stream:
        return open_stream(self._wired.asked())

    async def _batch(self, reader: PictureReader) -> Message:
        """Read for a while; return why reading has ended, '' if it goes on."""
        limit_s = BATCH_S + self._wired.read_limit_s + _MARGIN_S
        try:
            why = await self._tools.off_loop.call(limit_s, reader.read_for, BATCH_S)
        except TimeoutError:
            reader.abandon()
            self._stream = None  # the hung thread still holds it; another handle is made
            return msg("the capture hangs; its handle was given up and it is opened again")
        self._stream = reader.stream
        return why

    def _blinded(self, watcher: Watcher, since_s: float, why: Message) -> Sequence[Seen]:
        """Say blind from the last picture on: what came after it nobody saw."""
        if isinstance(watcher, BlindWatcher):
            return watcher.blind(since_s, why)
        return (state_of(since_s, self._name, BLIND, StateSaid(why=why)),)

    async def _open_again(self) -> Message:
        """Open the source again by the name that stays; return why not, '' if it is open."""
        self.opened += 1
        limit_s = self._wired.open_limit_s + _MARGIN_S
        try:
            asked = asked_again(self._wired.asked(), self._identity)
            self._stream = await self._tools.off_loop.call(limit_s, open_stream, asked)
        except CannotOpen as fault:
            return told_of(fault)
        except TimeoutError:
            return msg(
                "{source} does not open; unplug the card and plug it in again",
                source=str(asked.source),
            )
        return NOTHING_SAID

    async def _give_up(self) -> None:
        stream = self._stream
        self._stream = None
        if stream is not None:
            with contextlib.suppress(TimeoutError):  # a handle that does not close is left behind
                await self._tools.off_loop.call(_MARGIN_S, stream.close)

    async def aclose(self) -> None:
        self._closed = True
        await self._give_up()


@driver("capture", "opencv", OpenCvWired)
async def open_opencv(name: str, wired: OpenCvWired, tools: Tools) -> Capture:
    """Open a capture through OpenCV."""
    try:
        if wired.in_process:
            limit_s = wired.open_limit_s + _MARGIN_S
            stream = await tools.off_loop.call(limit_s, open_stream, wired.asked())
            return OpenCvCapture(name, wired, tools, stream)
        is_file = kind_of_source(wired.source) == "file"
        if is_file:
            check_file(wired.source)  # what is known here needs no process
        job = Job(
            name,
            wired.asked(),
            open_stream,
            boot_time_s() - tools.clock.now_s(),
            is_file=is_file,
            paced=is_file and wired.pace == "real time",
            again=is_file and wired.at_end == "again",
            silent_limit_s=wired.reopen_after_s,
        )
        capture = ChildCapture(job, tools, wired.read_limit_s)
        await capture.open()
    except CannotOpen as fault:
        raise BenchFault(name, told_of(fault)) from None
    except TimeoutError:
        raise BenchFault(
            name, msg("{source} does not open; unplug it and try again", source=wired.source)
        ) from None
    return capture
