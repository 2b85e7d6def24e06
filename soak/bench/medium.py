"""One file on a medium, written and read past the system's caches. Runs in a child process.

The page cache is the trap of every such test: what was just written is read back from the host's
memory, and a dead contact goes unnoticed. Reads therefore go past the cache (O_DIRECT) where the
file system sits on a block device and allows it. Else the file is flushed, its pages dropped, the
file opened anew, and the kernel is asked (mincore) whether any page is left: only then the read
is `reopened`, otherwise `maybe cached`.

Only the standard library is imported, so that the child is up quickly.
"""

import contextlib
import ctypes
import errno
import mmap
import os
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from soak.bench import mounts
from soak.bench.stick_folder import BLOCK_BYTES, DATA, FOLDER, SAFE, Refused, open_own

FRESH_S = 0.25
"""What was read ahead is used for so long; a pause longer than that ends reading ahead."""

PARTS = 3
"""Shared memory is a part for what is written and two in turn for what is read."""

_MAYBE, _REOPENED, _PAST = "maybe cached", "reopened", "direct"


@dataclass(frozen=True, slots=True)
class Order:
    """What to open.

    Attributes
    ----------
    folder : str
        Where the stick is mounted, or a folder on it.
    size_bytes : int
        How much may be filled.
    stick_id : str
        Open only the stick with this id; empty: whatever is there, and give it one.
    inside : str
        Path of the folder within its mount, to find it under another mount.
    vouched : tuple of str
        Kinds of file systems the operator vouches for.
    """

    folder: str
    size_bytes: int
    stick_id: str = ""
    inside: str = ""
    vouched: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Came:
    """What came of one read or write; `data` is None where it lies in shared memory, at `at`."""

    took_s: float
    errno: int | None
    got_bytes: int
    path: str
    data: bytes | None = None
    at: int = 0


@dataclass
class _Held:
    folder_fd: int
    data_fd: int
    direct: bool
    why_cached: str
    buffers: dict[str, mmap.mmap] = field(default_factory=dict)
    ahead: "_Ahead | None" = None
    next_offset: int = -1
    answered_s: float = -1.0


class _Ahead:
    """The next piece, read while the parent looks at the last one.

    Only while pieces are asked for one after another without a pause; what was read too long
    before it is asked for is dropped and read anew, so that it speaks of now.
    """

    def __init__(self, held: _Held, shared: str, offset: int, length: int, part: int) -> None:
        self.asked = (shared, offset, length)
        self.part = part
        self._came: Came | None = None
        self._ended_s = 0.0
        self._thread = threading.Thread(target=self._run, args=(held,), daemon=True)
        self._thread.start()

    def _run(self, held: _Held) -> None:
        self._came = _read(held, *self.asked, self.part)
        self._ended_s = time.monotonic()

    def finish(self) -> Came | None:
        """Wait for its end; return what came if it is fresh."""
        self._thread.join()
        return self._came if time.monotonic() - self._ended_s < FRESH_S else None


_held: _Held | None = None


def open_medium(order: Order) -> dict[str, Any]:
    """Open the medium; return what it is as plain JSON.

    Raises
    ------
    Refused
        If it cannot be used at all.
    OSError
        If the stick with the id is not there (ENODEV).
    """
    close_medium()
    places = [order.folder]
    if order.stick_id:
        places += _other_places(order)
    for place in places:
        try:
            return _open_at(place, order)
        except (OSError, Refused):
            if not order.stick_id:
                raise
    raise OSError(errno.ENODEV, "the stick is not there")


def close_medium() -> None:
    """Let go of the medium; twice is safe."""
    global _held
    held, _held = _held, None
    if held is not None:
        _finish_ahead(held)
        for descriptor in (held.data_fd, held.folder_fd):
            with contextlib.suppress(OSError):
                os.close(descriptor)


def write_medium(shared: str, offset: int, length: int, data: bytes | None) -> Came:
    """Write and flush to the medium; `took_s` is that alone."""
    held = _have()
    _finish_ahead(held)
    held.next_offset = -1
    view = _view(held, shared, length, 0)
    if data is not None:
        view[:] = data
    begin_s = time.monotonic()
    done = 0
    try:
        while done < length:
            done += os.pwritev(held.data_fd, [view[done:]], offset + done)
        os.fdatasync(held.data_fd)
    except OSError as fault:
        return Came(time.monotonic() - begin_s, fault.errno or errno.EIO, done, _PAST)
    return Came(time.monotonic() - begin_s, None, done, _PAST)


