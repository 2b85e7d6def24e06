"""Stick: a whole disk without a file system. Everything on it is written over, after a question.

Only a disk that can be pulled, that nothing uses, and whose serial number the fixture repeats is
opened at all. The operator is asked before the first byte is written; a disk that already bears
soak's own label holds nothing but soak's data, and nobody is asked again.
"""

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from soak.bench.registry import Tools, driver
from soak.bench.stick.child import ChildStick
from soak.bench.stick.device_medium import DeviceOrder
from soak.bench.usb.names import DeviceName
from soak.errors import BenchFault
from soak.frozen.wiring import Claim, StickWired
from soak.quantities import show_bytes
from soak.records import Json
from soak.roles import Question, Stick
from soak.settings import Bytes, Seconds

_ANSWER_WITHIN_S = 300.0
"""So long the question whether a disk may be written over waits, s. Our own choice."""


class Settings(StickWired):
    """Settings of a stick that is written over as a whole.

    Attributes
    ----------
    device : str
        Its device file; by preference one in `/dev/disk/by-id`, which does not change.
    serial : str
        Its serial number, repeated from the stick itself: a wrong device is refused by it.
    size : int
        How much of it may be filled, B; 0: all.
    limit_s : float
        A read or write that takes longer is given up, s.
    apart : sequence of str
        Other USB devices of the same unit, and of units next to it: that they leave says nothing
        of the bench. Any other that leaves together with the stick makes the bench blind.
    """

    driver: Literal["device"]
    device: str = Field(min_length=1)
    serial: str = Field(min_length=1)
    size: Bytes = Field(default=0, ge=0)
    limit_s: Seconds = Field(default=30.0, gt=0)
    apart: Sequence[DeviceName] = ()

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.device),)


@driver("stick", "device", Settings)
async def open_device(name: str, wired: Settings, tools: Tools) -> Stick:
    """Open a whole disk, after asking whether it may be written over."""
    agreed = False

    def order(known: Json) -> DeviceOrder:
        stick_id = str(known.get("stick_id", ""))
        claimed = int(known.get("claims_bytes", 0))
        return DeviceOrder(
            wired.device, wired.serial, stick_id, size_bytes=claimed, may_label=agreed
        )

    known = {"driver": "device", "device": wired.device}
    stick = ChildStick(
        name,
        wired.device,
        wired.limit_s,
        size_bytes=wired.size,
        order=order,
        identity=known,
        tools=tools,
        apart=wired.apart,
    )
    try:
        await stick.begin()
        if not stick.identity["stick_id"]:
            await _ask(name, stick.identity, tools)
            agreed = True
            await stick.begin()
        _fits(name, wired, stick.identity)
    except BaseException:
        await stick.aclose()
        raise
    return stick


async def _ask(name: str, identity: Json, tools: Tools) -> None:
    """Ask whether the disk may be written over; anything but yes is no."""
    node = identity["device"]
    size = show_bytes(identity["claims_bytes"])
    said = f"{identity['name']}, serial number {identity['serial']}".removeprefix(", ")
    text = (
        f"EVERYTHING on {node} ({size}, {said}) will be destroyed. On it now: "
        f"{identity['holds']}. May it be written over?"
    )
    question = Question(f"{name}/destroy", text, "yes/no", wait_s=_ANSWER_WITHIN_S, wanted="yes")
    answer = await tools.ask(question)
    if answer is None:
        raise BenchFault(name, f"nobody said whether {node} may be written over; ask again")
    if answer != "yes":
        raise BenchFault(name, f"{node} may not be written over; name another device, or a folder")


def _fits(name: str, wired: Settings, identity: Json) -> None:
    if wired.size > identity["room_bytes"]:
        most_mb = identity["room_bytes"] // 1_000_000
        what = f"{show_bytes(wired.size)} do not fit on {wired.device}; set size to at most"
        raise BenchFault(name, f"{what} {most_mb} MB")
