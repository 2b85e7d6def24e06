"""Link: a USB device on this computer, by the kernel's events or by asking again and again."""

from collections.abc import AsyncIterator, Callable, Iterator, Sequence
from functools import partial
from typing import Any, Literal, TypeVar

import trio
from pydantic import Field

from soak.bench import nature
from soak.bench.registry import Tools, driver
from soak.bench.usb.device import Devices, UsbDevice, UsbFault, is_path, named
from soak.bench.usb.events import UsbEvent, open_events
from soak.bench.usb.eyes import Eyes, Way, open_eyes, parsed, received
from soak.bench.usb.names import DeviceName
from soak.bench.usb.sysfs import SysfsDevices
from soak.bench.usb.watch import LinkWatch, Named
from soak.errors import BenchFault, told_of
from soak.frozen.wiring import LinkWired
from soak.marks import LinkSaid, also_said
from soak.natures import Nature
from soak.records import Json, Reading, State
from soak.settings import Seconds
from soak.words import Message, msg

T = TypeVar("T")

_LOOK_LIMIT_S = 10.0
"""A look at the list of devices may take so long, s. Our own choice."""
_TICK_S = 1.0
"""The kernel's log is read so often; also the longest a decision waits for other news. Our own
choice."""
_LOOK_ANYWAY_S = 10.0
"""With events, the list of devices is read so often all the same: one may have been lost. Our own
choice."""

_QUANTITY = {
    "reset": "resets",
    "descriptor failure": "descriptor_failures",
    "over-current": "over_current",
}


class UsbLink(LinkWired):
    """Settings of a link to a USB device on the bench's computer.

    Attributes
    ----------
    device : str
        `VID:PID`, `VID:PID/SERIAL`, or a bus path such as `2-1.4`.
    apart : sequence of str
        Other devices of the same unit, and those of units next to it: that they leave says nothing
        of the bench. Any other device that leaves together with this one makes the bench blind.
    way : str
        `kernel`: events of the Linux kernel; `poll`: its list of devices, every `every_s`;
        `libusb`: the list of libusb, every `every_s`; `auto`: the first of these that is there.
    every_s : float
        Time between two looks where there are no events, s.
    ask_every_s : float
        Ask the device itself for its descriptor so often, s; 0: never.
    """

    driver: Literal["usb_link"]
    device: DeviceName
    apart: Sequence[DeviceName] = ()
    way: Way = "auto"
    every_s: Seconds = Field(default=0.5, ge=0.1, le=60)
    ask_every_s: Seconds = Field(default=0.0, ge=0, le=3600)


