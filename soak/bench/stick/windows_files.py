"""A file on Windows that is read and written past the system's cache.

Windows keeps nothing of a file opened with FILE_FLAG_NO_BUFFERING; places, lengths and memory must
then be multiples of the medium's sectors, which 4096 B are for all sticks. With
FILE_FLAG_WRITE_THROUGH and FlushFileBuffers a write has left the drive's own cache, too. Where a
file system refuses, the file is opened plainly, and what is read may come from the cache: Windows
has no way to ask whether it did.

Only the standard library is imported: this runs in the child process that does a stick's work.

References
----------
Microsoft, Windows App Development, fileapi.h (CreateFileW, ReadFile, WriteFile, FlushFileBuffers,
GetFileInformationByHandle), "File Buffering", and System Error Codes (0-499, 500-999, 1000-1299,
1300-1699), from which all numbers here are.
"""

import ctypes
import errno
import mmap
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

GENERIC_READ = 0x8000_0000
GENERIC_WRITE = 0x4000_0000
FILE_SHARE_NONE = 0
FILE_SHARE_READ_WRITE = 0x1 | 0x2
OPEN_EXISTING = 3
OPEN_ALWAYS = 4
FILE_FLAG_NO_BUFFERING = 0x2000_0000
FILE_FLAG_WRITE_THROUGH = 0x8000_0000
FILE_FLAG_OPEN_REPARSE_POINT = 0x0020_0000
"""A link is opened itself, not what it leads to."""
FILE_ATTRIBUTE_DIRECTORY = 0x10
FILE_ATTRIBUTE_REPARSE_POINT = 0x400
INVALID_FILE_ATTRIBUTES = 0xFFFF_FFFF
SEM_FAILCRITICALERRORS = 0x1
"""A drive without a medium is an error, and no window that waits for somebody to press a key."""
INVALID_HANDLE = ctypes.c_void_p(-1).value

_INVALID_FUNCTION = 1
_NOT_SUPPORTED = 50
_INVALID_PARAMETER = 87
_HANDLE_EOF = 38

ERRNO = {
    2: errno.ENOENT,  # ERROR_FILE_NOT_FOUND
    3: errno.ENOENT,  # ERROR_PATH_NOT_FOUND
    5: errno.EACCES,  # ERROR_ACCESS_DENIED
    15: errno.ENODEV,  # ERROR_INVALID_DRIVE
    19: errno.EROFS,  # ERROR_WRITE_PROTECT
    20: errno.ENODEV,  # ERROR_BAD_UNIT
    21: errno.ENODEV,  # ERROR_NOT_READY
    32: errno.EBUSY,  # ERROR_SHARING_VIOLATION
    33: errno.EBUSY,  # ERROR_LOCK_VIOLATION
    34: errno.ENODEV,  # ERROR_WRONG_DISK
    39: errno.ENOSPC,  # ERROR_HANDLE_DISK_FULL
    55: errno.ENODEV,  # ERROR_DEV_NOT_EXIST
    87: errno.EINVAL,  # ERROR_INVALID_PARAMETER
    112: errno.ENOSPC,  # ERROR_DISK_FULL
    121: errno.ETIMEDOUT,  # ERROR_SEM_TIMEOUT
    433: errno.ENODEV,  # ERROR_NO_SUCH_DEVICE
    1006: errno.ENODEV,  # ERROR_FILE_INVALID: its volume has been changed
    1110: errno.ENODEV,  # ERROR_MEDIA_CHANGED
    1112: errno.ENODEV,  # ERROR_NO_MEDIA_IN_DRIVE
    1167: errno.ENODEV,  # ERROR_DEVICE_NOT_CONNECTED
    1617: errno.ENODEV,  # ERROR_DEVICE_REMOVED
}
"""Windows' error numbers in the numbers the rest of soak speaks; any other is EIO."""


