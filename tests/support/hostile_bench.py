"""A bench with soaks, hostile files beside it, and the program that is to bear them."""

import contextlib
import os
import shutil
import zlib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from hostile_input import CONTENTS, make_files
from hostile_screen import wrongs
from typed_bench import make_bench, typed
from verbs_beside import VerbsBeside

from soak.errors import ExitCode
from soak.outside import is_file

LEDGER = "ledger.sqlite"
"""A bench that has none gets an empty one by being asked of its units."""
PASSING = (".in-use", ".guard")
"""What says who uses the bench just now; no content of it."""


class HostileBench:
    """The bench.

    Attributes
    ----------
    files : mapping of name to path
        What may be given as a file.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        made = make_bench(folder / "bench")
        self.path = made.path
        typed("--bench", str(self.path), "key")
        typed("--bench", str(self.path), "report", "K1")
        made.write("lives.csv", "unit,hours,failed\nA,10,1\n")
        made.write("details/K1-1.toml", "")
        self.files = make_files(folder / "files")
        self._beside = VerbsBeside(folder)
        self._seen: dict[str, tuple[tuple[int, ...], int]] = {}
        self._begun: set[str] = set()
        self._changed()

    def wrongs(self, words: Sequence[str]) -> list[str]:
        """Type a command; return what it did wrong."""
        shown = self._beside.soak(self.path, *words)
        found = list(wrongs(shown))
        known = shown.code in set(ExitCode) - {ExitCode.BROKE}
        if not known:
            found.append(f"code {shown.code}: {shown.shown[-300:]!r}")
        changed = self._changed()
        if shown.code == ExitCode.USAGE and set(changed) - self._begun:
            found.append(f"refused, and changed {changed}")
        return found

    def of_ending(self, ending: str) -> Mapping[str, Path]:
        """Return all contents, in files of an ending."""
        folder = self._folder / f"of{ending}"
        folder.mkdir()
        made = {name: folder / f"{name.replace(' ', '-')}{ending}" for name in CONTENTS}
        for name, file in made.items():
            file.write_bytes(CONTENTS[name])
        return made

    @contextlib.contextmanager
    def instead(self, place: str, other: Path) -> Iterator[None]:
        """Let something else stand in a place of the bench; it is a copy, or a link to it."""
        file = self.path / place
        kept = self._folder / "kept"
        is_there = file.exists()
        if is_there:
            file.rename(kept)
        file.parent.mkdir(exist_ok=True)
        small = is_file(other) and not other.is_symlink() and 0 < other.stat().st_size < 1 << 20
        if small:
            shutil.copyfile(other, file)
            file.chmod(0o600)
        else:
            file.symlink_to(other)
        self._changed()
        try:
            yield
        finally:
            file.unlink()
            if is_there:
                kept.rename(file)
            self._changed()

    def __enter__(self) -> "HostileBench":
        self._beside.__enter__()
        return self

    def __exit__(self, *_: object) -> None:
        self._beside.__exit__()

    def _changed(self) -> list[str]:
        """Return which files have other bytes than when this was last asked."""
        changed = []
        there = dict(self._files())
        for name in self._seen.keys() - there.keys():
            del self._seen[name]
            changed.append(name)
        for name, status in there.items():
            before = self._seen.get(name)
            stamp = (status.st_size, status.st_mtime_ns, status.st_ino)
            if before is not None and before[0] == stamp:
                continue
            digest = zlib.crc32((self.path / name).read_bytes())
            self._seen[name] = (stamp, digest)
            if before is None or before[1] != digest:
                changed.append(name)
            if before is None and Path(name).name == LEDGER:
                self._begun.add(name)
        return changed

    def _files(self) -> Iterator[tuple[str, os.stat_result]]:
        for folder, inner, names in os.walk(self.path):
            inner[:] = [name for name in inner if name not in PASSING]
            for name in names:
                file = Path(folder, name)
                of_sqlite = name.endswith(("-wal", "-shm"))  # come and go as others read
                if file.is_file() and not file.is_symlink() and not of_sqlite:
                    yield str(file.relative_to(self.path)), file.stat()
