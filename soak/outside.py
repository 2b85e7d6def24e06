"""What comes from outside: files that somebody named, and JSON that somebody else wrote.

Whatever stands under a name, reading it ends, takes bounded memory, and gives bytes, text or one
sentence.
"""

import errno
import json
import os
import stat
from io import BufferedReader
from math import isfinite
from pathlib import Path, PurePosixPath
from typing import Any, NoReturn

from soak.quantities import show_bytes
from soak.words import Message, msg

MOST_BYTES = 64 << 20
"""A file that somebody named is refused above this, B. Own choice: pages, papers, photographs and
tables take some MB."""
_KINDS = (
    (stat.S_ISDIR, msg("it is a folder; give a file in it")),
    (stat.S_ISFIFO, msg("it is a pipe, no file; save what comes out of it first")),
    (stat.S_ISSOCK, msg("it is a socket, no file")),
    (stat.S_ISCHR, msg("it is a device, no file")),
    (stat.S_ISBLK, msg("it is a device, no file")),
)
_GONE = (errno.ENODEV, errno.ENXIO, errno.EIO)
"""What a system says of a medium that was pulled: that is not the same as no such name."""
_FLAGS = ("O_NONBLOCK", "O_BINARY", "O_NOCTTY", "O_CLOEXEC")
"""Where a system has them: no waiting for a pipe's other end, line ends as they are, no terminal
taken over, closed in children."""


class NotRead(OSError):
    """Report a file that is not read, though the system might; `told` says why."""

    def __init__(self, file: Path, told: Message) -> None:
        super().__init__(errno.EINVAL, told, str(file))
        self.told = told


def read_bytes(file: Path, most_bytes: int = MOST_BYTES, *, follow: bool = True) -> bytes:
    """Return what is in a file.

    A pipe, a device or a socket is refused before anything waits for it, a folder and what is too
    large, too; a file that grows meanwhile is read no further than `most_bytes`.

    Parameters
    ----------
    follow : bool
        Whether a link leads to the file; else the system refuses it, with ELOOP.

    Raises
    ------
    OSError
        If it is not there or not readable; `NotRead`: if it is no regular file, or too large.
    """
    with opened(file, follow=follow) as stream:
        large = os.fstat(stream.fileno()).st_size > most_bytes
        data = b"" if large else stream.read(most_bytes + 1) or b""
    if large or len(data) > most_bytes:
        raise NotRead(file, msg("it is larger than {most}", most=show_bytes(most_bytes)))
    return data


def opened(file: Path, *, follow: bool = True) -> BufferedReader:
    """Open a file to read, for what is too large to be held; else use `read_bytes`.

    Raises
    ------
    OSError
        As `read_bytes`.
    """
    try:
        # To open a device may do something to it.
        _refuse_what_is_none(file, file.stat(follow_symlinks=follow))
        flags = _FLAGS if follow else (*_FLAGS, "O_NOFOLLOW")
        handle = os.open(file, os.O_RDONLY | sum(getattr(os, flag, 0) for flag in flags))
    except ValueError:  # a NUL in its name, or what no file system can write
        raise NotRead(file, msg("no file can have such a name")) from None
    stream = os.fdopen(handle, "rb")
    try:
        _refuse_what_is_none(file, os.fstat(handle))
    except NotRead:
        stream.close()
        raise
    return stream


def _refuse_what_is_none(file: Path, status: os.stat_result) -> None:
    told = next((told for is_kind, told in _KINDS if is_kind(status.st_mode)), None)
    if told is not None:
        raise NotRead(file, told)


def read_text(file: Path, most_bytes: int = MOST_BYTES) -> str:
    """Return the text in a file: UTF-8, with or without the mark that some editors put first.

    Raises
    ------
    OSError
        As `read_bytes`.
    UnicodeDecodeError
        If it is no UTF-8.
    """
    return read_bytes(file, most_bytes).decode("utf-8-sig")


def is_file(file: Path) -> bool:
    """Tell whether a file is there under a name; one that no file can have is none."""
    try:
        return file.is_file()
    except (OSError, ValueError):
        return False


def is_folder(folder: Path) -> bool:
    """Tell whether a folder is there under a name; one that no folder can have is none.

    Raises
    ------
    OSError
        If the medium went that it is on.
    """
    try:
        return folder.is_dir()
    except ValueError:
        return False
    except OSError as fault:
        if fault.errno in _GONE:
            raise
        return False


def stays_inside(name: str) -> bool:
    """Tell whether a listed name is a place below a folder on every system, written one way."""
    path = PurePosixPath(name)
    if not path.parts or path.is_absolute() or "\\" in name or ":" in path.parts[0]:
        return False
    return ".." not in path.parts and path.as_posix() == name and _is_text(name)


def _is_text(name: str) -> bool:
    """Tell whether a name can be written as UTF-8, and has no NUL in it."""
    try:
        return b"\0" not in name.encode()
    except UnicodeEncodeError:
        return False


def json_of(text: str | bytes) -> Any:
    """Return JSON data.

    Raises
    ------
    ValueError
        If it is none by RFC 8259 (such as NaN), nested too deeply, or a number has too many digits
        or is larger than any float.
    """
    try:
        return json.loads(text, parse_constant=_no_number, parse_float=_finite)
    except RecursionError:
        raise ValueError("nested too deeply") from None


def _finite(digits: str) -> float:
    number = float(digits)
    return number if isfinite(number) else _no_number(digits[:20])


def _no_number(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number")
