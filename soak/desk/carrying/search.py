"""Find a pack's files wherever they are now, under whatever name."""

import contextlib
import os
import stat
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from io import FileIO
from pathlib import Path
from typing import Literal

from soak.desk.carrying.manifest import Manifest, is_stamp
from soak.desk.carrying.place import FOLDER, is_there, naming, reading_fault
from soak.errors import UsageError
from soak.measure.stick.carried import (
    LEAST_KNOWN_BYTES,
    ContentId,
    Pack,
    said_by,
    said_by_name,
    tiny_of,
)
from soak.measure.stick.carried_file import FileFound, FileLook
from soak.words import Tell, msg

_SAMPLE_BYTES = 1 << 16
_PIECE_BYTES = 1 << 22
_BLOCK_BYTES = 4096
"""The system reads a file in pages of so much, so a bad sector is found to a page."""
MOST_FILES = 200_000
"""A folder with more is not a stick or a unit's media folder: somebody named the wrong one."""

Comes = Literal["whole", "changed", "in place", "missing"]


@dataclass(frozen=True, slots=True)
class Copy:
    """One file of the pack that was found.

    Attributes
    ----------
    where : str
        Path within the folder that was searched.
    original : bool
        Whether it lies as it was packed, so that it shows nothing of the unit.
    found : FileFound
        What came of it.
    """

    where: str
    original: bool
    found: FileFound


@dataclass(frozen=True, slots=True)
class Unread:
    """A copy that the stick does not give back to its end: no evidence for or against.

    Attributes
    ----------
    where : str
        Path within the folder that was searched.
    at_bytes : int
        Where in it the first bad place lies, to a block.
    """

    where: str
    at_bytes: int


@dataclass(frozen=True, slots=True)
class Came:
    """What came of one file of the pack, all its copies seen."""

    number: int
    length_bytes: int
    copies: Sequence[Copy]
    unreadable: Sequence[Unread] = ()

    @property
    def carried(self) -> Sequence[Copy]:
        """The copies that something else than packing wrote."""
        return [copy for copy in self.copies if not copy.original]

    @property
    def came(self) -> Comes:
        """What came of it; one changed copy outweighs a whole one."""
        if any(copy.found.came == "changed" for copy in self.carried):
            return "changed"
        if self.carried:
            return "whole"
        return "in place" if self.copies else "missing"

    @property
    def original_is_whole(self) -> bool:
        """Whether nothing is known against what the stick itself holds."""
        return all(copy.found.came == "whole" for copy in self.copies if copy.original)


@dataclass(frozen=True, slots=True)
class Seen:
    """Every file below a folder with what its data says.

    Attributes
    ----------
    said : mapping of Path to ContentId
        Files whose data is of some pack.
    others : sequence of (Path, int)
        All others with their lengths, B.
    unread : sequence of Path
        Folders and files that the stick does not even list.
    """

    folder: Path
    said: Mapping[Path, ContentId]
    others: Sequence[tuple[Path, int]]
    unread: Sequence[Path] = ()

    @property
    def packs(self) -> frozenset[Pack]:
        """The packs that some data is of."""
        return frozenset(content.pack for content in self.said.values())


def look_around(folder: Path) -> Seen:
    """Read samples of every file below a folder; links are not followed.

    Raises
    ------
    UsageError, BenchFault
        If there are too many files, or the medium fails.
    """
    said: dict[Path, ContentId] = {}
    others: list[tuple[Path, int]] = []
    unread: list[Path] = []
    try:
        for path, length_bytes in _files(folder, unread):
            what = _said(folder, path, length_bytes)
            if what is None:
                others.append((path, length_bytes))
            else:
                said[path] = what
    except OSError as fault:
        raise reading_fault(folder, fault) from None
    return Seen(folder, said, others, unread)


def _files(folder: Path, unread: list[Path]) -> Iterator[tuple[Path, int]]:
    """Yield every file with its length, B; what cannot be listed goes into `unread`."""

    def fail(fault: OSError) -> None:
        if isinstance(fault, PermissionError):  # what this user may not see is nobody's copy
            return
        _refuse_if_gone(folder, fault)
        unread.append(Path(str(fault.filename)))

    count = 0
    for where, folders, names in os.walk(folder, onerror=fail):
        folders.sort()
        for name in sorted(names):
            path = Path(where) / name
            try:
                status = path.lstat()
            except OSError as fault:
                fail(fault)
                continue
            if stat.S_ISREG(status.st_mode) and os.access(path, os.R_OK):
                count += 1
                if count > MOST_FILES:
                    raise UsageError(
                        msg(
                            "{folder}: more than {most_files} files lie there; name a smaller "
                            "folder",
                            folder=str(folder),
                            most_files=MOST_FILES,
                        )
                    )
                yield path, status.st_size


