"""Stands for Windows' kernel32 on another system: files are real, rules are those it documents.

Microsoft, "File Buffering" (places, lengths and memory of unbuffered files are multiples of the
sector), CreateFileW (sharing), ReadFile (ERROR_HANDLE_EOF with a place given), System Error Codes.
"""

# ruff: noqa: N802 -- the functions bear the names kernel32 gives them

import ctypes
import errno
import os

from soak.bench.stick.windows_files import Kernel

SECTOR = 4096
NUMBERS = {errno.ENOENT: 2, errno.EACCES: 5, errno.EROFS: 19, errno.ENOSPC: 112, errno.EIO: 1117}


def _pointed(address, length):
    return memoryview((ctypes.c_char * length).from_address(address)).cast("B")


class FakeWindows:
    """Functions of kernel32 over files of this system; `root` is the only volume there is.

    `fails` holds what a function fails with from now on, by its name (CreateFileW: opening for
    writing); `opened` what was asked of CreateFileW.
    """

    def __init__(self, root, drive_type=2, letters=0):
        self.root, self.drive_type, self.letters = root, drive_type, letters
        self.fails, self.opened, self.number, self.calls = {}, [], 0, []
        self.refuses_unbuffered = False
        self._handles, self._next = {}, 100

    def kernel(self):
        return Kernel(self, lambda: self.number)

    def _failed(self, number, value=0):
        self.number = number
        return value

    def CreateFileW(self, path, access, share, security, how, flags, template):
        self.opened.append((path, access, share, how, flags))
        gone = ctypes.c_void_p(-1).value
        if "CreateFileW" in self.fails and access & 0x40000000:  # GENERIC_WRITE
            return self._failed(self.fails["CreateFileW"], gone)
        if flags & 0x20000000 and self.refuses_unbuffered:
            return self._failed(87, gone)
        if any(held == path and (not share or not mine) for _, held, mine, _ in self._all()):
            return self._failed(32, gone)
        way = os.O_RDWR if access & 0x40000000 else os.O_RDONLY
        try:
            descriptor = os.open(path, way | (os.O_CREAT if how == 4 else 0) | os.O_NOFOLLOW)
        except OSError as fault:
            if fault.errno == errno.ELOOP:  # the link itself is opened
                descriptor = os.open(path, os.O_PATH | os.O_NOFOLLOW)
            else:
                return self._failed(NUMBERS.get(fault.errno, 1117), gone)
        self._next += 4
        self._handles[self._next] = (descriptor, path, share, bool(flags & 0x20000000))
        return self._next

    def _all(self):
        return self._handles.values()

    def CloseHandle(self, handle):
        os.close(self._handles.pop(handle)[0])
        return 1

    def _moved(self, name, handle, address, length, moved, place, move):
        self.calls.append((name, length))
        if name in self.fails:
            return self._failed(self.fails[name])
        descriptor, _, _, unbuffered = self._handles[handle]
        at = place._obj.offset | place._obj.offset_high << 32
        if unbuffered and (at % SECTOR or length % SECTOR or address % SECTOR):
            return self._failed(87)
        try:
            moved._obj.value = move(descriptor, [_pointed(address, length)], at)
        except OSError as fault:
            return self._failed(NUMBERS.get(fault.errno, 1117))
        return 1

    def ReadFile(self, handle, address, length, came, place):
        done = self._moved("ReadFile", handle, address, length, came, place, os.preadv)
        return self._failed(38) if done and not came._obj.value else done

    def WriteFile(self, handle, address, length, took, place):
        return self._moved("WriteFile", handle, address, length, took, place, os.pwritev)

    def FlushFileBuffers(self, handle):
        self.calls.append(("FlushFileBuffers", 0))
        if "FlushFileBuffers" in self.fails:
            return self._failed(self.fails["FlushFileBuffers"])
        os.fsync(self._handles[handle][0])
        return 1

    def GetFileInformationByHandle(self, handle, told):
        status = os.fstat(self._handles[handle][0])
        told._obj.attributes = self._attributes(status)
        told._obj.links, told._obj.index_low = status.st_nlink, status.st_ino & 0xFFFFFFFF
        return 1

    def GetFileAttributesW(self, path):
        try:
            return self._attributes(os.lstat(path))
        except OSError as fault:
            return self._failed(NUMBERS.get(fault.errno, 1117), 0xFFFFFFFF)

    @staticmethod
    def _attributes(status):
        kind = status.st_mode & 0o170000
        return {0o040000: 0x10, 0o120000: 0x400}.get(kind, 0x20)

    def GetVolumePathNameW(self, path, name, length):
        name.value = str(self.root)
        return 1

    def GetVolumeInformationW(self, root, a, b, c, d, e, kind, length):
        kind.value = "FAT32"
        return 1

    def GetDriveTypeW(self, root):
        return self.drive_type

    def GetLogicalDrives(self):
        return self.letters

    def GetDiskFreeSpaceExW(self, path, free, total, _):
        free._obj.value, total._obj.value = 900_000_000, 1_000_000_000
        return 1
