"""Switch: the power of one port of a USB hub that switches its ports one by one.

Many hubs say that they do and do not. A port that is commanded off hangs up on the bus either way,
so the device's leaving proves nothing about its 5 V: `soak prove` measures it.
"""

from collections.abc import Callable, Sequence
from functools import partial
from typing import Annotated, Any, Literal, TypeVar

import trio
from pydantic import AfterValidator, Field

from soak.allowed import Takes
from soak.bench import nature
from soak.bench.commanding import commanded
from soak.bench.readings import Refused
from soak.bench.registry import Tools, driver
from soak.bench.usb.device import UsbFault, named
from soak.bench.usb.libusb import LibUsb
from soak.bench.usb.names import DEVICE, DeviceName, names_a_device
from soak.bench.usb.words import HubWords
from soak.errors import BenchFault, told_of
from soak.frozen.wiring import Claim, SwitchWired
from soak.natures import Nature
from soak.records import Json
from soak.settings import Seconds
from soak.words import joined, msg

T = TypeVar("T")

_LIMIT_S = 10.0
"""A call to the hub may take so long, s. Our own choice: libusb gives up before."""

_SWITCHES = {
    "ganged": msg("switches all its ports together"),
    "none": msg("does not switch the power of its ports"),
}


def _half(name: str) -> str:
    return name and names_a_device(name)


class HubPort(SwitchWired):
    """Settings of a switch that is a port of a USB hub; `channel` is the port's number.

    Attributes
    ----------
    hub : str
        The hub: `VID:PID`, `VID:PID/SERIAL`, or its bus path, such as `1-2`.
    companion : str
        The other half of a USB 3 hub, which is two hubs on two buses: as long as either half keeps
        a port powered, it is powered.
    channel : str
        The port's number, as the hub counts its ports.
    settle_s : float
        Wait before the hub is asked whether it obeyed, s.
    tries : int
        How often a command is said until the hub obeys.
    """

    driver: Literal["hub_port"]
    hub: DeviceName
    companion: Annotated[str, AfterValidator(_half), DEVICE] = ""
    channel: Annotated[str, Takes(msg('the number of a port, "1" to "999"'))] = Field(
        default="1", pattern=r"^[1-9][0-9]{0,2}$"
    )
    settle_s: Seconds = Field(default=0.2, ge=0, le=10)
    tries: int = Field(default=2, ge=1, le=10)

    @property
    def hubs(self) -> Sequence[str]:
        """The halves of the hub, as they are named."""
        return tuple(name for name in (self.hub, self.companion) if name)

    def claims(self) -> Sequence[Claim]:
        return tuple(Claim(hub, f"channel {self.channel}") for hub in self.hubs)


