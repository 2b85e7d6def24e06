"""Files that a record names by their SHA-256: read only if they are what was recorded.

Where such a file lies, somebody may have put another one, a link that leads elsewhere or a device
that never ends. So nothing is followed, nothing is read beyond a size, and the hash is compared
each time.
"""

import hashlib
import stat
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from soak.errors import JournalError
from soak.outside import NotRead, read_bytes
from soak.words import NOTHING_SAID, Message, joined, msg

MOST_BYTES = 64 << 20
"""No kept file is larger, B: a picture takes some hundred kB. Our own choice."""

GONE = msg("was recorded and is gone")
CHANGED = msg("is not the file that was recorded; it was changed or swapped since")
NOT_NAMED = msg("lies among what was recorded, and no record names it")
"""What may be the matter with a file."""


class NotAsRecorded(JournalError):
    """Report a file that is not what was recorded; `what` says why, without naming it."""

    def __init__(self, file: str, what: Message) -> None:
        self.what = what
        super().__init__(joined(": ", [file, what]))


@dataclass(frozen=True, slots=True)
class Named:
    """A file that a record names.

    Attributes
    ----------
    name : str
        Its name within the folder of what is kept; POSIX.
    sha256 : str
        Hexadecimal, as recorded.
    """

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Fault:
    """A file that is not as it was recorded, and what is the matter with it."""

    name: str
    what: Message

    @property
    def told(self) -> Message:
        """Say it in one sentence."""
        return joined(": ", [self.name, self.what])


def is_plain_name(name: str) -> bool:
    """Tell whether a name is a plain file name that every system takes and every page prints."""
    return (
        0 < len(name.encode(errors="replace")) <= 200
        and name == name.strip()
        and name.isprintable()
        and not name.startswith(".")
        and not any(sign in name for sign in "/\\")
    )


def content_of(file: Path, sha256: str) -> bytes:
    """Return the content of a file that was recorded with a SHA-256.

    Raises
    ------
    NotAsRecorded
        If it is gone, cannot be read, or is anything else than what was recorded.
    """
    data = plain_content(file)
    if hashlib.sha256(data).hexdigest() != sha256:
        emptied = msg("is empty; it was not when recorded")
        raise NotAsRecorded(str(file), CHANGED if data else emptied)
    return data


def plain_content(file: Path) -> bytes:
    """Return the content of a recorded file whose hash is compared elsewhere.

    Raises
    ------
    NotAsRecorded
        If it is gone, cannot be read, is no plain file, or is too large to be one of ours.
    """
    try:
        data = _read(file)
    except (FileNotFoundError, NotADirectoryError):
        raise NotAsRecorded(str(file), GONE) from None
    except OSError as fault:
        why = msg("cannot be read: {why}", why=str(fault.strerror))
        raise NotAsRecorded(str(file), why) from None
    if isinstance(data, Message):
        raise NotAsRecorded(str(file), data)
    return data


def faults(folder: Path, named: Sequence[Named], *, alone: bool) -> list[Fault]:
    """Return what in a folder is not as it was recorded, in order of names.

    Parameters
    ----------
    alone : bool
        Whether nothing may lie there that no record names. While a soak runs a file is there
        before its record is.
    """
    if folder.is_symlink():
        return [Fault(folder.name, msg("is a link, not the folder in which files were recorded"))]
    wrong = list(_not_as_recorded(folder, named))
    if alone:
        names = {one.name for one in named}
        wrong += [Fault(name, NOT_NAMED) for name in not_named(folder, names)]
    return sorted(wrong, key=lambda fault: fault.name)


def not_named(folder: Path, names: Collection[str]) -> list[str]:
    """Return the names of what lies in a folder and is named by no record; sorted."""
    try:
        there = {file.name for file in folder.iterdir()}
    except OSError:
        return []  # what was recorded there is then gone, and told so
    return sorted(there - set(names))


def put_aside(folder: Path, aside: Path, names: Collection[str]) -> None:
    """Move what no record names out of a folder of what is kept.

    A file is durable before its record is: a crash between the two leaves one that is no evidence,
    and that would later look as if somebody had added it.

    Raises
    ------
    OSError
        If that cannot be done.
    """
    for name in not_named(folder, names):
        aside.mkdir(exist_ok=True)
        (folder / name).replace(aside / name)


def _not_as_recorded(folder: Path, named: Sequence[Named]) -> Iterator[Fault]:
    for one in named:
        if not is_plain_name(one.name):
            yield Fault(repr(one.name), msg("cannot be the name of a kept file"))
            continue
        try:
            content_of(folder / one.name, one.sha256)
        except NotAsRecorded as fault:
            yield Fault(one.name, fault.what)


def _read(file: Path) -> bytes | Message:
    """Return what stands in a plain file, or why it is none; follows no link, waits for nobody.

    Raises
    ------
    OSError
        If it is not there or cannot be read.
    """
    other = _other_than_a_file(file.lstat().st_mode)
    if other:
        return other
    try:
        return read_bytes(file, MOST_BYTES, follow=False)
    except NotRead:
        size = MOST_BYTES >> 20
        return msg("is larger than {size} MiB, as no file is that was recorded", size=size)


def _other_than_a_file(mode: int) -> Message:
    """Say what something is instead of a plain file; nothing if it is one."""
    if stat.S_ISREG(mode):
        return NOTHING_SAID
    if stat.S_ISLNK(mode):
        return msg("is a link, not the file that was recorded")
    if stat.S_ISDIR(mode):
        return msg("is a folder, not the file that was recorded")
    return msg("is a device or a pipe, not the file that was recorded")
