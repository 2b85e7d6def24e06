"""A medium, written and read past the system's caches. Runs in a child process.

The page cache is the trap of every such test: what was just written is read back from the host's
memory, and a dead contact goes unnoticed. Reads therefore go past the cache where the medium
allows it. Else it is flushed, its pages dropped, opened anew, and the kernel is asked whether any
page is left: only then the read is `reopened`, otherwise `maybe cached`.

Only the standard library is imported, so that the child is up quickly.
"""

import errno
import mmap
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

from soak.bench.stick.folder import BLOCK_BYTES
from soak.bench.stick.uncached import Medium

FRESH_S = 0.25
"""What was read ahead is used for so long; a pause longer than that ends reading ahead. Our own
choice."""

PARTS = 3
"""Shared memory is a part for what is written and two in turn for what is read."""

_MAYBE = "maybe cached"
_REOPENED = "reopened"
_PAST = "direct"


class Order(Protocol):
    """Says what to open, and opens it in the child; must pickle."""

    def open(self) -> tuple[Medium, dict[str, Any]]:
        """Open the medium; return it with what it is as plain JSON.

        Raises
        ------
        Refused
            If it cannot be used at all.
        OSError
            If the medium that was ordered is not there (ENODEV).
        """
        ...


@dataclass(frozen=True, slots=True)
class Came:
    """What came of one read or write; `data` is None where it lies in shared memory, at `at`.

    `waited_s` is for how long something here waited for a processor meanwhile.
    """

    took_s: float
    errno: int | None
    got_bytes: int
    path: str
    data: bytes | None = None
    at: int = 0
    waited_s: float = 0.0


@dataclass
class _Held:
    medium: Medium
    buffers: dict[str, mmap.mmap] = field(default_factory=dict)
    ahead: "_Ahead | None" = None
    next_offset: int = -1
    answered_s: float = -1.0
    owed: "dict[tuple[str, int, int], Came]" = field(default_factory=dict)
    """Reads ahead that failed and were dropped: who asks for such a place is told."""


class _Ahead:
    """The next piece, read while the parent looks at the last one.

    Only while pieces are asked for one after another without a pause; what was read too long
    before it is asked for is dropped and read anew, so that it speaks of now.
    """

    def __init__(
        self,
        held: _Held,
        asked: tuple[str, int, int],
        part: int,
        after: "_Ahead | None" = None,
    ) -> None:
        self.asked = asked
        self.part = part
        self._after = after
        self.came: Came | None = None
        self._ended_s = 0.0
        self._thread = threading.Thread(target=self._run, args=(held,), daemon=True)
        self._thread.start()

    def _run(self, held: _Held) -> None:
        after = self._after
        self._after = None
        if after is not None and not after.went_well():
            return
        self.came = _read(held, *self.asked, self.part)
        self._ended_s = time.monotonic()

    def went_well(self) -> bool:
        """Wait for its end; return whether all that was asked for came."""
        self._thread.join()
        came = self.came
        return came is not None and came.errno is None and came.got_bytes == self.asked[2]

    def finish(self) -> Came | None:
        """Wait for its end; return what came if it is fresh; a failure was one at any time."""
        self._thread.join()
        fresh = time.monotonic() - self._ended_s < FRESH_S
        return self.came if fresh or self.failed else None

    @property
    def failed(self) -> bool:
        """Whether it ended with an error."""
        return self.came is not None and self.came.errno is not None


_held: _Held | None = None


def open_medium(order: Order) -> dict[str, Any]:
    """Open the medium; return what it is as plain JSON. Raises as the order does."""
    global _held
    close_medium()
    medium, identity = order.open()
    _held = _Held(medium)
    return identity


def close_medium() -> None:
    """Let go of the medium; twice is safe."""
    global _held
    held = _held
    _held = None
    if held is not None:
        _finish_ahead(held)
        held.medium.close()


def write_medium(shared: str, offset: int, length: int, data: bytes | None) -> Came:
    """Write and flush to the medium; `took_s` is that alone."""
    held = _have()
    medium = held.medium
    _finish_ahead(held)
    held.next_offset = -1
    view = _view(held, shared, length, 0)
    if data is not None:
        view[:] = data
    begin_s = time.monotonic()
    done = 0
    try:
        while done < length:
            done += medium.write_from(view[done:], medium.base_bytes + offset + done)
        medium.flush()
    except OSError as fault:
        return Came(time.monotonic() - begin_s, fault.errno or errno.EIO, done, _PAST)
    return Came(time.monotonic() - begin_s, None, done, _PAST)


