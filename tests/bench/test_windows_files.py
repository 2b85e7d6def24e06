"""The way past Windows' cache, tried on this system with kernel32's documented rules put in place.

It has been run by hand against another's implementation of kernel32 too; never on Windows itself.
"""

import ctypes
import errno
import mmap
import os

import pytest
from windows_kernel import FakeWindows

from soak.bench.stick import medium
from soak.bench.stick.folder import Refused
from soak.bench.stick.folder_medium import FolderOrder
from soak.bench.stick.windows_files import (
    FileInformation,
    Overlapped,
    WindowsFile,
    declare,
    kernel32,
)

MIB = 1 << 20
DATA = os.urandom(MIB)


@pytest.fixture
def windows(tmp_path):
    return FakeWindows(tmp_path)


@pytest.fixture
def stick(tmp_path, windows):
    """Open a folder as the child process does; close it again."""

    class Asked:
        def open(self):
            return FolderOrder(str(tmp_path), 2 * MIB).open_with(windows.kernel())

    identity = medium.open_medium(Asked())
    yield identity
    medium.close_medium()


def refusal(windows, place, size_bytes=MIB):
    with pytest.raises(Refused) as caught:
        FolderOrder(str(place), size_bytes).open_with(windows.kernel())
    return str(caught.value)


def test_structures_are_as_long_as_windows_declares_them():
    """OVERLAPPED has 32 bytes on 64-bit systems, BY_HANDLE_FILE_INFORMATION 52 (the headers)."""
    assert ctypes.sizeof(Overlapped) == (32 if ctypes.sizeof(ctypes.c_void_p) == 8 else 20)
    assert ctypes.sizeof(FileInformation) == 52


def test_what_was_written_is_read_back_past_the_cache(stick, windows):
    """Every file is opened unbuffered and write-through; reads are direct; writes are flushed."""
    assert medium.write_medium("", 4096, MIB, DATA).errno is None
    assert windows.calls[-1][0] == "FlushFileBuffers"
    came = medium.read_medium("", 4096, MIB)
    assert (came.data, came.path, came.errno) == (DATA, "direct", None)
    # FILE_FLAG_NO_BUFFERING 0x20000000, FILE_FLAG_WRITE_THROUGH 0x80000000,
    # FILE_FLAG_OPEN_REPARSE_POINT 0x00200000 (Microsoft, CreateFileW).
    assert {flags for *_, flags in windows.opened} == {0xA0200000}
    assert stick["file_system"] == "FAT32"


def test_a_part_that_was_never_written_comes_short(stick):
    """Beyond the end of the file nothing is invented, whatever error Windows gives for it."""
    medium.write_medium("", 0, 8192, DATA[:8192])
    assert medium.read_medium("", 4096, 8192).data == DATA[4096:8192]
    assert medium.read_medium("", MIB, 4096).data == b""


def test_a_place_beyond_4_gib_is_reached(tmp_path, windows):
    """The place goes in two halves of 32 bits."""
    path = tmp_path / "big"
    with path.open("wb") as file:
        file.truncate(5 << 30)
        os.pwrite(file.fileno(), DATA[:4096], (4 << 30) + 8192)
    file = WindowsFile(windows.kernel(), str(path))
    page = mmap.mmap(-1, 4096)
    assert file.read_into(memoryview(page), (4 << 30) + 8192) == 4096
    assert page[:] == DATA[:4096]
    file.close()
    file.close()


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (433, errno.ENODEV),  # ERROR_NO_SUCH_DEVICE
        (1167, errno.ENODEV),  # ERROR_DEVICE_NOT_CONNECTED
        (21, errno.ENODEV),  # ERROR_NOT_READY
        (23, errno.EIO),  # ERROR_CRC
        (1117, errno.EIO),  # ERROR_IO_DEVICE
        (121, errno.ETIMEDOUT),  # ERROR_SEM_TIMEOUT
        (112, errno.ENOSPC),  # ERROR_DISK_FULL
        (19, errno.EROFS),  # ERROR_WRITE_PROTECT
    ],
)
def test_a_failure_is_told_by_what_windows_calls_it(stick, windows, number, told):
    """A stick that was pulled is gone, a place that cannot be read is an error, and so on."""
    medium.write_medium("", 0, 4096, DATA[:4096])
    windows.fails = {"ReadFile": number, "FlushFileBuffers": number}
    assert medium.read_medium("", 0, 4096).errno == told
    assert medium.write_medium("", 0, 4096, DATA[:4096]).errno == told


