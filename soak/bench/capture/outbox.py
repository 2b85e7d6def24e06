"""The child's bounded queue to its parent: a parent that does not read must not make it grow."""

import contextlib
import threading
from collections import deque
from collections.abc import Sequence
from typing import IO

from soak.bench.capture.words import Word
from soak.bench.child_end import send
from soak.records import Reading, State
from soak.roles import Seen

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
            kept = [one for one in word.seen if self._has_room(one)]
            last = self._words[-1] if self._words else None
            if last is not None and last.kind == word.kind == "seen":
                last.seen += kept
                last.last_s, last.dropped = word.last_s, self.dropped
            else:
                word.seen, word.dropped = kept, self.dropped
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
        for one in written:
            if isinstance(one, State):
                self._states -= 1
            elif isinstance(one, Reading):
                self._readings -= 1
            else:
                self._evidence_bytes -= len(one[1])

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
