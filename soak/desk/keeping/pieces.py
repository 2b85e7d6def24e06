"""What of a bench's folder goes into a backup, piece by piece, and what does not and why."""

import os
import stat
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from soak.desk.bench_folder import JOURNAL
from soak.desk.places import KEPT_OF_A_BENCH, LEDGER
from soak.desk.soaking.in_use import FOLDER as LOCKS
from soak.desk.trust.keys import PRIVATE_KEY
from soak.errors import JournalError
from soak.journal import open_evidence
from soak.journal.copying import ADDED, as_it_stands, unwritten
from soak.journal.kept import Fault
from soak.journal.reserve import FILE as RESERVE
from soak.journal.sealing import FILE as SEAL
from soak.outside import stays_inside
from soak.run.asking import ASKED
from soak.words import Message, msg

_OF_A_PROGRAM = (LOCKS, RESERVE, ASKED)
"""What only a running program means: its locks, the room it keeps back, what it asks just now."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One file of a bench.

    Attributes
    ----------
    name : str
        Its place within the bench's folder; POSIX.
    content : bytes or None
        A copy of what somebody is writing; None: as the file is.
    """

    name: str
    path: Path
    content: bytes | None = None


@dataclass(slots=True)
class Pieces:
    """What there is of a bench, told while it is gone through.

    Attributes
    ----------
    with_key : bool
        Whether the private key is among it.
    also : sequence of str
        Names within the bench's folder that are no part of a bench, and are wanted.
    folders : dict of str to int
        Mode by name of each folder.
    running : list of str
        Soaks that a program is writing.
    wrong : list of Fault
        What was left out, or copied though it cannot be read.
    """

    bench: Path
    with_key: bool
    also: Sequence[str] = ()
    folders: dict[str, int] = field(default_factory=dict)
    running: list[str] = field(default_factory=list)
    wrong: list[Fault] = field(default_factory=list)

    def roots(self) -> list[Path]:
        """Return what lies in the bench's folder and belongs to it."""
        names = dict.fromkeys([*KEPT_OF_A_BENCH, *self.also])
        return [self.bench / name for name in names if (self.bench / name).exists()]

    def not_taken(self) -> list[str]:
        """Return the names of what else lies in the bench's folder; sorted."""
        own = {path.name for path in self.roots()} | {LEDGER + end for end in ADDED}
        return sorted(path.name for path in self.bench.iterdir() if path.name not in own)

    def size_bytes(self) -> int:
        """Return how much it is together, about."""
        files = [root for root in self.roots() if not root.is_dir()]
        for root in self.roots():
            files += [Path(at) / name for at, _, names in os.walk(root) for name in names]
        return sum(file.lstat().st_size for file in files if os.path.lexists(file))

    def walk(self) -> Iterator[Piece]:
        """Yield every piece; while one of a soak's is yielded, nobody goes on with that soak."""
        for path in self.roots():
            if path.is_dir():
                yield from self._within(path, path.name)
            elif path.name == LEDGER:
                yield from self._database(path, path.name)
            else:
                yield from self._plain(path, path.name)

    def _within(self, folder: Path, name: str) -> Iterator[Piece]:
        if not (folder / JOURNAL).is_file():
            yield from self._entries(folder, name, ())
            return
        try:
            open_evidence(folder).contents()
        except JournalError as fault:
            self.wrong.append(Fault(f"{name}/{JOURNAL}", _copied_as_it_is(fault)))
        with unwritten(folder) as alone:
            if alone or (folder / SEAL).is_file():
                yield from self._entries(folder, name, ())
                return
            self.running.append(folder.name)
            # The journal first: a file is there before the record that names it.
            yield from self._database(folder / JOURNAL, f"{name}/{JOURNAL}")
            yield from self._entries(folder, name, [JOURNAL, *(JOURNAL + end for end in ADDED)])

    def _entries(self, folder: Path, name: str, passed: Sequence[str]) -> Iterator[Piece]:
        try:
            entries = sorted(folder.iterdir())
            self.folders[name] = stat.S_IMODE(folder.stat().st_mode)
        except OSError as fault:
            self.wrong.append(Fault(name, cannot_be_read(fault)))
            return
        for entry in entries:
            if entry.name not in passed and not _is_of_a_program(entry):
                yield from self._entry(entry, f"{name}/{entry.name}")

    def _entry(self, path: Path, name: str) -> Iterator[Piece]:
        try:
            mode = path.lstat().st_mode
        except OSError:
            return  # a running soak took it away meanwhile
        if not stays_inside(name):
            self.wrong.append(Fault(name, msg("no other system takes such a name; rename it")))
        elif stat.S_ISDIR(mode):
            yield from self._within(path, name)
        elif stat.S_ISREG(mode):
            is_nested = path.name == LEDGER
            yield from self._database(path, name) if is_nested else self._plain(path, name)
        elif not stat.S_ISSOCK(mode):
            self.wrong.append(Fault(name, msg("is no plain file and was left out")))

    def _plain(self, path: Path, name: str) -> Iterator[Piece]:
        if self.with_key or name != PRIVATE_KEY:
            yield Piece(name, path)

    def _database(self, path: Path, name: str) -> Iterator[Piece]:
        """Yield a database that may be written just now; as its files are, if it is damaged."""
        try:
            yield Piece(name, path, as_it_stands(path))
        except JournalError as fault:
            self.wrong.append(Fault(name, _copied_as_it_is(fault)))
            for end in ("", *ADDED[:2]):
                if path.with_name(path.name + end).is_file():
                    yield Piece(name + end, path.with_name(path.name + end))


def cannot_be_read(fault: OSError) -> Message:
    """Say why something was left out."""
    return msg("cannot be read: {why}", why=str(fault.strerror))


def _copied_as_it_is(fault: JournalError) -> Message:
    return msg("was copied as the file is: {why}", why=fault.told)


def _is_of_a_program(entry: Path) -> bool:
    """Tell whether a file means something only to the program that runs with it."""
    name = entry.name
    half_written = name.startswith(".") and name.endswith(".part")
    return name in _OF_A_PROGRAM or half_written or name.endswith(".sqlite-shm")