class Overlapped(ctypes.Structure):
    """Where a read or write begins (OVERLAPPED, minwinbase.h)."""

    _fields_ = (
        ("internal", ctypes.c_size_t),
        ("internal_high", ctypes.c_size_t),
        ("offset", ctypes.c_uint32),
        ("offset_high", ctypes.c_uint32),
        ("event", ctypes.c_void_p),
    )


class FileInformation(ctypes.Structure):
    """What a handle is open on (BY_HANDLE_FILE_INFORMATION, fileapi.h)."""

    _fields_ = (
        ("attributes", ctypes.c_uint32),
        ("times", ctypes.c_uint32 * 6),
        ("volume_serial", ctypes.c_uint32),
        ("size_high", ctypes.c_uint32),
        ("size_low", ctypes.c_uint32),
        ("links", ctypes.c_uint32),
        ("index_high", ctypes.c_uint32),
        ("index_low", ctypes.c_uint32),
    )


@dataclass(frozen=True, slots=True)
class Kernel:
    """What the system offers.

    Attributes
    ----------
    calls : object
        Functions of kernel32 by their names.
    last_error : callable
        Returns why the last of them failed, as Windows numbers it.
    """

    calls: Any
    last_error: Callable[[], int]

    def fault(self, path: str) -> OSError:
        """Return why the last call failed, as the rest of soak knows it."""
        number = self.last_error()
        known = ERRNO.get(number, errno.EIO)
        return OSError(known, f"{os.strerror(known)} (Windows error {number})", path)


def kernel32() -> Kernel:
    """Return the system's own functions. Only on Windows.

    Raises
    ------
    OSError
        On another system.
    """
    if sys.platform == "win32":
        calls = ctypes.WinDLL("kernel32", use_last_error=True)
        declare(calls)
        calls.SetErrorMode(SEM_FAILCRITICALERRORS)
        return Kernel(calls, ctypes.get_last_error)
    raise OSError(errno.ENOSYS, "kernel32 is a part of Windows")


def declare(calls: Any) -> None:
    """Say what each function takes and gives: a handle has 64 bits, which ctypes cannot guess."""
    word = ctypes.c_uint32
    handle = ctypes.c_void_p
    text = ctypes.c_wchar_p
    place = ctypes.c_void_p
    takes: dict[str, list[Any]] = {
        "CreateFileW": [text, word, word, place, word, word, handle],
        "ReadFile": [handle, place, word, place, place],
        "WriteFile": [handle, place, word, place, place],
        "FlushFileBuffers": [handle],
        "CloseHandle": [handle],
        "GetFileInformationByHandle": [handle, place],
        "GetFileAttributesW": [text],
        "GetDriveTypeW": [text],
        "GetLogicalDrives": [],
        "GetVolumePathNameW": [text, place, word],
        "GetVolumeInformationW": [text, place, word, place, place, place, place, word],
        "GetDiskFreeSpaceExW": [text, place, place, place],
        "SetErrorMode": [word],
    }
    gives = {"CreateFileW": handle, "GetFileAttributesW": word, "GetLogicalDrives": word}
    for name, arguments in takes.items():
        function = getattr(calls, name)
        function.argtypes = arguments
        function.restype = gives.get(name, ctypes.c_int)


