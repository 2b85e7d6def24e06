"""The folder of our own on a stick: nothing else is touched, and no link leads out of it.

On the stick lies a folder `soak-data` with `id.json` (a random id by which the stick is found
again, whatever name it comes back under) and `data.bin`. Only the standard library is imported:
this runs in a child process.
"""

import contextlib
import errno
import json
import mmap
import os
import secrets
import stat
from collections.abc import Mapping

from soak.bench.stick.uncached import DIRECT, SAFE, fcntl, keep_nothing
from soak.outside import json_of
from soak.words import Message, Number, msg

FOLDER = "soak-data"
DATA = "data.bin"
ID = "id.json"
BLOCK_BYTES = 4096
"""Direct reads must begin and end at the device's blocks; 4096 suits 512 and 4096."""
KEEP_FREE_BYTES = 64_000_000
KEEP_FREE_SHARE = 0.05

_NOT_KNOWN = frozenset({errno.EINVAL, errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP})
"""What a file system says of a lock or a flush of folders that it does not know."""


class Refused(Exception):
    """Report a folder that cannot or must not be used, in one sentence."""

    def __init__(self, told: Message) -> None:
        super().__init__(told)


def open_own(place: str, stick_id: str, size_bytes: int) -> tuple[int, int, bool, str]:
    """Open our folder and the data in it.

    Parameters
    ----------
    place : str
        The folder on the stick in which ours lies or will lie.
    stick_id : str
        The stick wanted; empty for any, which is given an id if it has none.
    size_bytes : int
        How much must fit, looked at where any stick will do.

    Returns
    -------
    folder_fd, data_fd : int
        Descriptors of the folder, locked for this process, and of the data.
    direct : bool
        Whether reads of the data go past the page cache.
    stick_id : str
        The stick's id.

    Raises
    ------
    Refused
        If the folder cannot or must not be used.
    OSError
        If it is not the stick wanted (ENODEV), or the medium fails.
    """
    if fcntl is None or not hasattr(os, "preadv"):
        raise Refused(msg("this system has no way past its cache that soak knows; use Linux"))
    with contextlib.ExitStack() as undo:
        folder_fd = _own_folder(place, may_make=not stick_id)
        undo.callback(os.close, folder_fd)
        own_id = _own_id(place, folder_fd, stick_id)
        data_fd, direct = _data(place, folder_fd, known=bool(stick_id))
        undo.callback(os.close, data_fd)
        if not stick_id:
            enough_room(place, room(data_fd), size_bytes)
        undo.pop_all()
    return folder_fd, data_fd, direct, own_id