class LinkOnUsb:
    """Watches one device come, go and change speed."""

    def __init__(self, name: str, wired: UsbLink, tools: Tools, eyes: Eyes, nature: Nature) -> None:
        self._name = name
        self._wired = wired
        self._tools = tools
        self._eyes = eyes
        self._nature = nature
        self._watch = LinkWatch(Named(name, wired.device, wired.apart))
        self._asked_s = 0.0
        self._unanswered: tuple[float, UsbDevice] | None = None
        self._over_currents_seen: dict[str, int] = {}

    @property
    def identity(self) -> Json:
        """By what it is watched, and what of it is not seen, with the reason."""
        return {
            "driver": self._wired.driver,
            "nature": self._nature,
            "device": self._wired.device,
            "way": self._eyes.way,
            "cannot": dict(self._eyes.cannot),
        }

    async def changes(self) -> AsyncIterator[State | Reading]:
        """Yield states (seen, gone, blind), speeds, resets and what else went wrong."""
        now_s = self._tools.clock.now_s
        for first in self._first_readings(now_s()):
            yield first
        looked_s = now_s()
        for record in await self._look(looked_s, 0.0):
            yield record
        while True:
            came_s, news = await self._news()
            for reading in self._told(news):
                yield reading
            moved = any(event.kind in ("arrival", "leaving") for event in news)
            if moved or now_s() >= self._looks_s(looked_s):
                # Without an event the change may be as old as the last look.
                t_s, within_s = (came_s, 0.0) if moved else (now_s(), now_s() - looked_s)
                looked_s = now_s()
                for record in await self._look(t_s, within_s):
                    yield record
            for reading in await self._ask_device():
                yield reading

    async def aclose(self) -> None:
        """Let go of everything; twice is safe."""
        self._eyes.close()
        await trio.lowlevel.checkpoint()

    def _first_readings(self, t_s: float) -> Iterator[Reading]:
        """Say what is watched by a first reading of none."""
        for quantity in _QUANTITY.values():
            if quantity not in self._eyes.cannot:
                yield Reading(t_s, f"{self._name}.{quantity}", 0.0)

    def _looks_s(self, looked_s: float) -> float:
        """Return when to look although nothing was told."""
        anyway_s = looked_s + (_LOOK_ANYWAY_S if self._eyes.events else self._wired.every_s)
        due_s = self._watch.decides_s()
        return anyway_s if due_s is None else min(anyway_s, due_s)

    async def _news(self) -> tuple[float, list[UsbEvent]]:
        """Wait for events, or for the next moment to look without any; return when they came."""
        now_s = self._tools.clock.now_s
        due_s = self._watch.decides_s()
        wait_s = _TICK_S if self._eyes.events is not None else self._wired.every_s
        if due_s is not None:
            wait_s = min(wait_s, max(0.0, due_s - now_s()))
        came_s, messages = await received(self._eyes.events, wait_s, now_s)
        events = parsed(messages)
        if self._eyes.log is not None:
            events += self._eyes.log.read()
        return came_s, events

    def _told(self, news: Sequence[UsbEvent]) -> Iterator[Reading]:
        """Yield what befell our device, counted one at a time."""
        last = self._watch.last
        places = {last.path, last.peer} - {""} if last else set()
        if is_path(self._wired.device):
            places.add(self._wired.device)
        for event in news:
            quantity = _QUANTITY.get(event.kind)
            if quantity and event.path in places and self._counts(event):
                yield Reading(self._tools.clock.now_s(), f"{self._name}.{quantity}", 1.0)

    def _counts(self, event: UsbEvent) -> bool:
        """Tell whether an event is counted: an over-current is told twice or three times."""
        if event.kind != "over-current":
            return True
        if self._eyes.way == "kernel":
            return event.text == ""
        return self._eyes.way == "libusb"

    async def _look(self, t_s: float, within_s: float) -> list[State | Reading]:
        try:
            devices = await self._off(self._eyes.look)
        except (UsbFault, OSError, TimeoutError) as fault:
            return self._watch.lost_sight(t_s, _plain(fault), within_s)
        news = self._watch.take(t_s, devices, within_s)
        news += self._over_currents(t_s)
        if any(isinstance(seen, State) for seen in news):
            word = await self._port_word()
            news = [also_said(seen, word) if isinstance(seen, State) else seen for seen in news]
        return news

    def _over_currents(self, t_s: float) -> list[State | Reading]:
        """Say what the kernel has counted since the last look, where no events tell of it."""
        here = self._watch.here
        if here is None or self._eyes.way != "poll":
            return []
        before = self._over_currents_seen.get(here.path, here.over_current)
        self._over_currents_seen[here.path] = here.over_current
        more = float(here.over_current - before)
        return [Reading(t_s, f"{self._name}.over_current", more)] if more > 0 else []

    async def _port_word(self) -> LinkSaid:
        """Return what the hub says of the port, for the record; empty if it may not be asked."""
        last = self._watch.last
        libusb = self._eyes.libusb
        if last is None or libusb is None or last.is_root:
            return LinkSaid()
        try:
            status = await self._off(libusb.status_above, last.path)
        except (UsbFault, TimeoutError) as fault:
            return LinkSaid(port=_plain(fault))
        return LinkSaid(port=status.words, port_speed_mbps=status.speed_mbps)

    async def _ask_device(self) -> list[Reading]:
        late = self._still_there()
        if late or self._unanswered is not None:
            return late
        here = self._watch.here
        libusb = self._eyes.libusb
        now_s = self._tools.clock.now_s()
        every_s = self._wired.ask_every_s
        if not every_s or here is None or libusb is None or now_s < self._asked_s + every_s:
            return []
        self._asked_s = now_s
        try:
            good = len(await self._off(libusb.ask_descriptor, here.path)) == 18
        except (UsbFault, TimeoutError):
            good = False
        if not good:
            self._unanswered = (now_s, here)
        return []

    def _still_there(self) -> list[Reading]:
        """Say that a device did not answer, once it is sure that it had not merely gone."""
        if self._unanswered is None:
            return []
        asked_s, device = self._unanswered
        if self._tools.clock.now_s() < asked_s + 2 * _TICK_S:
            return []
        self._unanswered = None
        here = self._watch.here
        stayed = here is not None and (here.path, here.number) == (device.path, device.number)
        return [Reading(asked_s, f"{self._name}.descriptor_failures", 1.0)] if stayed else []

    async def _off(self, work: Callable[..., T], *args: Any) -> T:
        return await self._tools.off_loop.call(_LOOK_LIMIT_S, work, *args)


