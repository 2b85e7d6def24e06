"""Room kept back for the end of a soak, on file systems of each kind."""

import errno
import os

import pytest

from soak.errors import JournalFull
from soak.journal.reserve import RESERVE_BYTES, Reserve


def refused(number: int):
    """Return a call that a file system refuses."""

    def fallocate(*_: int) -> None:
        raise OSError(number, os.strerror(number))

    return fallocate


@pytest.mark.parametrize("number", [errno.EOPNOTSUPP, errno.EINVAL, errno.EBADF])
def test_a_file_system_that_sets_no_room_aside_has_it_written(tmp_path, monkeypatch, number):
    """Network and user-space file systems do not know the call; the room is taken all the same."""
    monkeypatch.setattr(os, "posix_fallocate", refused(number))
    Reserve(tmp_path).take()
    found = (tmp_path / "reserve").stat()
    assert found.st_size == RESERVE_BYTES
    assert found.st_blocks * 512 >= RESERVE_BYTES


def test_a_disk_without_the_room_is_full_and_keeps_no_half_of_it(tmp_path, monkeypatch):
    """What was begun is deleted, so that the little room there is stays free."""
    monkeypatch.setattr(os, "posix_fallocate", refused(errno.ENOSPC))
    with pytest.raises(JournalFull, match="the disk is full"):
        Reserve(tmp_path).take()
    assert not (tmp_path / "reserve").exists()


def test_room_is_taken_once_and_given_back_once(tmp_path):
    """A killed soak leaves it taken; spent, there is none to tell of."""
    Reserve(tmp_path).take()
    Reserve(tmp_path).take()
    assert Reserve(tmp_path).spend() is not None
    assert Reserve(tmp_path).spend() is None