def read_medium(shared: str, offset: int, length: int) -> Came:
    """Read from the medium; `took_s` is that alone."""
    held = _have()
    goes_on = offset == held.next_offset and time.monotonic() - held.answered_s < FRESH_S
    ahead, held.ahead = held.ahead, None
    came = ahead.finish() if ahead is not None else None
    part = ahead.part if ahead is not None else 1
    if came is None or ahead is None or ahead.asked != (shared, offset, length):
        came = _read(held, shared, offset, length, part)
    if goes_on and came.errno is None and came.got_bytes == length and shared and held.direct:
        held.ahead = _Ahead(held, shared, offset + length, length, PARTS - part)
    held.next_offset, held.answered_s = offset + length, time.monotonic()
    return came


def _finish_ahead(held: _Held) -> None:
    ahead, held.ahead = held.ahead, None
    if ahead is not None:
        ahead.finish()


def _read(held: _Held, shared: str, offset: int, length: int, part: int) -> Came:
    view = _view(held, shared, length, part)
    path = _PAST if held.direct else _MAYBE
    begin_s, done = time.monotonic(), 0
    try:
        if not held.direct:
            path = _drop(held, offset, length)
            begin_s = time.monotonic()
        while done < length:
            got = os.preadv(held.data_fd, [view[done:]], offset + done)
            done += got
            if not got or got % BLOCK_BYTES:
                break
    except OSError as fault:
        return Came(time.monotonic() - begin_s, fault.errno or errno.EIO, done, path)
    took_s = time.monotonic() - begin_s
    path = _MAYBE if held.why_cached else path
    at = part * (len(held.buffers[shared]) // PARTS)
    return Came(took_s, None, done, path, None if shared else bytes(view[:done]), at)


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


def _drop(held: _Held, offset: int, length: int) -> str:
    """Flush, drop the pages, open anew; return what the read that follows may be called."""
    os.fdatasync(held.data_fd)
    if not hasattr(os, "posix_fadvise"):
        return _MAYBE
    os.posix_fadvise(held.data_fd, offset, length, os.POSIX_FADV_DONTNEED)
    anew = os.open(DATA, os.O_RDWR | SAFE, dir_fd=held.folder_fd)
    os.dup2(anew, held.data_fd, inheritable=False)
    os.close(anew)
    os.posix_fadvise(held.data_fd, offset, length, os.POSIX_FADV_RANDOM)  # no reading ahead
    return _MAYBE if pages_in_memory(held.data_fd, offset, length) else _REOPENED


def pages_in_memory(descriptor: int, offset: int, length: int) -> int:
    """Return how many pages of a part of a file the cache holds; all, if the system cannot say.

    References
    ----------
    Linux manual page mincore(2).
    """
    pages = -(-length // mmap.PAGESIZE)
    held_bytes = min(length, os.fstat(descriptor).st_size - offset)
    if held_bytes <= 0:
        return 0
    residence = (ctypes.c_ubyte * pages)()
    system = ctypes.CDLL(None, use_errno=True)
    with mmap.mmap(descriptor, held_bytes, mmap.MAP_PRIVATE, offset=offset) as mapped:
        start = ctypes.addressof(ctypes.c_char.from_buffer(mapped))
        failed = system.mincore(ctypes.c_void_p(start), ctypes.c_size_t(held_bytes), residence)
    return pages if failed else sum(entry & 1 for entry in residence)


def _other_places(order: Order) -> list[str]:
    try:
        table = mounts.read_mounts(mounts.MOUNTS.read_text())
    except OSError:
        return []
    points = [entry.point for entry in table if entry.kind in mounts.ON_A_BLOCK_DEVICE]
    places = [str(Path(point) / order.inside) for point in dict.fromkeys(points)]
    return [place for place in places if place != order.folder and Path(place, FOLDER).is_dir()]


def _open_at(place: str, order: Order) -> dict[str, Any]:
    global _held
    folder_fd, data_fd, direct, stick_id = open_own(place, order.stick_id, order.size_bytes)
    mount = _mount(place)
    why_cached = mounts.why_cached(mount, order.vouched)
    _held = _Held(folder_fd, data_fd, direct, why_cached)
    return _identity(place, stick_id, mount, direct, why_cached)


def _mount(place: str) -> mounts.Mount | None:
    try:
        return mounts.mount_of(place, mounts.read_mounts(mounts.MOUNTS.read_text()))
    except OSError:
        return None


def _identity(
    place: str, stick_id: str, mount: mounts.Mount | None, direct: bool, why_cached: str
) -> dict[str, Any]:
    found: dict[str, Any] = {"folder": place, "stick_id": stick_id, "direct": direct}
    if why_cached:
        found["why_cached"] = why_cached
    if mount is not None:
        found |= {"file_system": mount.kind, "device": mount.source}
        found["inside"] = os.path.relpath(Path(place).resolve(), mount.point)
        found |= mounts.usb_above(mounts.block_device(mount.source))
    return found