def _plain(fault: Exception) -> Message:
    if isinstance(fault, TimeoutError):
        return msg("USB does not answer: {why}", why=str(fault))
    return told_of(fault)


async def open_link(
    name: str,
    wired: UsbLink,
    tools: Tools,
    sysfs: SysfsDevices | None = None,
    backend: Any = None,
) -> LinkOnUsb:
    """Open a link; list and backend can be given.

    Raises
    ------
    BenchFault
        If this host has nothing to watch USB by, or several devices go by the name.
    """
    opening = partial(
        open_eyes, wired.way, bool(wired.ask_every_s), sysfs or SysfsDevices(), backend
    )
    try:
        eyes = await tools.off_loop.call(_LOOK_LIMIT_S, opening)
        if eyes.way == "kernel":
            eyes.events = trio.socket.from_stdlib_socket(open_events())
        path = await _path_there(wired, tools, eyes)
        what = await tools.off_loop.call(_LOOK_LIMIT_S, nature.of_usb_path, path)
    except (UsbFault, OSError) as fault:
        raise BenchFault(name, _plain(fault)) from None
    return LinkOnUsb(name, wired, tools, eyes=eyes, nature=what)


async def _path_there(wired: UsbLink, tools: Tools, eyes: Eyes) -> str:
    """Return where the device is, or its bus while it is not there; empty where neither is known.

    Several that go by the name are refused.
    """
    try:
        devices = await tools.off_loop.call(_LOOK_LIMIT_S, eyes.look)
        device: UsbDevice | None = named(wired.device, devices.values())
        if device is None and is_path(wired.device):
            _refuse_unknown_bus(wired.device, devices)
        if device is not None:
            return device.path
        return f"usb{_bus_of(wired.device)}" if is_path(wired.device) else ""
    except UsbFault:
        eyes.close()
        raise


def _bus_of(path: str) -> str:
    return path.removeprefix("usb").split("-")[0]


def _refuse_unknown_bus(path: str, devices: Devices) -> None:
    buses = sorted({device.removeprefix("usb").split("-")[0] for device in devices})
    bus = _bus_of(path)
    if bus not in buses:
        listed = ", ".join(buses) or "none"
        raise UsbFault(
            msg(
                "there is no bus {bus} for {path} on this host; its buses are {listed}",
                bus=bus,
                path=path,
                listed=listed,
            )
        )


@driver("link", "usb_link", UsbLink)
async def open_usb_link(name: str, wired: UsbLink, tools: Tools) -> LinkOnUsb:
    """Watch the device from now on; it need not be there yet."""
    return await open_link(name, wired, tools)
