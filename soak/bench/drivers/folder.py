"""Stick: a folder on a mounted file system, its data read from the medium and not from a cache.

Soak fills one file in a folder `soak-data` of its own and touches nothing else. The folder may be
removed when the soak is over.
"""

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from soak.bench.registry import Tools, driver
from soak.bench.stick.child import ChildStick
from soak.bench.stick.folder import BLOCK_BYTES
from soak.bench.stick.folder_medium import FolderOrder
from soak.bench.usb.names import DeviceName
from soak.frozen.wiring import Claim, StickWired
from soak.records import Json
from soak.roles import Stick
from soak.settings import Bytes, Seconds


class Settings(StickWired):
    """Settings of a stick that is mounted as a folder.

    Attributes
    ----------
    folder : str
        Where the stick is mounted, or a folder on it.
    size : int
        How much of it may be filled, B; a file may say `"256 MB"`.
    limit_s : float
        A read or write that takes longer is given up, s.
    apart : sequence of str
        Other USB devices of the same unit, and of units next to it: that they leave says nothing
        of the bench. Any other that leaves together with the stick makes the bench blind.
    reads_medium : sequence of str
        Kinds of file systems (`"fuse.example"`) of which you know that each direct read asks the
        medium; others than the kernel's own on a block device are not believed.
    """

    driver: Literal["folder"]
    folder: str = Field(min_length=1)
    size: Bytes = Field(default=256_000_000, ge=1_000_000)
    limit_s: Seconds = Field(default=30.0, gt=0)
    apart: Sequence[DeviceName] = ()
    reads_medium: Sequence[str] = ()

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.folder),)


@driver("stick", "folder", Settings)
async def open_folder(name: str, wired: Settings, tools: Tools) -> Stick:
    """Open a folder on a mounted stick."""
    size_bytes = wired.size // BLOCK_BYTES * BLOCK_BYTES

    def order(known: Json) -> FolderOrder:
        """Any stick at first, later the same one wherever it is mounted."""
        stick_id = known.get("stick_id", "")
        inside = known.get("inside", ".")
        vouched = tuple(wired.reads_medium)
        crosses = wired.path != "bench_only"
        return FolderOrder(
            wired.folder, size_bytes, stick_id, inside=inside, vouched=vouched, crosses=crosses
        )

    known = {"driver": "folder", "folder": wired.folder}
    stick = ChildStick(
        name,
        wired.folder,
        wired.limit_s,
        size_bytes=size_bytes,
        order=order,
        identity=known,
        tools=tools,
        apart=wired.apart,
    )
    try:
        await stick.begin()
    except BaseException:
        await stick.aclose()
        raise
    return stick
