"""A faulty stick: a mounted folder, served by a process of its own, that returns what it is told.

    with FuseStick(tmp_path) as stick:
        ...write below stick.folder...
        stick.be(flips={5000: 1})       # from now on bit 0 of byte 5000 of the data comes wrong
        stick.be()                      # well again

Faults lie behind the page cache: a read that the cache answers does not see them. `why_not()` of
`fuse_kernel` says whether that is possible here.
"""

import errno
import json
import os
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import TracebackType

from fuse_kernel import mount, serve, unmount
from fuse_tree import Node, Refused, Tree

FROM_BYTES = 65536
"""A sector that comes from elsewhere comes from so much further on."""

BEAT_S = 0.05
DATA_IS_LONGER_BYTES = 4096
"""Files up to this size (the stick's id) are left alone by all but `gone` and `stall_s`."""


class FaultyTree(Tree):
    """Files in memory that come back as the faults say."""

    def __init__(self) -> None:
        super().__init__()
        self.be: dict[str, object] = {}
        self.before: dict[int, bytes] = {}
        self.read_bytes = 0

    def node(self, number: int) -> Node:
        """Return a node; a pulled stick has none."""
        if self.be.get("gone"):
            raise Refused(int(self.be["gone"]))
        return super().node(number)

    def keep(self) -> None:
        """Remember what is on the stick now, for reads that return old data."""
        self.before = {number: bytes(node.data) for number, node in self._nodes.items()}

    def read(self, node: Node, offset: int, size: int) -> bytes:
        """Return bytes as this stick returns them."""
        if stall_s := self.be.pop("stall_s", 0):
            time.sleep(float(stall_s))
        if holds := int(self.be.get("holds", 0)):
            offset %= holds
        data = bytearray(super().read(node, offset, size))
        if len(node.data) <= DATA_IS_LONGER_BYTES:
            return bytes(data)
        self.read_bytes += len(data)
        if any(offset <= bad < offset + size for bad in self._places("unreadable")):
            raise Refused(errno.EIO)
        if self.be.pop("fails_once", 0):
            raise Refused(errno.EIO)
        if wrap := int(self.be.get("wraps_at", 0)):
            data = bytearray(super().read(node, offset + wrap, size))
        for sector in self._places("elsewhere"):
            self._put(data, offset, sector, node.data[sector + FROM_BYTES :][:512])
        for sector in self._places("stale"):
            self._put(data, offset, sector, self.before[node.number][sector : sector + 512])
        for sector in self._places("zeros"):
            self._put(data, offset, sector, bytes(512))
        for sector in self._places("near_zeros"):
            self._put(data, offset, sector, bytes(500) + b"\x01\x80" + bytes(10))
        for place, mask in dict(self.be.get("flips", {})).items():
            if offset <= int(place) < offset + len(data):
                data[int(place) - offset] ^= mask
        return bytes(data)

    def write(self, node: Node, offset: int, data: bytes) -> None:
        """Write bytes; beyond what this stick holds they replace what lies at its beginning."""
        if stall_s := self.be.pop("write_stall_s", 0):
            time.sleep(float(stall_s))
        if refuses := int(self.be.get("refuses", 0)):
            raise Refused(refuses)
        if any(offset <= bad < offset + len(data) for bad in self._places("unwritable")):
            raise Refused(errno.EIO)
        if self.be.pop("write_fails_once", 0):
            raise Refused(errno.EIO)
        super().write(node, offset, self._kept(node, offset, data))
        for at in self._within("write_elsewhere", offset, data):
            super().write(node, at + FROM_BYTES, data[at - offset :][:512])
        holds = int(self.be.get("holds", 0))
        if holds and offset >= holds:
            super().write(node, offset % holds, data)

    def _kept(self, node: Node, offset: int, data: bytes) -> bytes:
        """Return what the medium keeps of what is written to it."""
        kept = bytearray(data)
        for at in self._within("loses", offset, data) + self._within(
            "write_elsewhere", offset, data
        ):
            self._put(kept, offset, at, bytes(node.data[at : at + 512]).ljust(512, b"\0"))
        for at in self._within("write_zeros", offset, data):
            self._put(kept, offset, at, bytes(512))
        for place, mask in dict(self.be.get("write_flips", {})).items():
            if offset <= int(place) < offset + len(data):
                kept[int(place) - offset] ^= mask
        return bytes(kept)

    def _within(self, fault: str, offset: int, data: bytes) -> list[int]:
        return [at for at in self._places(fault) if offset <= at < offset + len(data)]

    def _places(self, fault: str) -> list[int]:
        return list(self.be.get(fault, ()))

    def _put(self, data: bytearray, offset: int, sector: int, content: bytes) -> None:
        if offset <= sector < offset + len(data):
            data[sector - offset : sector - offset + 512] = content


class FuseStick:
    """The handle on the serving process; `folder` is where the stick is mounted."""

    def __init__(self, beside: Path, name: str = "stick") -> None:
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

    def be(self, **faults: object) -> None:
        """Behave like this from now on; nothing given: well.

        `gone` (error number), `stall_s` (the next read), `unreadable`, `zeros`, `near_zeros` (zeros
        but for two bits), `stale` (places of sectors), `flips` (place of byte to mask),
        `wraps_at` (reads come from so much further), `holds` (so many
        bytes, beyond which addresses begin anew), `elsewhere` (sectors that come from another
        place), `fails_once` (the next read does). Of writes: `write_stall_s` and `write_fails_once`
        (the next one), `unwritable` and `loses` (places of sectors: with an error, and without a
        word), `write_zeros`, `write_flips` and `write_elsewhere` (what is kept is so),
        `refuses` (error number of all of them).
        """
        self._tell(json.dumps(faults))

    def keep(self) -> None:
        """Remember what is on the stick now, for `stale`."""
        self._tell("keep")

    def read_bytes(self) -> int:
        """Return how many bytes of its data were read."""
        return int(self._tell("read"))

    def late_s(self) -> float:
        """Return how late the serving process was at worst, of its own."""
        return float(self._tell("late"))

    def close(self) -> None:
        """Unmount and end the server, even one that stalls."""
        unmount(self.folder)
        self._server.kill()
        for stream in (self._server.stdin, self._server.stdout):
            if stream is not None:
                stream.close()
        self._server.wait()

    def __enter__(self) -> "FuseStick":
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


class Beat:
    """Wakes all the time, and remembers how late it woke at worst."""

    def __init__(self) -> None:
        self.late_s = 0.0
        threading.Thread(target=self._beat, daemon=True).start()

    def _beat(self) -> None:
        while True:
            slept_s = time.monotonic()
            time.sleep(BEAT_S)
            self.late_s = max(self.late_s, time.monotonic() - slept_s - BEAT_S)


def _main(folder: Path) -> None:
    tree = FaultyTree()
    beat = Beat()
    handle = mount(folder)
    _say("mounted")

    def command(line: str) -> bool:
        if line == "keep":
            tree.keep()
        elif line not in ("read", "late"):
            tree.be = json.loads(line)
        _say(str(beat.late_s if line == "late" else tree.read_bytes))
        return True

    try:
        serve(handle, tree, sys.stdin.buffer.raw, command)
    finally:
        unmount(folder)
        os.close(handle)


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    _main(Path(sys.argv[1]))