def _own_folder(place: str, *, may_make: bool) -> int:
    """Open our own folder in `place`; never through a link, never on another file system."""
    try:
        outer = os.open(place, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    except FileNotFoundError:
        raise Refused(
            msg("there is no folder {place}; mount the stick or correct folder", place=place)
        ) from None
    except NotADirectoryError:
        raise Refused(
            msg("{place} is not a folder; give the folder the stick is mounted at", place=place)
        ) from None
    except PermissionError:
        raise Refused(
            msg("{place} may not be opened by this user; give it to this user", place=place)
        ) from None
    try:
        if may_make:
            _make_folder(place, outer)
        inner = os.open(FOLDER, os.O_RDONLY | os.O_DIRECTORY | SAFE, dir_fd=outer)
    except (NotADirectoryError, OSError) as fault:
        if fault.errno in (errno.ENOTDIR, errno.ELOOP):
            raise Refused(
                msg(
                    "{folder} in {place} is a file or a link, not a folder of soak's own; "
                    "remove it",
                    folder=FOLDER,
                    place=place,
                )
            ) from None
        raise
    else:
        if os.fstat(inner).st_dev == os.fstat(outer).st_dev:
            return inner
        os.close(inner)
        raise Refused(
            msg(
                "another file system is mounted at {folder} in {place}; unmount it",
                folder=FOLDER,
                place=place,
            )
        )
    finally:
        os.close(outer)


def _make_folder(place: str, outer: int) -> None:
    try:
        os.mkdir(FOLDER, 0o700, dir_fd=outer)
        _settle(outer)
    except FileExistsError:
        return
    except OSError as fault:
        raise no_writing(place, fault) from None


def _settle(folder_fd: int) -> None:
    """Bring a folder's names onto the medium, where the file system knows how."""
    try:
        os.fsync(folder_fd)
    except OSError as fault:
        if fault.errno not in _NOT_KNOWN:
            raise


def no_writing(place: str, fault: OSError) -> Exception:
    """Return the sentence for a place that takes no data; the fault itself where there is none."""
    if fault.errno == errno.EROFS:
        return Refused(
            msg(
                "{place} is mounted read-only; look for a lock slide or mount it writable",
                place=place,
            )
        )
    if fault.errno in (errno.EACCES, errno.EPERM):
        return Refused(
            msg("{place} may not be written by this user; give it to this user", place=place)
        )
    if fault.errno in (errno.ENOSPC, errno.EDQUOT):
        return Refused(msg("{place} is full; make room on it", place=place))
    return fault


def _own_id(place: str, folder_fd: int, wanted: str) -> str:
    """Return the stick's id; give it one if the folder is new. Lock it for this process."""
    try:
        assert fcntl is not None  # refused above
        fcntl.flock(folder_fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise Refused(
            msg("another soak uses {place}; give each fixture its own stick", place=place)
        ) from None
    except OSError as fault:
        if fault.errno not in _NOT_KNOWN:
            raise
    names = os.listdir(folder_fd)
    if ID not in names:
        if set(names) - {f"{ID}.new"}:
            raise Refused(
                msg(
                    "{folder} in {place} holds files soak did not make; move them away",
                    folder=FOLDER,
                    place=place,
                )
            )
        if wanted:
            raise OSError(errno.ENODEV, "another stick")
        _write_id(place, folder_fd)
    written = _read_id(place, folder_fd)
    if wanted not in ("", written):
        raise OSError(errno.ENODEV, "another stick")
    return written


def _write_id(place: str, folder_fd: int) -> None:
    flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC | SAFE
    try:
        descriptor = os.open(f"{ID}.new", flags, 0o600, dir_fd=folder_fd)
        try:
            os.write(descriptor, json.dumps({"soak_stick": secrets.token_hex(8)}).encode())
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
        os.rename(f"{ID}.new", ID, src_dir_fd=folder_fd, dst_dir_fd=folder_fd)
        _settle(folder_fd)
        # FAT keeps a file's length beside its name, and the new name says 0 B until the file is
        # flushed once more: a stick pulled before that would never be known again.
        descriptor = os.open(ID, os.O_RDONLY | SAFE, dir_fd=folder_fd)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
    except OSError as fault:
        raise no_writing(place, fault) from None


def _read_id(place: str, folder_fd: int) -> str:
    """Read the id from the medium: a mount whose stick was pulled still answers from the cache."""
    descriptor = _open_plain(place, folder_fd, ID, os.O_RDONLY)[0]
    try:
        if hasattr(os, "posix_fadvise"):
            os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
        page = mmap.mmap(-1, BLOCK_BYTES)
        text = page[: os.preadv(descriptor, [page], 0)]
        return str(json_of(text)["soak_stick"])
    except (ValueError, KeyError, TypeError):
        raise Refused(
            msg(
                "{folder}/{id} in {place} is not soak's; remove {folder}",
                folder=FOLDER,
                id=ID,
                place=place,
            )
        ) from None
    finally:
        os.close(descriptor)


def _data(place: str, folder_fd: int, *, known: bool) -> tuple[int, bool]:
    """Open the data; a stick that has become read-only is still there, and can be read."""
    try:
        return _open_plain(place, folder_fd, DATA, os.O_RDWR | os.O_CREAT)
    except OSError as fault:
        if known and fault.errno == errno.EROFS:
            return _open_plain(place, folder_fd, DATA, os.O_RDONLY)
        raise no_writing(place, fault) from None


def reopen_data(folder_fd: int) -> int:
    """Open the data anew in a folder that is open; return its descriptor."""
    try:
        return os.open(DATA, os.O_RDWR | SAFE, dir_fd=folder_fd)
    except OSError as fault:
        if fault.errno != errno.EROFS:
            raise
        return os.open(DATA, os.O_RDONLY | SAFE, dir_fd=folder_fd)


def _open_plain(place: str, folder_fd: int, name: str, flags: int) -> tuple[int, bool]:
    """Open a plain file of ours, past the cache where the file system allows it."""
    direct = bool(DIRECT)
    try:
        descriptor = os.open(name, flags | SAFE | DIRECT, 0o600, dir_fd=folder_fd)
    except OSError as fault:
        if fault.errno == errno.ELOOP:
            raise Refused(
                msg(
                    "{folder}/{name} in {place} is a link; remove it",
                    folder=FOLDER,
                    name=name,
                    place=place,
                )
            ) from None
        if fault.errno != errno.EINVAL:
            raise
        direct = False
        descriptor = os.open(name, flags | SAFE, 0o600, dir_fd=folder_fd)
    keep_nothing(descriptor)
    status = os.fstat(descriptor)
    folder = os.fstat(folder_fd)
    if stat.S_ISREG(status.st_mode) and status.st_nlink == 1 and status.st_dev == folder.st_dev:
        return descriptor, direct
    os.close(descriptor)
    raise Refused(
        msg(
            "{folder}/{name} in {place} is not a plain file of its own; remove it",
            folder=FOLDER,
            name=name,
            place=place,
        )
    )


def room(data_fd: int) -> dict[str, int]:
    """Return what the file system says of its size, B: `claims_bytes`, and `room_bytes` for us."""
    volume = os.fstatvfs(data_fd)
    claims_bytes, free_bytes = (n * volume.f_frsize for n in (volume.f_blocks, volume.f_bavail))
    return may_fill(claims_bytes, free_bytes, os.fstat(data_fd).st_blocks * 512)


def may_fill(claims_bytes: int, free_bytes: int, ours_bytes: int) -> dict[str, int]:
    """Return what a file system claims to hold and how much of it soak may fill, B.

    A part is kept free: a file system filled to the brim is slow, and so would the check be.
    """
    keep_bytes = int(max(KEEP_FREE_BYTES, KEEP_FREE_SHARE * claims_bytes))
    may_bytes = free_bytes + ours_bytes - keep_bytes
    return {"claims_bytes": claims_bytes, "room_bytes": max(0, may_bytes)}


def enough_room(place: str, found: Mapping[str, int], size_bytes: int) -> None:
    """Refuse a stick with less room than is to be filled.

    Parameters
    ----------
    found : mapping
        `claims_bytes` and `room_bytes`, as `may_fill` gives them.

    Raises
    ------
    Refused
        If so much does not fit.
    """
    if size_bytes > found["room_bytes"]:
        at_most = msg(
            "set size to at most {room_bytes} MB or make room",
            room_bytes=found["room_bytes"] // 1_000_000,
        )
        keep_bytes = max(KEEP_FREE_BYTES, KEEP_FREE_SHARE * found["claims_bytes"])
        raise Refused(
            msg(
                "{size_bytes} MB do not fit on {place} with {keep_bytes} MB kept free; {at_most}",
                size_bytes=Number(size_bytes / 1e6, ".0f"),
                place=place,
                keep_bytes=Number(keep_bytes / 1e6, ".0f"),
                at_most=at_most,
            )
        )