def read_medium(shared: str, offset: int, length: int) -> Came:
    """Read from the medium; `took_s` is that alone."""
    held = _have()
    asked = (shared, offset, length)
    if owed := held.owed.pop(asked, None):
        _finish_ahead(held)
        return owed
    goes_on = offset == held.next_offset and time.monotonic() - held.answered_s < FRESH_S
    ahead = held.ahead
    held.ahead = None
    part = ahead.part if ahead is not None else 1
    following = None
    came = None
    if ahead is not None and ahead.asked == asked and goes_on:
        # The parent has done with the other part: the next piece begins as soon as this one ends.
        following = _Ahead(held, (shared, offset + length, length), PARTS - part, ahead)
    if ahead is not None:
        came = ahead.finish()
    if came is None or ahead is None or ahead.asked != asked:
        for dropped in (ahead, following):
            _drop(held, dropped)
        came = _read(held, *asked, part)
        following = None
    if came.errno is not None or came.got_bytes != length:
        following = None
    elif following is None and goes_on and shared and held.medium.direct:
        following = _Ahead(held, (shared, offset + length, length), PARTS - part)
    held.ahead = following
    held.next_offset = offset + length
    held.answered_s = time.monotonic()
    return came


def _finish_ahead(held: _Held) -> None:
    ahead = held.ahead
    held.ahead = None
    _drop(held, ahead)


def _drop(held: _Held, ahead: _Ahead | None) -> None:
    """Wait for what is not used; that it failed is kept for who asks for that place."""
    if ahead is None:
        return
    came = ahead.finish()
    if came is not None and ahead.failed:
        held.owed[ahead.asked] = came


def _read(held: _Held, shared: str, offset: int, length: int, part: int) -> Came:
    medium = held.medium
    view = _view(held, shared, length, part)
    begin = medium.base_bytes + offset
    path = _PAST if medium.direct else _MAYBE
    waited_s = waited_so_far_s()
    begin_s = time.monotonic()
    done = 0
    try:
        if not medium.direct:
            path = _REOPENED if medium.drop(begin, length) else _MAYBE
            waited_s = waited_so_far_s()
            begin_s = time.monotonic()
        while done < length:
            got = medium.read_into(view[done:], begin + done)
            done += got
            if not got or got % BLOCK_BYTES:
                break
    except OSError as fault:
        return Came(time.monotonic() - begin_s, fault.errno or errno.EIO, done, path)
    took_s = time.monotonic() - begin_s
    waited_s = waited_so_far_s() - waited_s
    path = _MAYBE if medium.why_cached else path
    at = part * (len(held.buffers[shared]) // PARTS)
    return Came(
        took_s,
        None,
        done,
        path=path,
        data=None if shared else bytes(view[:done]),
        at=at,
        waited_s=waited_s,
    )


def _have() -> _Held:
    if _held is None:
        raise OSError(errno.ENODEV, "the stick is not open")
    return _held


def _view(held: _Held, shared: str, length: int, part: int) -> memoryview:
    """Return page-aligned memory: the parent's own where the system lets us map it.

    `shared` is a number that changes with the memory, a colon, and its path; empty: memory of
    this process.
    """
    buffer = held.buffers.get(shared)
    if buffer is None or len(buffer) < PARTS * length:
        held.buffers.clear()
        if shared:
            with Path(shared.partition(":")[2]).open("r+b", buffering=0) as file:
                buffer = mmap.mmap(file.fileno(), 0)
        else:
            buffer = mmap.mmap(-1, PARTS * length)
        held.buffers[shared] = buffer
    begin = part * (len(buffer) // PARTS)
    return memoryview(buffer)[begin : begin + length]


PRESSURE = Path("/proc/pressure/cpu")


def waited_so_far_s() -> float:
    """Return the time since the system began, s; 0 where it keeps no count of it."""
    try:
        line = PRESSURE.read_text("ascii").partition("\n")[0]
    except OSError:
        return 0.0
    what, _, count = line.rpartition("total=")
    return int(count) / 1e6 if what.startswith("some") and count.isdigit() else 0.0
