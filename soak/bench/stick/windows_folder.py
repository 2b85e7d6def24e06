"""The folder of our own on a stick, on Windows: same files, same rules as `stick_folder`.

Runs in the child process; only the standard library is imported.

References
----------
Microsoft, Windows App Development, fileapi.h (GetDriveTypeW, GetLogicalDrives, GetVolumePathNameW,
GetVolumeInformationW, GetFileAttributesW, GetDiskFreeSpaceExW).
"""

import ctypes
import errno
import json
import os
import secrets
import string
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from soak.bench.stick.folder import (
    BLOCK_BYTES,
    DATA,
    FOLDER,
    ID,
    Refused,
    enough_room,
    may_fill,
    no_writing,
)
from soak.bench.stick.windows_files import (
    ERRNO,
    FILE_ATTRIBUTE_DIRECTORY,
    FILE_ATTRIBUTE_REPARSE_POINT,
    INVALID_FILE_ATTRIBUTES,
    Kernel,
    WindowsFile,
    read_block,
)
from soak.natures import Nature
from soak.outside import json_of
from soak.words import msg

_KINDS = {0: "of unknown kind", 1: "that is not there", 4: "on a network", 6: "in memory"}
"""Kinds of drives that GetDriveTypeW tells and whose reads prove nothing; 2 can be pulled, 3 is
fixed, 5 an optical disk."""
_LONGEST = 261
"""MAX_PATH and a zero."""


def open_windows_folder(
    kernel: Kernel, place: str, stick_id: str, size_bytes: int, vouched: Sequence[str]
) -> tuple[WindowsFile, dict[str, Any]]:
    """Open our folder and the data in it; return the data with what the stick is.

    Parameters
    ----------
    place : str
        The folder on the stick in which ours lies or will lie.
    stick_id : str
        The stick wanted; empty for any, which is given an id if it has none.
    size_bytes : int
        How much must fit, looked at where any stick will do.
    vouched : sequence of str
        File systems the operator vouches for.

    Raises
    ------
    Refused
        If the folder cannot or must not be used.
    OSError
        If it is not the stick wanted (ENODEV), or the medium fails.
    """
    inner = _own_folder(kernel, place, may_make=not stick_id)
    found_id = _own_id(kernel, place, inner, stick_id)
    data = _data(kernel, place, inner)
    try:
        identity: dict[str, Any] = {"folder": place, "stick_id": found_id, "direct": data.direct}
        identity |= _volume(kernel, place)
        identity["nature"] = _nature(kernel, identity["device"])
        data.why_cached = _why_cached(kernel, identity["device"], identity["file_system"], vouched)
        identity |= _room(kernel, inner)
        if not stick_id:
            enough_room(place, identity, size_bytes)
    except BaseException:
        data.close()
        raise
    return data, identity | ({"why_cached": data.why_cached} if data.why_cached else {})


def other_places(kernel: Kernel, inside: str) -> list[str]:
    """Return where else the folder may lie: in the same place on each drive there is."""
    there = kernel.calls.GetLogicalDrives()
    letters = [one for bit, one in enumerate(string.ascii_uppercase) if there >> bit & 1]
    return [str(Path(f"{letter}:\\", inside)) for letter in letters]


def _own_folder(kernel: Kernel, place: str, *, may_make: bool) -> Path:
    kind = _attributes(kernel, Path(place))
    if kind is None:
        raise Refused(
            msg("there is no folder {place}; mount the stick or correct folder", place=place)
        )
    if not kind & FILE_ATTRIBUTE_DIRECTORY:
        raise Refused(
            msg("{place} is not a folder; give the folder the stick is mounted at", place=place)
        )
    inner = Path(place, FOLDER)
    if may_make and _attributes(kernel, inner) is None:
        try:
            inner.mkdir()
        except OSError as fault:
            raise no_writing(place, _known(fault)) from None
    kind = _attributes(kernel, inner)
    if kind is None:
        raise OSError(errno.ENODEV, "the stick is not there")
    if not kind & FILE_ATTRIBUTE_DIRECTORY or kind & FILE_ATTRIBUTE_REPARSE_POINT:
        raise Refused(
            msg(
                "{folder} in {place} is a file or a link, not a folder of soak's own; remove it",
                folder=FOLDER,
                place=place,
            )
        )
    return inner


def _attributes(kernel: Kernel, path: Path) -> int | None:
    bits: int = kernel.calls.GetFileAttributesW(str(path))
    return None if bits == INVALID_FILE_ATTRIBUTES else bits