class HubPortSwitch:
    """Commands a port's power by class requests to the hub, and asks the hub whether it obeyed."""

    def __init__(
        self,
        name: str,
        wired: HubPort,
        libusb: LibUsb,
        tools: Tools,
        found: dict[str, HubWords],
        nature: Nature,
    ) -> None:
        self._name = name
        self._wired = wired
        self._libusb = libusb
        self._tools = tools
        self._found = found
        self._nature = nature

    @property
    def identity(self) -> Json:
        """The hub, what it claims, and that its port hangs up whether or not its 5 V go."""
        return {
            "driver": self._wired.driver,
            "nature": self._nature,
            "hubs": {
                name: {"switching": words.switching, "over_current": words.protection}
                for name, words in self._found.items()
            },
            "hangs_up_on_the_bus": True,
        }

    async def command(self, channel: str, on: bool) -> None:
        """Command the port's power and ask the hub whether it is so.

        Raises
        ------
        BenchFault
            If the hub is gone, refuses, or says that the port is still as it was.
        """

        async def attempt() -> None:
            for hub in self._wired.hubs:
                await self._command_one(hub, int(channel), on)

        what = f"{'on' if on else 'off'}, port {channel} of {self._wired.hub}"
        await commanded(self._name, what, self._wired.tries, attempt)

    async def asked_on(self, channel: str) -> bool:
        """Ask the hub whether the port has power.

        Raises
        ------
        BenchFault
            If it is gone or may not be asked.
        """
        try:
            paths = [await self._off(_path_of, self._libusb, hub) for hub in self._wired.hubs]
            ports = [
                await self._off(self._libusb.port_status, path, int(channel)) for path in paths
            ]
        except (UsbFault, TimeoutError) as fault:
            raise BenchFault(self._name, told_of(fault)) from None
        return any(port.powered for port in ports)

    async def _command_one(self, hub: str, port: int, on: bool) -> None:
        try:
            path = await self._off(_path_of, self._libusb, hub)
            await self._off(self._libusb.set_port_power, path, port, on)
            await trio.sleep(self._wired.settle_s)
            status = await self._off(self._libusb.port_status, path, port)
        except (UsbFault, TimeoutError) as fault:
            raise Refused(told_of(fault)) from None
        if status.powered != on:
            if status.powered:
                raise Refused(msg("{hub} says that the port is still on", hub=hub))
            raise Refused(msg("{hub} says that the port is still off", hub=hub))

    async def aclose(self) -> None:
        """Nothing is held open between commands; nothing is switched."""
        await trio.lowlevel.checkpoint()

    async def _off(self, work: Callable[..., T], *args: Any) -> T:
        return await self._tools.off_loop.call(_LIMIT_S, work, *args)


def _path_of(libusb: LibUsb, name: str) -> str:
    """Return where the hub is now: it may have been plugged elsewhere."""
    devices = libusb.read().values()
    hub = named(name, devices)
    if hub is None:
        hubs = sorted(device.best_name for device in devices if device.is_hub)
        listed = (
            msg("the hubs are {hubs}", hubs=joined(", ", hubs))
            if hubs
            else msg("there is no hub at all")
        )
        raise UsbFault(
            msg("there is no USB device {name} here; {listed}", name=name, listed=listed)
        )
    return hub.path


def look_at_hub(libusb: LibUsb, name: str, port: int) -> HubWords:
    """Return what a hub says of itself, if one of its ports can be switched alone; blocks.

    Raises
    ------
    UsbFault
        If it is not there, may not be asked, has no such port, or says that it cannot.
    """
    words = libusb.hub_words(_path_of(libusb, name))
    if words.switching != "per port":
        what = msg("use one that switches its ports one by one, or a relay in the supply lead")
        raise UsbFault(
            msg(
                "the hub {name} says that it {switches}; {what}",
                name=name,
                switches=_SWITCHES[words.switching],
                what=what,
            )
        )
    if port > words.ports:
        raise UsbFault(
            msg(
                "the hub {name} has {ports} ports, so no port {port}",
                name=name,
                ports=words.ports,
                port=port,
            )
        )
    return words


async def open_hub(name: str, wired: HubPort, tools: Tools, backend: Any = None) -> HubPortSwitch:
    """Open the hub; a PyUSB backend can be given.

    Raises
    ------
    BenchFault
        If a hub is not there, may not be asked, or says that it cannot switch a port alone.
    """
    off = tools.off_loop.call
    port = int(wired.channel)
    try:
        libusb = await off(_LIMIT_S, partial(LibUsb, backend))
        hubs = {hub: await off(_LIMIT_S, look_at_hub, libusb, hub, port) for hub in wired.hubs}
        path = await off(_LIMIT_S, _path_of, libusb, wired.hub)
        what = await off(_LIMIT_S, nature.of_usb_path, path)
    except (UsbFault, TimeoutError) as fault:
        raise BenchFault(name, told_of(fault)) from None
    return HubPortSwitch(name, wired, libusb, tools=tools, found=hubs, nature=what)


@driver("switch", "hub_port", HubPort)
async def open_hub_port(name: str, wired: HubPort, tools: Tools) -> HubPortSwitch:
    """Find the hub and believe it only so far; nothing is switched by that."""
    return await open_hub(name, wired, tools)
