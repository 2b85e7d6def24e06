"""When a stick went: did this computer's other USB devices stay?

A port is charged with a stick that left only if they did. A hub or host controller that lets go
takes its devices along, and that is the bench's doing.
"""

from collections.abc import Callable, Sequence

import trio

from soak.bench.usb.device import Devices, UsbDevice, fits, hubs_above
from soak.bench.usb.sysfs import SysfsDevices
from soak.words import NOTHING_SAID, Message, joined, msg

SETTLE_S = 0.2
"""A host takes its devices away one after the other, within milliseconds; a stick that went is not
spoken of before. Our own choice; what goes must be noticed within a second."""
REMEMBER_EVERY_S = 1.0
"""Devices that left long before the stick did not leave with it: what is there is read so often.
Our own choice."""
BACK_FOR_S = 10.0
"""Once the others are back, the stick has so long to come too, as for a link. Our own choice."""


def on_this_computer() -> Devices | None:
    """Return the USB devices there are; None where this system does not list them."""
    listed = SysfsDevices()
    return listed.read() if listed.there else None


class Neighbours:
    """The USB devices beside a stick's.

    Parameters
    ----------
    apart : sequence of str
        Devices of the same unit, and of units next to it: that they leave says nothing of the
        bench. `VID:PID`, `VID:PID/SERIAL`, or a bus path.
    now_s : callable
        Returns the time, s.
    read : callable
        Returns the devices there are, None if that is not known.
    """

    def __init__(
        self,
        apart: Sequence[str],
        now_s: Callable[[], float],
        read: Callable[[], Devices | None] = on_this_computer,
    ) -> None:
        self._apart = tuple(apart)
        self._now_s = now_s
        self._read = read
        self._before: Devices = {}
        self._port = ""
        self._due_s = 0.0
        self._missing: tuple[str, ...] = ()
        self._back_s: float | None = None
        self._went = False

    def stick_well(self, usb_port: str) -> None:
        """Take that the stick at this place (`"1-2.3"`) answers; empty: it is not on USB."""
        if usb_port == self._port and not self._went and self._now_s() < self._due_s:
            return
        self._port = usb_port
        self._went = False
        self._missing = ()
        self._before = self._read() or {} if usb_port else {}
        self._due_s = self._now_s() + REMEMBER_EVERY_S

    async def stick_failed(self) -> Message:
        """Take that the stick does not answer.

        Returns
        -------
        Message
            In one sentence why the bench is at fault; empty if it is not known to be.
        """
        if self._port not in self._before:
            return NOTHING_SAID
        if not self._went:
            if _same(self._there(), self._before[self._port]):
                # It is plugged in and failed: that is its own affair, or the port's.
                return NOTHING_SAID
            await trio.sleep(SETTLE_S)
            now = self._there()
            self._went = True
            self._back_s = None
            left = (device for device in self._before.values() if not _same(now, device))
            self._missing = tuple(
                sorted(device.path for device in left if self._is_witness(device))
            )
        if not self._missing or self._stayed_away():
            return NOTHING_SAID
        return msg(
            "{devices} of this computer's USB went with it, so a hub or controller of the bench "
            "let go and not the port; look at the computer's USB",
            devices=joined(", ", self._missing[:4]),
        )

    def _stayed_away(self) -> bool:
        """Tell whether the others have been back for so long that the stick should be, too."""
        if not set(self._missing) <= set(self._there()):
            self._back_s = None
            return False
        self._back_s = self._now_s() if self._back_s is None else self._back_s
        return self._now_s() >= self._back_s + BACK_FOR_S

    def _there(self) -> Devices:
        return self._read() or {}

    def _is_witness(self, device: UsbDevice) -> bool:
        """Tell whether a device is the bench's.

        All that hangs on the root port of the stick, or on the other half of the same connector,
        may be the unit: a hub, a dock, a monitor with ports.
        """
        above = [self._before[hub] for hub in hubs_above(device.path) if hub in self._before]
        chain = [device, *above]
        if any(fits(device, name) for device in chain for name in self._apart):
            return False
        root = self._port.partition(".")[0]
        peer = self._before[root].peer if root in self._before else ""
        return not any(device.path in (root, peer) for device in chain)


def _same(now: Devices, before: UsbDevice) -> bool:
    """Tell whether a device has stayed: in its place, under its number."""
    there = now.get(before.path)
    return there is not None and there.number == before.number