def _own_id(kernel: Kernel, place: str, inner: Path, wanted: str) -> str:
    names = {path.name for path in inner.iterdir()}
    if ID not in names:
        if names - {f"{ID}.new"}:
            raise Refused(
                msg(
                    "{folder} in {place} holds files soak did not make; move them away",
                    folder=FOLDER,
                    place=place,
                )
            )
        if wanted:
            raise OSError(errno.ENODEV, "another stick")
        _write_id(place, inner)
    try:
        text = read_block(kernel, str(inner / ID), BLOCK_BYTES)
        written = str(json_of(text)["soak_stick"])
    except (ValueError, KeyError, TypeError):
        raise Refused(
            msg(
                "{folder}/{id} in {place} is not soak's; remove {folder}",
                folder=FOLDER,
                id=ID,
                place=place,
            )
        ) from None
    except OSError as fault:
        raise _link_or(fault, place, ID) from None
    if wanted not in ("", written):
        raise OSError(errno.ENODEV, "another stick")
    return written


def _write_id(place: str, inner: Path) -> None:
    new = inner / f"{ID}.new"
    try:
        with new.open("wb") as file:
            file.write(json.dumps({"soak_stick": secrets.token_hex(8)}).encode())
            file.flush()
            os.fsync(file.fileno())
        new.rename(inner / ID)
        with (inner / ID).open("r+b") as file:
            os.fsync(file.fileno())  # FAT keeps a file's length beside its name
    except FileExistsError:
        return  # another soak was quicker; which of the two has the stick, its data decides
    except OSError as fault:
        raise no_writing(place, _known(fault)) from None


def _data(kernel: Kernel, place: str, inner: Path) -> WindowsFile:
    try:
        return WindowsFile(kernel, str(inner / DATA), may_make=True)
    except OSError as fault:
        if fault.errno == errno.EBUSY:
            raise Refused(
                msg(
                    "another soak, or another program, has {folder}/{data} in {place} open; give "
                    "each fixture its own stick",
                    folder=FOLDER,
                    data=DATA,
                    place=place,
                )
            ) from None
        refused = _link_or(fault, place, DATA)
        raise refused if isinstance(refused, Refused) else no_writing(place, refused) from None


def _link_or(fault: OSError, place: str, name: str) -> OSError | Refused:
    if fault.errno == errno.ELOOP:
        return Refused(
            msg(
                "{folder}/{name} in {place} is not a plain file of its own; remove it",
                folder=FOLDER,
                name=name,
                place=place,
            )
        )
    return fault


def _known(fault: OSError) -> OSError:
    """Give a fault the number soak knows: Python tells write protection as a lack of rights."""
    number = ERRNO.get(getattr(fault, "winerror", None) or 0, fault.errno or errno.EIO)
    return OSError(number, fault.strerror)


def _volume(kernel: Kernel, place: str) -> dict[str, Any]:
    """Return root and file system of the volume, and the folder's place in it."""
    name = ctypes.create_unicode_buffer(_LONGEST)
    kind = ctypes.create_unicode_buffer(_LONGEST)
    at = str(Path(place).absolute())
    if not kernel.calls.GetVolumePathNameW(at, name, _LONGEST):
        raise kernel.fault(place)
    root = name.value
    nothing = (None, 0, None, None, None)
    answered = kernel.calls.GetVolumeInformationW(root, *nothing, kind, _LONGEST)
    inside = os.path.relpath(at, root)
    return {"device": root, "file_system": kind.value if answered else "", "inside": inside}


def _room(kernel: Kernel, inner: Path) -> dict[str, int]:
    free = ctypes.c_uint64()
    total = ctypes.c_uint64()
    asked = (ctypes.byref(free), ctypes.byref(total), None)
    if not kernel.calls.GetDiskFreeSpaceExW(str(inner), *asked):
        raise kernel.fault(str(inner))
    return may_fill(total.value, free.value, (inner / DATA).stat().st_size)


def _nature(kernel: Kernel, root: str) -> Nature:
    """Tell a drive that can be pulled from others; big USB disks call themselves fixed."""
    drive = kernel.calls.GetDriveTypeW(root)
    if drive == 2:
        return Nature.DEVICE
    return Nature.FOLDER if drive in _KINDS and drive else Nature.UNKNOWN


def _why_cached(kernel: Kernel, root: str, kind: str, vouched: Sequence[str]) -> str:
    if kind in vouched:
        return ""
    drive = kernel.calls.GetDriveTypeW(root)
    return f"a drive {_KINDS[drive]} may answer from memory" if drive in _KINDS else ""