def _said(folder: Path, path: Path, length_bytes: int) -> ContentId | None:
    """Return what the first piece speaks of that says anything; a bad place says nothing."""
    for begin in _beginnings(length_bytes):
        try:
            with path.open("rb") as stream:
                stream.seek(begin)
                piece = stream.read(_SAMPLE_BYTES)
        except OSError as fault:
            _refuse_if_gone(folder, fault)
            continue
        if (what := said_by(piece)) is not None:
            return what
    return None


def _refuse_if_gone(folder: Path, fault: OSError) -> None:
    """Raise the fault unless it is of one file: the stick itself is still there."""
    if not is_there(folder, fault):
        raise fault


def _beginnings(length_bytes: int) -> list[int]:
    """Return where pieces begin, of whole sectors: at the beginning, in the middle, at the end."""
    middle = length_bytes // 2 // 512 * 512
    last = max(0, length_bytes - _SAMPLE_BYTES) // 512 * 512
    return sorted({0, middle, last})


def find_all(
    seen: Seen,
    pack: Pack,
    manifest: Manifest | None,
    *,
    through_folder: bool,
    told: Tell = lambda _: None,
) -> Sequence[Came]:
    """Look through every file of a pack.

    Parameters
    ----------
    through_folder : bool
        Whether the folder is the unit's storage, so that no original can be in it.
    """
    mine = {path: one.number for path, one in seen.said.items() if one.pack == pack}
    for path, length_bytes in seen.others:
        number = _number_of(seen.folder, path, length_bytes, pack)
        if number is not None:
            mine[path] = number
    copies: dict[int, list[Copy]] = {}
    unreadable: dict[int, list[Unread]] = {}
    for count, (path, number) in enumerate(sorted(mine.items()), 1):
        told(msg("looking through {number} of {of}", number=count, of=len(mine)))
        original = not through_folder and _in_place(
            seen.folder, path, pack, number=number, manifest=manifest
        )
        where = path.relative_to(seen.folder).as_posix()
        where = where.encode("utf-8", "replace").decode()  # a name may hold any bytes
        arrivals = _look_through(seen.folder, path, pack, number)
        if not isinstance(arrivals, FileFound):
            unreadable.setdefault(number, []).append(Unread(where, arrivals))
            continue
        copies.setdefault(number, []).append(Copy(where, original, arrivals))
    return [
        Came(number, length_bytes, copies.get(number, ()), unreadable.get(number, ()))
        for number, length_bytes in enumerate(pack.lengths_bytes)
    ]


def _number_of(folder: Path, path: Path, length_bytes: int, pack: Pack) -> int | None:
    """Return which file one is whose data says nothing: by its name, or tiny and just so."""
    named = said_by_name(path.name)
    if named is not None and named.pack == pack:
        return named.number
    if 0 < length_bytes < LEAST_KNOWN_BYTES:
        try:
            tiny = tiny_of(pack, path.read_bytes())
        except OSError as fault:
            _refuse_if_gone(folder, fault)
            return None
        return tiny.number if tiny else None
    return None


def _in_place(folder: Path, path: Path, pack: Pack, number: int, manifest: Manifest | None) -> bool:
    """Return whether a file lies where and as it was packed."""
    outer = folder if folder.name.upper() == FOLDER else folder / FOLDER
    if path.parent.name.upper() != FOLDER or path.parent.parent != outer.parent:
        return False
    named = said_by_name(path.name)
    if named is None or (named.pack, named.number) != (pack, number):
        return False
    stamped = manifest is None or manifest.stamped
    return is_stamp(number, path.stat().st_mtime) or not stamped


def _look_through(folder: Path, path: Path, pack: Pack, number: int) -> FileFound | int:
    """Look through one file; where it cannot be read though the stick is there, return that, B."""
    look = FileLook(pack, number)
    at_bytes = 0
    try:
        with naming(path), path.open("rb", buffering=0) as stream:
            if hasattr(os, "posix_fadvise"):  # what this computer wrote or read before is no news
                os.posix_fadvise(stream.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
            while data := _piece(stream):
                look.take(data)
                at_bytes += len(data)
    except OSError as fault:
        if not is_there(folder, fault):
            raise reading_fault(folder, fault) from None
        return at_bytes + _bad_at(path, at_bytes)
    return look.end()


def _piece(stream: FileIO) -> bytes:
    """Read a piece of whole sectors; all but the last are as long as was asked."""
    data = b""
    while len(data) < _PIECE_BYTES and (more := stream.read(_PIECE_BYTES - len(data))):
        data += more
    return data


def _bad_at(path: Path, from_bytes: int) -> int:
    """Return how far behind a place the first block lies that cannot be read, B."""
    with contextlib.suppress(OSError), path.open("rb", buffering=0) as stream:
        stream.seek(from_bytes)
        for done in range(0, _PIECE_BYTES, _BLOCK_BYTES):
            try:
                stream.read(_BLOCK_BYTES)
            except OSError:
                return done
    return 0
