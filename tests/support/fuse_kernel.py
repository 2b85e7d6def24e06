"""Speak the kernel's FUSE protocol on /dev/fuse, with the standard library alone.

`serve` answers for one mounted folder out of a `Tree`. It must run in another process than the
one that uses the folder, or both wait for each other for ever: see `fuse_disk`.

References
----------
Linux, include/uapi/linux/fuse.h (protocol 7.31 and later; the layouts of the structures).
"""

import ctypes
import errno
import os
import select
import stat
import struct
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

from fuse_tree import Node, Refused, Tree

_IN_HEADER = struct.Struct("<IIQQIIII")
_OUT_HEADER = struct.Struct("<IiQ")
_ATTR = struct.Struct("<6Q10I")
_DETACH = 2
_LONGEST_WRITE = 128 * 1024
_VALID_S = 3600  # every change comes through the kernel, so it may believe what it knows


def why_not() -> str:
    """Return why no folder can be mounted here; empty if one can."""
    if not Path("/dev/fuse").exists():
        return "there is no /dev/fuse"
    if not os.access("/dev/fuse", os.R_OK | os.W_OK) or os.geteuid() != 0:
        return "mounting through /dev/fuse needs root"
    return ""


def mount(folder: Path) -> int:
    """Mount `folder`; return the handle on which the kernel asks."""
    handle = os.open("/dev/fuse", os.O_RDWR)
    options = f"fd={handle},rootmode=40000,user_id=0,group_id=0"
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.mount(b"soak-test", os.fsencode(folder), b"fuse", 0, options.encode()) != 0:
        code = ctypes.get_errno()
        os.close(handle)
        raise OSError(code, f"mount: {os.strerror(code)}", str(folder))
    return handle


def unmount(folder: Path) -> None:
    """Take the folder out of the tree of files even if it is in use or its server is gone."""
    ctypes.CDLL(None).umount2(os.fsencode(folder), _DETACH)


def serve(handle: int, tree: Tree, control: BinaryIO, command: Callable[[str], bool]) -> None:
    """Answer the kernel, and in between the lines of `control`, until `command` says False."""
    answer = Answers(tree)
    while True:
        ready, _, _ = select.select([handle, control], [], [])
        if control in ready:
            line = control.readline().decode()
            if not line or not command(line.strip()):
                return
        if handle in ready:
            try:
                request = os.read(handle, _LONGEST_WRITE + 4096)
            except OSError as fault:
                if fault.errno in (errno.ENOENT, errno.EINTR, errno.EAGAIN):
                    continue
                return  # ENODEV: unmounted
            reply = answer.to(request)
            if reply is not None:
                os.write(handle, reply)


