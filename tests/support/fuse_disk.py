"""A disk whose power can be cut: a mounted folder served by a process of its own.

    with FuseDisk(tmp_path) as disk:
        ...write below disk.folder, in this or another process...
        disk.cut(tmp_path / "survivors")

`why_not()` of `fuse_kernel` says whether that is possible here.
"""

import os
import random
import subprocess
import sys
from pathlib import Path
from types import TracebackType

from fuse_kernel import mount, serve, unmount
from fuse_tree import Tree


class FuseDisk:
    """The handle on the serving process; `folder` is where the disk is mounted."""

    def __init__(self, beside: Path, name: str = "disk") -> None:
        self.folder = beside / name
        self.folder.mkdir(parents=True)
        self._server = subprocess.Popen(
            [sys.executable, __file__, str(self.folder)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        if self._answer() != "mounted":
            self.close()
            raise OSError(f"{self.folder}: could not be mounted")

    def cut(self, survivors: Path, seed: int | None = None) -> None:
        """Cut the power; what is on the medium then lies in `survivors`.

        Without a seed nothing survives that was not synced; with one, a mixture of it does.
        """
        self._tell(f"cut {'-' if seed is None else seed} {survivors}")

    def cut_at_sync(self, number: int, survivors: Path, seed: int | None = None) -> None:
        """Have the power cut when that many syncs were done and the next is asked for."""
        self._tell(f"at {number} {'-' if seed is None else seed} {survivors}")

    def set_room(self, room_bytes: int) -> None:
        """Say how many bytes may still be added before the disk is full."""
        self._tell(f"room {room_bytes}")

    def syncs(self) -> int:
        """Return how often something was synced so far."""
        return int(self._tell("syncs"))

    def close(self) -> None:
        """Unmount and end the server."""
        unmount(self.folder)
        for stream in (self._server.stdin, self._server.stdout):
            if stream is not None:
                stream.close()
        self._server.wait()

    def __enter__(self) -> "FuseDisk":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _tell(self, line: str) -> str:
        assert self._server.stdin is not None
        self._server.stdin.write(f"{line}\n")
        self._server.stdin.flush()
        return self._answer()

    def _answer(self) -> str:
        assert self._server.stdout is not None
        return self._server.stdout.readline().strip()


def _main(folder: Path) -> None:
    tree = Tree()
    handle = mount(folder)
    _say("mounted")

    def command(line: str) -> bool:
        verb, _, rest = line.partition(" ")
        if verb == "cut":
            _cut(tree, rest)
        elif verb == "at":
            number, _, how = rest.partition(" ")
            tree.before_sync = lambda syncs: _cut(tree, how) if syncs == int(number) else None
        elif verb == "room":
            tree.room_bytes = int(rest)
        _say(str(tree.syncs))
        return True

    try:
        serve(handle, tree, sys.stdin.buffer.raw, command)
    finally:
        unmount(folder)
        os.close(handle)


def _cut(tree: Tree, how: str) -> None:
    seed, _, survivors = how.partition(" ")
    tree.cut(Path(survivors), None if seed == "-" else random.Random(int(seed)))


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    _main(Path(sys.argv[1]))