class WindowsFile:
    """An open file on Windows; nobody else can open it meanwhile unless it is shared.

    Parameters
    ----------
    kernel : Kernel
        The system's functions.
    path : str
        The file.
    may_make : bool
        Whether it is made where it is not there.
    shared : bool
        Open it for reading alone, beside others.

    Raises
    ------
    OSError
        If it cannot be opened (EBUSY where somebody else has it), or is no plain file with one
        name (ELOOP).
    """

    base_bytes = 0

    def __init__(
        self, kernel: Kernel, path: str, *, may_make: bool = False, shared: bool = False
    ) -> None:
        self._kernel = kernel
        self._path = path
        self._may_make = may_make
        self._shared = shared
        self.why_cached = ""
        self.direct = True
        self._handle = self._opened(FILE_FLAG_NO_BUFFERING)
        if self._handle is None and kernel.last_error() in (
            *(_INVALID_FUNCTION, _NOT_SUPPORTED, _INVALID_PARAMETER),
        ):
            self.direct = False
            self._handle = self._opened(0)
        if self._handle is None:
            raise kernel.fault(path)
        try:
            self._which = self._plain_file()
        except OSError:
            self.close()
            raise

    def _opened(self, buffering: int) -> int | None:
        access = GENERIC_READ if self._shared else GENERIC_READ | GENERIC_WRITE
        share = FILE_SHARE_READ_WRITE if self._shared else FILE_SHARE_NONE
        flags = buffering | FILE_FLAG_WRITE_THROUGH | FILE_FLAG_OPEN_REPARSE_POINT
        how = OPEN_ALWAYS if self._may_make else OPEN_EXISTING
        create = self._kernel.calls.CreateFileW
        handle: int | None = create(self._path, access, share, None, how, flags, None)
        return None if handle == INVALID_HANDLE else handle

    def _plain_file(self) -> tuple[int, int, int]:
        """Return which file of which volume it is."""
        information = FileInformation()
        if not self._kernel.calls.GetFileInformationByHandle(
            self._handle, ctypes.byref(information)
        ):
            raise self._kernel.fault(self._path)
        other = FILE_ATTRIBUTE_DIRECTORY | FILE_ATTRIBUTE_REPARSE_POINT
        if information.attributes & other or information.links != 1:
            raise OSError(errno.ELOOP, "no plain file with one name", self._path)
        return information.volume_serial, information.index_high, information.index_low

    def read_into(self, memory: memoryview, at: int) -> int:
        """Read what lies at a place; return how many bytes came, 0 at the end of the file."""
        return self._move(self._kernel.calls.ReadFile, memory, at)

    def write_from(self, memory: memoryview, at: int) -> int:
        """Write to a place; return how many bytes were taken."""
        return self._move(self._kernel.calls.WriteFile, memory, at)

    def _move(self, call: Callable[..., int], memory: memoryview, at: int) -> int:
        address = ctypes.addressof(ctypes.c_char.from_buffer(memory))
        place = Overlapped(offset=at & 0xFFFF_FFFF, offset_high=at >> 32)
        moved = ctypes.c_uint32()
        asked = (address, len(memory), ctypes.byref(moved), ctypes.byref(place))
        if call(self._handle, *asked) or self._kernel.last_error() == _HANDLE_EOF:
            return moved.value
        raise self._kernel.fault(self._path)

    def flush(self) -> None:
        """Bring what was written past the drive's own cache."""
        if not self._kernel.calls.FlushFileBuffers(self._handle):
            raise self._kernel.fault(self._path)

    def drop(self, offset: int, length: int) -> bool:
        """Flush and open anew; nobody can say whether the cache still holds it: False."""
        self.flush()
        self.close()
        self._may_make = False
        self._handle = self._opened(0)
        if self._handle is None:
            raise self._kernel.fault(self._path)
        if self._plain_file() != self._which:
            raise OSError(errno.ENODEV, "another stick lies there now", self._path)
        return False

    def close(self) -> None:
        """Close it; twice is safe."""
        handle = self._handle
        self._handle = None
        if handle is not None:
            self._kernel.calls.CloseHandle(handle)


def read_block(kernel: Kernel, path: str, length_bytes: int) -> bytes:
    """Read the beginning of a file from the medium.

    Raises
    ------
    OSError
        As `WindowsFile`.
    """
    file = WindowsFile(kernel, path, shared=True)
    try:
        page = mmap.mmap(-1, length_bytes)
        came = file.read_into(memoryview(page), 0)
        return page[:came]
    finally:
        file.close()
