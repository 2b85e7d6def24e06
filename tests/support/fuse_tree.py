"""Files in memory that know which of their bytes and names have been synced."""

import errno
import random
import stat
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

_SECTOR_BYTES = 512


class Refused(Exception):
    """Say that a request fails with this error number."""

    def __init__(self, code: int) -> None:
        self.errno = code
        super().__init__(code)


@dataclass
class Node:
    """A file or folder: as programs see it, and as the medium has it."""

    number: int
    mode: int
    data: bytearray = field(default_factory=bytearray)
    children: dict[bytes, int] = field(default_factory=dict)
    synced: bytearray = field(default_factory=bytearray)
    synced_children: dict[bytes, int] = field(default_factory=dict)
    unsynced: list[tuple[int, bytes | None]] = field(default_factory=list)
    """Since the last sync: (offset, bytes written) or (new size, None)."""


class Tree:
    """A medium whose power can be cut.

    `room_bytes` is what may still be written; beyond it the medium is full.
    """

    def __init__(self, room_bytes: int = 1 << 40) -> None:
        self._nodes = {1: Node(1, stat.S_IFDIR | 0o755)}
        self.room_bytes = room_bytes
        self.is_off = False
        self.syncs = 0
        self.before_sync: Callable[[int], None] = lambda syncs: None
        """Called with the number of syncs so far; may cut the power."""

    def node(self, number: int) -> Node:
        """Return a node; after the cut everything fails."""
        if self.is_off:
            raise Refused(errno.EIO)
        return self._nodes[number]

    def child(self, folder: Node, name: bytes) -> Node:
        """Return what stands in a folder under a name."""
        if name not in folder.children:
            raise Refused(errno.ENOENT)
        return self._nodes[folder.children[name]]

    def make(self, folder: Node, name: bytes, mode: int) -> Node:
        """Make a file or folder."""
        if name in folder.children:
            raise Refused(errno.EEXIST)
        node = Node(max(self._nodes) + 1, mode)
        self._nodes[node.number] = node
        folder.children[name] = node.number
        return node

    def remove(self, folder: Node, name: bytes) -> None:
        """Remove a name; the node stays for those who have it open."""
        if self.child(folder, name).children:
            raise Refused(errno.ENOTEMPTY)
        del folder.children[name]

    def rename(self, folder: Node, old: bytes, target: Node, new: bytes) -> None:
        """Give a node another name, in place of what had it."""
        target.children[new] = self.child(folder, old).number
        if (folder.number, old) != (target.number, new):
            del folder.children[old]

    def read(self, node: Node, offset: int, size: int) -> bytes:
        """Return bytes as programs see them."""
        return bytes(node.data[offset : offset + size])

    def write(self, node: Node, offset: int, data: bytes) -> None:
        """Write bytes; not on the medium before the next sync."""
        grows = max(offset + len(data) - len(node.data), 0)
        if grows > self.room_bytes:
            raise Refused(errno.ENOSPC)
        self.room_bytes -= grows
        _apply(node.data, offset, data)
        node.unsynced.append((offset, data))

    def truncate(self, node: Node, size: int) -> None:
        """Set a file's length; not on the medium before the next sync."""
        self.room_bytes -= size - len(node.data)
        _apply(node.data, size, None)
        node.unsynced.append((size, None))

    def sync(self, node: Node) -> None:
        """Bring a file's bytes, or a folder's names, onto the medium."""
        self.before_sync(self.syncs)
        if self.is_off:
            raise Refused(errno.EIO)
        self.syncs += 1
        for offset, data in node.unsynced:
            _apply(node.synced, offset, data)
        node.unsynced.clear()
        node.synced_children = dict(node.children)

    def cut(self, survivors: Path, chance: random.Random | None = None) -> None:
        """Cut the power and lay out in `survivors` what the medium then holds.

        Without `chance` only what was synced survives. With it each sector written since, each
        change of length and each folder's names may have reached the medium too, in any mixture.
        """
        self.is_off = True
        self._lay_out(self._nodes[1], survivors, chance)

    def _lay_out(self, folder: Node, at: Path, chance: random.Random | None) -> None:
        at.mkdir(parents=True, exist_ok=True)
        lucky = chance is not None and chance.random() < 0.5
        for name, number in (folder.children if lucky else folder.synced_children).items():
            node, path = self._nodes[number], at / name.decode()
            if stat.S_ISDIR(node.mode):
                self._lay_out(node, path, chance)
            else:
                path.write_bytes(_survived(node, chance))


def _survived(node: Node, chance: random.Random | None) -> bytes:
    data = bytearray(node.synced)
    for offset, written in node.unsynced if chance is not None else ():
        if written is None:
            if chance.random() < 0.5:
                _apply(data, offset, None)
            continue
        for start in range(0, len(written), _SECTOR_BYTES):
            if chance.random() < 0.5:
                _apply(data, offset + start, written[start : start + _SECTOR_BYTES])
    return bytes(data)


def _apply(content: bytearray, offset: int, data: bytes | None) -> None:
    if len(content) < offset:
        content.extend(bytes(offset - len(content)))
    if data is None:
        del content[offset:]
    else:
        content[offset : offset + len(data)] = data