class Answers:
    """Turns one request of the kernel into one answer."""

    def __init__(self, tree: Tree) -> None:
        self._tree = tree
        self._verbs: dict[int, Callable[[Node, bytes], bytes | None]] = {
            1: self._lookup, 3: self._getattr, 4: self._setattr, 8: self._mknod, 9: self._mkdir,
            10: self._remove, 11: self._remove, 12: self._rename, 14: self._open, 15: self._read,
            16: self._write, 17: self._statfs, 18: self._nothing, 20: self._fsync,
            25: self._nothing, 26: self._init, 27: self._open, 28: self._readdir,
            29: self._nothing, 30: self._fsync, 35: self._create, 38: self._nothing,
            45: self._rename2,
        }  # fmt: skip

    def to(self, request: bytes) -> bytes | None:
        """Return the answer; None where the kernel wants none (forget, interrupt)."""
        _, opcode, unique, node_id, *_ = _IN_HEADER.unpack_from(request)
        if opcode in (2, 36, 42):
            return None
        body, code = b"", 0
        try:
            verb = self._verbs.get(opcode)
            if verb is None:
                raise Refused(errno.ENOSYS)
            node = self._tree.node(node_id or 1)
            body = verb(node, request[_IN_HEADER.size :]) or b""
        except Refused as refused:
            code = refused.errno
        return _OUT_HEADER.pack(_OUT_HEADER.size + len(body), -code, unique) + body

    def _init(self, node: Node, body: bytes) -> bytes:
        _, minor, readahead, _ = struct.unpack_from("<IIII", body)
        big_writes = 1 << 5
        head = struct.pack(
            "<IIIIHHI", 7, min(minor, 31), readahead, big_writes, 12, 9, _LONGEST_WRITE
        )
        return head + struct.pack("<IHHI", 1, 32, 0, 0) + bytes(28)

    def _nothing(self, node: Node, body: bytes) -> bytes:
        return b""

    def _lookup(self, node: Node, body: bytes) -> bytes:
        return self._entry(self._tree.child(node, _names(body)[0]))

    def _getattr(self, node: Node, body: bytes) -> bytes:
        return struct.pack("<QII", _VALID_S, 0, 0) + self._attr(node)

    def _setattr(self, node: Node, body: bytes) -> bytes:
        valid, _, _, size = struct.unpack_from("<IIQQ", body)
        (mode,) = struct.unpack_from("<I", body, 68)
        if valid & 1:
            node.mode = stat.S_IFMT(node.mode) | stat.S_IMODE(mode)
        if valid & 8:
            self._tree.truncate(node, size)
        return self._getattr(node, body)

    def _mknod(self, node: Node, body: bytes) -> bytes:
        (mode,) = struct.unpack_from("<I", body)
        return self._entry(self._tree.make(node, _names(body[16:])[0], mode))

    def _mkdir(self, node: Node, body: bytes) -> bytes:
        (mode,) = struct.unpack_from("<I", body)
        return self._entry(self._tree.make(node, _names(body[8:])[0], stat.S_IFDIR | mode))

    def _create(self, node: Node, body: bytes) -> bytes:
        _, mode = struct.unpack_from("<II", body)
        made = self._tree.make(node, _names(body[16:])[0], stat.S_IFREG | mode)
        return self._entry(made) + self._open(made, b"")

    def _remove(self, node: Node, body: bytes) -> bytes:
        self._tree.remove(node, _names(body)[0])
        return b""

    def _rename(self, node: Node, body: bytes, skip: int = 8) -> bytes:
        (target,) = struct.unpack_from("<Q", body)
        old, new = _names(body[skip:])
        self._tree.rename(node, old, self._tree.node(target), new)
        return b""

    def _rename2(self, node: Node, body: bytes) -> bytes:
        return self._rename(node, body, 16)

    def _open(self, node: Node, body: bytes) -> bytes:
        return struct.pack("<QII", node.number, 0, 0)

    def _read(self, node: Node, body: bytes) -> bytes:
        _, offset, size = struct.unpack_from("<QQI", body)
        return self._tree.read(node, offset, size)

    def _write(self, node: Node, body: bytes) -> bytes:
        _, offset, size = struct.unpack_from("<QQI", body)
        self._tree.write(node, offset, body[40 : 40 + size])
        return struct.pack("<II", size, 0)

    def _fsync(self, node: Node, body: bytes) -> bytes:
        self._tree.sync(node)
        return b""

    def _statfs(self, node: Node, body: bytes) -> bytes:
        free = max(self._tree.room_bytes // 4096, 0)
        return struct.pack("<5Q4I", free, free, free, 1 << 20, 1 << 20, 4096, 255, 4096, 0) + bytes(
            24
        )

    def _readdir(self, node: Node, body: bytes) -> bytes:
        _, offset, size = struct.unpack_from("<QQI", body)
        listing = b""
        for place, (name, number) in enumerate(node.children.items()):
            kind = stat.S_IFMT(self._tree.node(number).mode) >> 12
            entry = struct.pack("<QQII", number, place + 1, len(name), kind) + name
            entry += bytes(-len(entry) % 8)
            if place >= offset and len(listing) + len(entry) <= size:
                listing += entry
            elif place >= offset:
                break
        return listing

    def _entry(self, node: Node) -> bytes:
        return struct.pack("<4QII", node.number, 0, _VALID_S, _VALID_S, 0, 0) + self._attr(node)

    def _attr(self, node: Node) -> bytes:
        size = len(node.data)
        blocks = (size + 511) // 512
        return _ATTR.pack(
            node.number, size, blocks, 0, 0, 0, 0, 0, 0, node.mode, 1, 0, 0, 0, 4096, 0
        )


def _names(body: bytes) -> list[bytes]:
    return body.split(b"\0")[:-1]
