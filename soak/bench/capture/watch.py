"""Watching one source within a capture's child process, reopening it when it is lost."""

import contextlib
import threading
from collections import deque
from collections.abc import Sequence
from typing import IO

from soak.bench.capture.again import asked_again
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
from soak.bench.child_end import send
from soak.bench.standstill import Standstills
from soak.clock import BootClock, boot_time_s
from soak.errors import told_of
from soak.marks import StateSaid, state_of
from soak.records import Reading, State
from soak.roles import BlindWatcher, Seen, Watcher
from soak.states import BLIND
from soak.words import NOTHING_SAID, Message

MOST_EVIDENCE_BYTES = 16_000_000
"""Evidence frames that may wait, bytes: some hundred JPEG pictures of 1080 rows."""
MOST_READINGS = 10_000
MOST_STATES = 50_000
"""States are never dropped; while so many wait, no picture is read: that time is blind."""


class Outbox:
    """Takes words without waiting and writes them to the pipe from its own thread.

    While the parent does not read, words without news melt into one, evidence frames are dropped
    first and readings next, both counted; states never.

    Parameters
    ----------
    pipe : file object
        Where to write to.

    Attributes
    ----------
    dropped : int
        Evidence frames and readings dropped.
    """

    def __init__(self, pipe: IO[bytes]) -> None:
        self._pipe = pipe
        self._words: deque[Word] = deque()
        self._evidence_bytes = self._readings = self._states = 0
        self._writing = self._broken = False
        self.dropped = 0
        self._changed = threading.Condition()
        threading.Thread(target=self._write, daemon=True).start()

    @property
    def broken(self) -> bool:
        """Whether nobody is at the other end any more."""
        return self._broken

    def put(self, word: Word) -> None:
        """Take a word; wait only where too many states wait."""
        with self._changed:
            kept = [seen for seen in word.seen if self._has_room(seen)]
            last = self._words[-1] if self._words else None
            if last is not None and last.kind == word.kind == "seen":
                last.seen += kept
                last.last_s = word.last_s
                last.dropped = self.dropped
            else:
                word.seen = kept
                word.dropped = self.dropped
                self._words.append(word)
            self._changed.notify_all()
            self._changed.wait_for(lambda: self._states < MOST_STATES or self._broken)

    def flush(self, limit_s: float) -> None:
        """Wait for at most `limit_s` until all has been written."""
        with self._changed:
            self._changed.wait_for(
                lambda: self._broken or not (self._words or self._writing), limit_s
            )

    def _has_room(self, one: Seen) -> bool:
        """Count what waits; tell whether this may."""
        if isinstance(one, State):
            self._states += 1
            return True
        if isinstance(one, Reading):
            fits = self._readings < MOST_READINGS
            self._readings += fits
        else:
            size_bytes = len(one[1])
            fits = self._evidence_bytes + size_bytes <= MOST_EVIDENCE_BYTES
            self._evidence_bytes += size_bytes if fits else 0
        self.dropped += not fits
        return fits

    def _forget(self, written: Sequence[Seen]) -> None:
        for name in written:
            if isinstance(name, State):
                self._states -= 1
            elif isinstance(name, Reading):
                self._readings -= 1
            else:
                self._evidence_bytes -= len(name[1])

    def _write(self) -> None:
        while not self._broken:
            with self._changed:
                self._changed.wait_for(lambda: bool(self._words))
                word = self._words.popleft()
                self._writing = True
            try:
                send(self._pipe, word)
            except OSError:  # nobody reads any more: the child ends soon
                self._broken = True
                with contextlib.suppress(OSError):
                    self._pipe.close()
            with self._changed:
                self._writing = False
                self._forget(word.seen)
                self._changed.notify_all()


_BEAT_S = 1.0
"""A pause is slept in pieces of so long, with a heartbeat between, s. Our own choice."""


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
        self._job = job
        self._watcher = watcher
        self._outbox = outbox
        self._ended = ended
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
            why = self._open_again() if self._stream is None else NOTHING_SAID
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

    def _read(self, stream: Stream) -> Message:
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
        why = NOTHING_SAID
        while not why and not self._ended.is_set() and not self._outbox.broken:
            try:
                why = reader.read_for(BATCH_S)
            finally:  # what was seen before the watcher broke is told
                self._stream = reader.stream
                self._last_s = reader.last_s
                self._tell(reader.take_seen())
        return why

    def _tell(self, seen: Sequence[Seen]) -> None:
        self._outbox.put(Word("seen", list(seen), self._last_s))

    def _blinded(self, why: Message) -> Sequence[Seen]:
        if isinstance(self._watcher, BlindWatcher):
            return self._watcher.blind(self._last_s, why)
        return (state_of(self._last_s, self._job.name, BLIND, StateSaid(why=why)),)

    def _open_again(self) -> Message:
        """Open the source again; return why not, '' if it is open."""
        self._busy()
        try:
            self._stream = self._job.opener(asked_again(self._job.asked, self._identity))
        except CannotOpen as fault:
            return told_of(fault)
        return NOTHING_SAID

    def _close(self) -> None:
        stream = self._stream
        self._stream = None
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
