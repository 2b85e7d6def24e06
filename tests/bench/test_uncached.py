"""Ways past the cache that other systems have, tried with what they offer put in place."""

import errno
import os
from types import SimpleNamespace

import pytest

from soak.bench.stick import folder as stick_folder
from soak.bench.stick import uncached
from soak.bench.stick.uncached import Opened, drop, flush, keep_nothing


class Asked(SimpleNamespace):
    """Stands for macOS's fcntl: its numbers are F_FULLFSYNC 51 and F_NOCACHE 48 (fcntl(2))."""

    F_FULLFSYNC, F_NOCACHE = 51, 48

    def fcntl(self, descriptor, what, value=0):
        """Keep what was asked."""
        self.calls.append((what, value))


@pytest.fixture
def asked(monkeypatch):
    found = Asked(calls=[])
    monkeypatch.setattr(uncached, "fcntl", found)
    return found


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "data"
    path.write_bytes(bytes(8192))
    descriptor = os.open(path, os.O_RDWR)
    yield descriptor
    os.close(descriptor)


def test_a_flush_goes_past_the_drives_own_cache_where_that_must_be_asked_by_name(asked, file):
    """On macOS fsync alone leaves the data in the drive (fcntl(2), F_FULLFSYNC)."""
    flush(file)
    assert asked.calls == [(51, 0)]


def test_no_page_is_kept_where_the_system_can_be_told_so(asked, file):
    """F_NOCACHE is set on the open file."""
    assert keep_nothing(file)
    assert asked.calls == [(48, 1)]


def test_a_system_without_files_that_can_be_locked_is_refused_in_one_sentence(
    monkeypatch, tmp_path
):
    """There a stick cannot be read past the cache yet, and nothing is written to it."""
    monkeypatch.setattr(stick_folder, "fcntl", None)
    with pytest.raises(stick_folder.Refused, match="no way past its cache"):
        stick_folder.open_own(str(tmp_path), "", 4096)
    assert list(tmp_path.iterdir()) == []


def test_without_any_way_past_the_cache_a_read_is_not_believed(monkeypatch, file):
    """A system that drops nothing and keeps everything gives no evidence."""
    monkeypatch.setattr(uncached, "fcntl", None)
    monkeypatch.delattr(os, "posix_fadvise")
    assert not keep_nothing(file)
    assert not drop(Opened(file, (), False, ""), 0, 8192)


def test_told_to_keep_nothing_a_page_that_is_still_there_is_found_out(asked, monkeypatch, file):
    """The promise is not taken on trust: the pages are looked for."""
    monkeypatch.delattr(os, "posix_fadvise")
    os.pread(file, 8192, 0)
    assert not drop(Opened(file, (), False, ""), 0, 8192)


@pytest.fixture
def emptied(file):
    """Return a disk of two blocks that holds nothing any more: Linux tells so of one pulled."""
    os.ftruncate(file, 0)
    medium = Opened(file, (), True, "")
    medium.disk_bytes = 8192
    return medium


def test_a_disk_that_suddenly_holds_nothing_is_gone_and_no_short_read(emptied):
    """Reads of a pulled disk come empty, without a fault (seen with usb-storage in a guest)."""
    with pytest.raises(OSError, match="No such device") as fault:
        emptied.read_into(memoryview(bytearray(4096)), 4096)
    assert fault.value.errno == errno.ENODEV


def test_a_disk_that_suddenly_has_no_room_is_gone_and_not_full(emptied, monkeypatch):
    """Writes to a pulled disk fail with ENOSPC (seen with usb-storage in a guest)."""

    def no_room(*asked):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "pwritev", no_room)
    with pytest.raises(OSError, match="No such device"):
        emptied.write_from(memoryview(bytearray(4096)), 4096)
    with pytest.raises(OSError, match="No space left"):
        emptied.write_from(memoryview(bytearray(4096)), 8192)