def test_where_unbuffered_files_are_refused_no_read_is_evidence(tmp_path, windows):
    """It is flushed, closed and opened anew, and still called maybe cached."""
    windows.refuses_unbuffered = True

    class Asked:
        def open(self):
            return FolderOrder(str(tmp_path), 2 * MIB).open_with(windows.kernel())

    assert not medium.open_medium(Asked())["direct"]
    medium.write_medium("", 0, MIB, DATA)
    opened = len(windows.opened)
    came = medium.read_medium("", 0, MIB)
    assert (came.data, came.path) == (DATA, "maybe cached")
    assert len(windows.opened) == opened + 1
    (tmp_path / "soak-data" / "data.bin").unlink()  # another stick in its place
    assert medium.read_medium("", 0, MIB).errno == errno.ENOENT
    medium.close_medium()
    assert not (tmp_path / "soak-data" / "data.bin").exists()


@pytest.mark.parametrize(("kind", "word"), [(4, "network"), (6, "in memory")])
def test_a_drive_that_answers_from_memory_is_no_evidence(tmp_path, windows, kind, word):
    """DRIVE_REMOTE is 4 and DRIVE_RAMDISK 6 (GetDriveTypeW)."""
    windows.drive_type = kind
    opened, found = FolderOrder(str(tmp_path), MIB).open_with(windows.kernel())
    opened.close()
    assert word in found["why_cached"]
    assert opened.why_cached == found["why_cached"]


def test_a_second_soak_on_the_same_stick_is_refused(tmp_path, windows, stick):
    """The data is opened for one soak alone: the second is told so."""
    assert "another soak" in refusal(windows, tmp_path)


def test_the_stick_is_found_again_under_another_letter(tmp_path, windows, monkeypatch):
    """Pulled, it is gone; back as E:, it is known by its id and not by its place."""
    monkeypatch.chdir(tmp_path)
    drive = tmp_path / "D:\\"
    drive.mkdir()
    windows.root = drive
    kernel = windows.kernel()
    first, known = FolderOrder(str(drive), MIB).open_with(kernel)
    first.close()
    again = FolderOrder(str(drive), MIB, known["stick_id"], known["inside"])
    drive.rename(tmp_path / "E:\\")
    with pytest.raises(OSError, match="not there") as gone:
        again.open_with(kernel)
    assert gone.value.errno == errno.ENODEV
    windows.letters, windows.root = 1 << 4, tmp_path / "E:\\"
    found, identity = again.open_with(kernel)
    found.close()
    assert identity["stick_id"] == known["stick_id"]
    assert identity["folder"] == "E:\\"


def test_mistakes_are_told_in_the_same_words_as_elsewhere(tmp_path, windows):
    """Missing folder, a file, a link, somebody else's files, a damaged id, too little room."""
    assert "mount the stick" in refusal(windows, tmp_path / "nowhere")
    (tmp_path / "file").write_text("x")
    assert "is not a folder" in refusal(windows, tmp_path / "file")
    assert "set size to at most" in refusal(windows, tmp_path, 2_000_000_000)
    data = tmp_path / "soak-data" / "data.bin"
    data.unlink()
    data.symlink_to(tmp_path / "file")
    assert "not a plain file" in refusal(windows, tmp_path)
    data.unlink()
    os.link(tmp_path / "file", data)
    assert "not a plain file" in refusal(windows, tmp_path)
    (tmp_path / "soak-data" / "id.json").write_text("{")
    assert "is not soak's" in refusal(windows, tmp_path)
    (tmp_path / "soak-data" / "id.json").unlink()
    assert "soak did not make" in refusal(windows, tmp_path)
    assert (tmp_path / "file").read_text() == "x"


def test_a_write_protected_stick_is_told_as_such(tmp_path, windows):
    """ERROR_WRITE_PROTECT (19) speaks of a lock slide."""
    windows.fails = {"CreateFileW": 19}
    assert "read-only; look for a lock slide" in refusal(windows, tmp_path)


def test_elsewhere_there_is_no_kernel32():
    """Asked for on another system it says so instead of failing somewhere inside."""
    with pytest.raises(OSError, match="part of Windows"):
        kernel32()


def test_each_function_is_declared():
    """A handle of 64 bits would be cut to 32 without a declaration."""

    class Calls:
        def __getattr__(self, name):
            self.__dict__[name] = type("Function", (), {})()
            return self.__dict__[name]

    calls = Calls()
    declare(calls)
    assert calls.CreateFileW.restype is ctypes.c_void_p
    assert calls.GetFileAttributesW.restype is ctypes.c_uint32
