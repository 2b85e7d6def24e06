"""Watching one source within a capture's child process, reopening it when it is lost."""

import threading
from collections.abc import Sequence

from soak.bench.capture.again import asked_again
from soak.bench.capture.outbox import Outbox
from soak.bench.capture.picture_reader import PictureReader
from soak.bench.capture.video_stream import CannotOpen, Stream
from soak.bench.capture.words import (
    BATCH_S,
    FIRST_PAUSE_S,
    LONGEST_PAUSE_S,
    WELL_AFTER_S,
    Job,
    Word,
)
from soak.bench.standstill import Standstills
from soak.clock import BootClock, boot_time_s
from soak.records import State
from soak.roles import BlindWatcher, Seen, Watcher
from soak.states import BLIND

_BEAT_S = 1.0


class Watching:
    """Reads one source for one watcher until the parent is gone.

    Parameters
    ----------
    stream : Stream
        Opened already.
    ended : threading.Event
        Set when the parent is gone.
    """

    def __init__(
        self, job: Job, watcher: Watcher, stream: Stream, outbox: Outbox, ended: threading.Event
    ) -> None:
        self._job, self._watcher, self._outbox, self._ended = job, watcher, outbox, ended
        self._stream: Stream | None = stream
        self._identity = stream.identity
        self._clock = BootClock(boot_time_s() - job.boot_s_at_zero)
        self._last_s = self._clock.now_s()
        self._standstills = Standstills(self._clock.now_s)

    def run(self) -> None:
        """Watch; return when the parent is gone or a file has ended."""
        pause_s = FIRST_PAUSE_S
        self._standstills.watch()
        while not self._ended.is_set():
            began_s = self._last_s = self._clock.now_s()
            why = self._open_again() if self._stream is None else ""
            if self._stream is not None:
                why = self._read(self._stream)
            if self._ended.is_set():
                break
            self._tell(self._blinded(why))
            if self._job.is_file:
                self._outbox.put(Word("ended", why=why))
                break
            self._close()
            if self._last_s - began_s > WELL_AFTER_S:
                pause_s = FIRST_PAUSE_S
            self._pause(pause_s)
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
        self._close()

    def _read(self, stream: Stream) -> str:
        """Read until the source is lost; return why it is."""
        job = self._job
        reader = PictureReader(
            stream,
            self._watcher,
            self._clock,
            paced=job.paced,
            again=(lambda: job.opener(job.asked)) if job.again else None,
            is_file=job.is_file,
            silent_limit_s=job.silent_limit_s,
            stood_s=self._standstills.stood_s,
        )
        why = ""
        while not why and not self._ended.is_set() and not self._outbox.broken:
            try:
                why = reader.read_for(BATCH_S)
            finally:  # what was seen before the watcher broke is told
                self._stream, self._last_s = reader.stream, reader.last_s
                self._tell(reader.take_seen())
        return why

    def _tell(self, seen: Sequence[Seen]) -> None:
        self._outbox.put(Word("seen", list(seen), self._last_s))

    def _blinded(self, why: str) -> Sequence[Seen]:
        if isinstance(self._watcher, BlindWatcher):
            return self._watcher.blind(self._last_s, why)
        return (State(self._last_s, self._job.name, BLIND, detail={"why": why}),)

    def _open_again(self) -> str:
        """Open the source again; return why not, '' if it is open."""
        self._busy()
        try:
            self._stream = self._job.opener(asked_again(self._job.asked, self._identity))
        except CannotOpen as fault:
            return str(fault)
        return ""

    def _close(self) -> None:
        stream, self._stream = self._stream, None
        if stream is not None:
            self._busy()
            stream.close()

    def _busy(self) -> None:
        self._outbox.put(Word("busy", last_s=self._last_s))

    def _pause(self, pause_s: float) -> None:
        until_s = self._clock.now_s() + pause_s
        while (left_s := until_s - self._clock.now_s()) > 0:
            self._tell(())
            if self._ended.wait(min(left_s, _BEAT_S)):
                return
