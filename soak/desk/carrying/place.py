"""The folder a pack is written to: that it may be used, fits, and which file system it is."""

import errno
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from soak.bench.stick.mounts import block_device, mount_of, on_own_disk, table
from soak.errors import BenchFault, UsageError
from soak.measure.stick.states import LEFT
from soak.outside import is_folder
from soak.words import Amount, Message, msg

FOLDER = "SOAKPACK"
UNFINISHED = "SOAKPACK.TMP"
_BY_UUID = Path("/dev/disk/by-uuid")
_KEEP_FREE_BYTES = 1_000_000


def usable(folder: Path, *, own_disk: bool) -> None:
    """Check that a folder is there, may be written and is not this computer's own disk.

    Raises
    ------
    UsageError
        One sentence: what is wrong, what to do.
    """
    if not is_folder(folder):
        what = msg("is not a folder") if folder.exists() else msg("there is no such folder")
        raise UsageError(
            msg(
                "{folder}: {what}; give the folder the stick is mounted at",
                folder=str(folder),
                what=what,
            )
        )
    if not own_disk and on_own_disk(folder):
        raise UsageError(
            msg(
                "{folder}: lies on this computer's own disk, not on a stick; give the folder "
                "the stick is mounted at (or --own-disk if the unit fetches it from here)",
                folder=str(folder),
            )
        )


def fits(folder: Path, lengths_bytes: tuple[int, ...]) -> None:
    """Check that files of these lengths fit, each in whole clusters.

    Raises
    ------
    UsageError
        If they do not; names how much is free.
    """
    volume = os.statvfs(folder)
    cluster = volume.f_frsize or 4096
    need = sum(-(-length // cluster) * cluster for length in lengths_bytes) + _KEEP_FREE_BYTES
    free = volume.f_bavail * cluster
    if need > free:
        raise UsageError(
            msg(
                "{folder}: {need} are needed and {free} are free; take a larger stick, make "
                "room, or give a smaller --size",
                folder=str(folder),
                need=Amount(need, "B"),
                free=Amount(free, "B"),
            )
        )


def file_system_id(folder: Path) -> str:
    """Return what tells one file system from another, whatever its label; empty if unknown.

    On FAT this is the serial number written when it was formatted. Two sticks copied bit by bit
    have the same.
    """
    try:
        mount = mount_of(str(folder), table())
        if mount is None or not mount.source.startswith("/"):
            return ""
        device = Path(mount.source).resolve()
        return next((link.name for link in _BY_UUID.iterdir() if link.resolve() == device), "")
    except OSError:
        return ""


@contextmanager
def in_one_sentence(folder: Path, say: Callable[[Path, OSError], Exception]) -> Iterator[None]:
    """Tell any failure of the stick as `say` does: it may be pulled at any moment."""
    try:
        yield
    except OSError as fault:
        raise say(folder, fault) from None


def packing_fault(folder: Path, fault: OSError) -> Exception:
    """Return what to tell the operator of a failure to write once the stick took something."""
    if fault.errno == errno.EROFS:
        return BenchFault(
            "stick",
            msg(
                "became read-only while packing {folder}, as after errors of its medium or on "
                "the way to it; take another stick and pack that",
                folder=str(folder),
            ),
        )
    return writing_fault(folder, fault)


def writing_fault(folder: Path, fault: OSError) -> Exception:
    """Return what to tell the operator of a failure to write."""
    if fault.errno == errno.EROFS:
        return UsageError(
            msg(
                "{folder}: is mounted read-only; look for a lock slide on the stick, or mount "
                "it writable",
                folder=str(folder),
            )
        )
    if fault.errno in (errno.EACCES, errno.EPERM):
        return UsageError(
            msg(
                "{folder}: may not be written by this user; give it to this user",
                folder=str(folder),
            )
        )
    if fault.errno in (errno.ENOSPC, errno.EDQUOT):
        return UsageError(
            msg("{folder}: is full; make room, or give a smaller --size", folder=str(folder))
        )
    if is_there(folder, fault):
        return _bad_place(folder, fault, msg("packing"), msg("take another stick and pack that"))
    return _gone(folder, fault, msg("packing"), msg("pack again"))


def reading_fault(folder: Path, fault: OSError) -> Exception:
    """Return what to tell the operator of a stick that cannot be read to its end."""
    if is_there(folder, fault):
        return _bad_place(
            folder,
            fault,
            msg("reading"),
            msg("have the unit copy the files to another stick, or pack one"),
        )
    return _gone(folder, fault, msg("reading"), msg("unpack again"))


def is_there(folder: Path, fault: OSError) -> bool:
    """Return whether a stick is still there after a fault: then a place of it is bad.

    The system answers for a folder from memory for long after its stick was pulled; that the disk
    below it has gone, it knows at once.
    """
    if fault.errno in LEFT:
        return False
    try:
        mount = mount_of(str(folder), table())
        on_disk = mount is not None and mount.source.startswith("/dev/")
        if on_disk and mount is not None and block_device(mount.source) is None:
            return False
        os.statvfs(folder)
        next(folder.iterdir(), None)
    except OSError:
        return False
    return True


@contextmanager
def naming(file: Path) -> Iterator[None]:
    """Let a failure say of which file it is: that of a read or write does not."""
    try:
        yield
    except OSError as fault:
        fault.filename = fault.filename or str(file)
        raise


def _bad_place(folder: Path, fault: OSError, doing: Message, then: Message) -> BenchFault:
    what = fault.filename if isinstance(fault.filename, str) else str(folder)
    return BenchFault(
        "stick",
        msg(
            "has a bad place: {what} failed while {doing} ({why}), and the rest of the "
            "stick answers; {then}",
            what=what,
            doing=doing,
            why=_why(fault),
            then=then,
        ),
    )


def _gone(folder: Path, fault: OSError, doing: Message, again: Message) -> BenchFault:
    return BenchFault(
        "stick",
        msg(
            "went while {doing} {folder} ({why}); plug it into the bench and {again}",
            doing=doing,
            folder=str(folder),
            why=_why(fault),
            again=again,
        ),
    )


def _why(fault: OSError) -> str:
    return os.strerror(fault.errno) if fault.errno else str(fault)
