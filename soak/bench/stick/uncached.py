"""What each system offers to reach the medium past its page cache, each in one place.

Linux reads directly (O_DIRECT) where the file system allows it. macOS keeps nothing of a file it is
told about (F_NOCACHE), and flushes a drive's own cache only when asked by name (F_FULLFSYNC). Where
neither is to be had, pages are flushed, dropped and looked for (mincore) before a read is believed.

Windows is in `windows_files`.

Only the standard library is imported: this runs in the child process that does a stick's work.

References
----------
Linux manual pages open(2), posix_fadvise(2), mincore(2); macOS manual page fcntl(2).
"""

import contextlib
import ctypes
import errno
import mmap
import os
from collections.abc import Callable
from dataclasses import dataclass
from types import ModuleType
from typing import Protocol

fcntl: ModuleType | None
try:
    import fcntl
except ImportError:  # Windows
    fcntl = None

DIRECT: int = getattr(os, "O_DIRECT", 0)
SAFE: int = sum(getattr(os, name, 0) for name in ("O_NOFOLLOW", "O_CLOEXEC", "O_NONBLOCK"))


class Medium(Protocol):
    """An open medium, whatever the system.

    Attributes
    ----------
    direct, why_cached, base_bytes
        As in `Opened`.
    """

    direct: bool
    why_cached: str
    base_bytes: int

    def read_into(self, memory: memoryview, at: int) -> int:
        """Read what lies at a place; return how many bytes came, 0 at the end. Raises OSError."""
        ...

    def write_from(self, memory: memoryview, at: int) -> int:
        """Write to a place; return how many bytes were taken. Raises OSError."""
        ...

    def flush(self) -> None:
        """Bring what was written onto the medium. Raises OSError."""
        ...

    def drop(self, offset: int, length: int) -> bool:
        """Flush, drop, open anew; return whether the next read comes from the medium."""
        ...

    def close(self) -> None:
        """Close it."""
        ...


@dataclass(slots=True)
class Opened:
    """A medium behind a descriptor.

    Attributes
    ----------
    data_fd : int
        Descriptor that data is read from and written to.
    others : tuple of int
        Further descriptors to close with it.
    direct : bool
        Whether reads go past the page cache.
    why_cached : str
        Why a read may still come from some cache; empty if it may not.
    base_bytes : int
        Where on it the data begins.
    reopen : callable or None
        Opens `data_fd` anew, where reads are not direct.
    disk_bytes : int
        What it holds if it is a whole disk, else 0. Linux tells of a disk that was pulled as one
        that holds nothing: reads come empty and writes find no room, without a fault.
    """

    data_fd: int
    others: tuple[int, ...]
    direct: bool
    why_cached: str
    base_bytes: int = 0
    reopen: Callable[[], int] | None = None
    disk_bytes: int = 0

    def read_into(self, memory: memoryview, at: int) -> int:
        """Read what lies at a place; return how many bytes came, 0 at the end."""
        came = os.preadv(self.data_fd, [memory], at)
        if not came and at < self.disk_bytes:
            raise _as(errno.ENODEV)
        return came

    def write_from(self, memory: memoryview, at: int) -> int:
        """Write to a place; return how many bytes were taken."""
        try:
            return os.pwritev(self.data_fd, [memory], at)
        except OSError as fault:
            if fault.errno == errno.EBADF:  # pwrite(2): not open for writing
                raise _as(errno.EROFS) from None
            if fault.errno == errno.ENOSPC and at < self.disk_bytes:
                raise _as(errno.ENODEV) from None
            raise

    def flush(self) -> None:
        """Bring what was written onto the medium."""
        flush(self.data_fd)

    def drop(self, offset: int, length: int) -> bool:
        """Flush, drop the pages, open anew; return whether the next read is from the medium."""
        return drop(self, offset, length)

    def close(self) -> None:
        """Close it."""
        for descriptor in (self.data_fd, *self.others):
            with contextlib.suppress(OSError):
                os.close(descriptor)


def _as(number: int) -> OSError:
    return OSError(number, os.strerror(number))


def flush(descriptor: int) -> None:
    """Bring a file's data onto the medium; on macOS past the drive's own cache too."""
    full = getattr(fcntl, "F_FULLFSYNC", None)
    if fcntl is not None and full is not None:
        with contextlib.suppress(OSError):  # a file system that does not know it
            fcntl.fcntl(descriptor, full)
            return
    getattr(os, "fdatasync", os.fsync)(descriptor)


def keep_nothing(descriptor: int) -> bool:
    """Ask the system to keep no page of an open file from now on; return whether it knows that."""
    asked = getattr(fcntl, "F_NOCACHE", None)
    if fcntl is None or asked is None:
        return False
    fcntl.fcntl(descriptor, asked, 1)
    return True


def drop(medium: Opened, offset: int, length: int) -> bool:
    """Flush, drop the pages, open anew; return whether what is read next comes from the medium."""
    flush(medium.data_fd)
    can_drop = hasattr(os, "posix_fadvise")
    if can_drop:
        os.posix_fadvise(medium.data_fd, offset, length, os.POSIX_FADV_DONTNEED)
    if medium.reopen is not None:
        anew = medium.reopen()
        os.dup2(anew, medium.data_fd, inheritable=False)
        os.close(anew)
    kept_out = keep_nothing(medium.data_fd)
    if can_drop:
        os.posix_fadvise(medium.data_fd, offset, length, os.POSIX_FADV_RANDOM)  # no reading ahead
    return (can_drop or kept_out) and not pages_in_memory(medium.data_fd, offset, length)


def pages_in_memory(descriptor: int, offset: int, length: int) -> int:
    """Return how many pages of a part of a file the cache holds; all, if the system cannot say.

    References
    ----------
    Linux manual page mincore(2).
    """
    held_bytes = min(length, os.fstat(descriptor).st_size - offset)
    if held_bytes <= 0:
        return 0
    # A mapping begins at a page; pages have 16 KiB on some processors, a stick's blocks 4 KiB.
    before = offset % mmap.ALLOCATIONGRANULARITY
    held_bytes = held_bytes + before
    offset = offset - before
    pages = -(-held_bytes // mmap.PAGESIZE)
    residence = (ctypes.c_ubyte * pages)()
    system = ctypes.CDLL(None, use_errno=True)
    with mmap.mmap(descriptor, held_bytes, mmap.MAP_PRIVATE, offset=offset) as mapped:
        start = ctypes.addressof(ctypes.c_char.from_buffer(mapped))
        failed = system.mincore(ctypes.c_void_p(start), ctypes.c_size_t(held_bytes), residence)
    return pages if failed else sum(entry & 1 for entry in residence)
