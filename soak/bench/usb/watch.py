"""From lists of devices to what a link is seen to be: seen, gone, or the bench blind.

Pure: it is given what is plugged in and when, and says what began. A device that vanished alone
has left its port. When other devices of the host went in the same moment, or the hub above, the
bench's own USB let go: that is blind, and never against the unit.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from soak.bench.usb.device import (
    Devices,
    UsbDevice,
    UsbFault,
    fits,
    hubs_above,
    named,
)
from soak.errors import told_of
from soak.marks import LinkSaid, state_of
from soak.records import Reading, State
from soak.states import BLIND
from soak.words import Message, joined, msg

TOGETHER_S = 0.5
"""Devices that leave within so long of one another left together: a hub that goes takes what hangs
on it along within milliseconds. Our own choice."""

BACK_FOR_S = 10.0
"""Once the bench's own devices are back, ours has so long to come too. Our own choice."""


@dataclass(frozen=True, slots=True)
class Named:
    """Which device is watched.

    Attributes
    ----------
    source : str
        Name of the link in the fixture.
    device : str
        `VID:PID`, `VID:PID/SERIAL`, or a bus path.
    apart : sequence of str
        Devices whose leaving says nothing of the bench: others of this unit, and of its neighbours.
    """

    source: str
    device: str
    apart: Sequence[str] = ()


class LinkWatch:
    """Say what a link is, from one list of devices after another.

    Parameters
    ----------
    repeat_s : float
        The speed of a link that stays is said again after so long, s.
    """

    def __init__(self, named_as: Named, repeat_s: float = 60.0) -> None:
        self._named = named_as
        self._repeat_s = repeat_s
        self._state = ""
        self._here: UsbDevice | None = None
        self._last: UsbDevice | None = None
        self._left_s: float | None = None
        self._left_within_s = 0.0
        self._before: Devices = {}
        self._above: Devices = {}
        self._left: list[tuple[float, str]] = []
        self._missing: frozenset[str] = frozenset()
        self._said_s = 0.0
        self._back_s = 0.0

    @property
    def here(self) -> UsbDevice | None:
        """The device, while it is there."""
        return self._here

    @property
    def last(self) -> UsbDevice | None:
        """The device where it is, or where it was seen last."""
        return self._here or self._last

    def decides_s(self) -> float | None:
        """Return when it must be asked again although nothing changed; None if it need not."""
        return None if self._left_s is None else self._left_s + TOGETHER_S

    def take(self, t_s: float, devices: Devices, within_s: float = 0.0) -> list[State | Reading]:
        """Say what began.

        Parameters
        ----------
        t_s : float
            When these devices were plugged in, s.
        within_s : float
            What changed may have changed so much earlier.
        """
        self._note_leavings(t_s, devices)
        try:
            now = named(self._named.device, devices.values())
        except UsbFault as fault:
            return self.lost_sight(t_s, told_of(fault), within_s)
        news: list[State | Reading] = []
        if self._here is not None and (now is None or not _same(now, self._here)):
            self._last = self._here
            self._here = None
            self._left_s = t_s
            self._left_within_s = within_s
        if self._left_s is not None and (now or t_s >= self._left_s + TOGETHER_S):
            news += self._decide(devices)
        if now is not None:
            news += self._present(t_s, now, within_s)
        elif not self._state:
            news += self._say(t_s, "gone", 0.0, LinkSaid(why=self._absent(devices)))
        elif self._state == BLIND and self._left_s is None:
            news += self._still_blind(t_s, devices)
        return news

    def lost_sight(self, t_s: float, why: Message, within_s: float = 0.0) -> list[State | Reading]:
        """Say that the bench cannot look at all; what is there next is seen anew."""
        self._last = self.last
        self._here = None
        self._left_s = None
        self._missing = frozenset()
        return self._say(t_s, BLIND, within_s, LinkSaid(why=why))

    def _note_leavings(self, t_s: float, devices: Devices) -> None:
        """Remember which witnesses of the bench left in the last moment."""
        # While it is undecided why ours went, none is forgotten, however late the next look comes.
        since_s = (t_s if self._left_s is None else self._left_s) - 2 * TOGETHER_S
        self._left = [entry for entry in self._left if entry[0] >= since_s]
        for path, before in self._before.items():
            stayed = path in devices and _same(devices[path], before)
            if not stayed and self._is_witness(before):
                self._left.append((t_s, path))
        self._before = dict(devices)

    def _is_witness(self, device: UsbDevice) -> bool:
        """Tell whether a device is the bench's: not ours, not set apart, beneath neither."""
        names = (self._named.device, *self._named.apart)
        above = [self._before[hub] for hub in hubs_above(device.path) if hub in self._before]
        if any(fits(part, name) for part in (device, *above) for name in names):
            return False
        ours = [own for own in (self._here, self._last) if own is not None]
        return not any(own.path in hubs_above(device.path) for own in ours)

    def _decide(self, devices: Devices) -> list[State | Reading]:
        """Say whether the device left its port or the bench let go of it."""
        left_s = self._left_s
        last = self._last
        assert left_s is not None
        assert last is not None
        self._left_s = None
        along = [path for at_s, path in self._left if abs(at_s - left_s) <= TOGETHER_S]
        along += [hub for hub in self._above if hub not in devices and hub not in along]
        said = LinkSaid(at=last.path, device=last.best_name)
        if not along:
            return self._say(left_s, "gone", self._left_within_s, said)
        self._missing = frozenset(along)
        self._back_s = 0.0
        why = msg(
            "{devices} of the bench went with it: its hub or controller let go",
            devices=_listed(along),
        )
        return self._say(left_s, BLIND, self._left_within_s, replace(said, why=why))

    def _present(self, t_s: float, now: UsbDevice, within_s: float) -> Iterator[State | Reading]:
        arrived = self._here is None
        self._here = now
        if arrived:
            self._missing = frozenset()
            above = [self._before[hub] for hub in hubs_above(now.path) if hub in self._before]
            self._above = {hub.path: hub for hub in above if self._is_witness(hub)}
            yield from self._say(t_s, "seen", within_s, _described(now))
        if now.speed_mbps is not None and (arrived or t_s >= self._said_s + self._repeat_s):
            self._said_s = t_s
            yield Reading(t_s, f"{self._named.source}.speed", now.speed_mbps)

    def _still_blind(self, t_s: float, devices: Devices) -> list[State | Reading]:
        """Say that it is gone after all, once the bench's own have been back for a while."""
        if not all(path in devices for path in self._missing):
            self._back_s = 0.0
            return []
        self._back_s = self._back_s or t_s
        if t_s < self._back_s + BACK_FOR_S:
            return []
        why = msg("the bench's own devices came back and this one did not")
        return self._say(t_s, "gone", 0.0, LinkSaid(why=why))

    def _absent(self, devices: Devices) -> Message:
        there = [d.best_name for d in devices.values() if not d.is_root]
        listed = msg("there is no other")
        if there:
            listed = msg("there are {devices}", devices=joined(", ", sorted(there)))
        return msg(
            "there is no USB device {device} on this host; {listed}",
            device=self._named.device,
            listed=listed,
        )

    def _say(
        self, t_s: float, state: str, within_s: float, said: LinkSaid
    ) -> list[State | Reading]:
        if state == self._state and state != "seen":
            return []
        self._state = state
        return [state_of(t_s, self._named.source, state, said, within_s=within_s)]


def _same(now: UsbDevice, before: UsbDevice) -> bool:
    """Tell whether a device has stayed: in its place, under its number."""
    return (now.path, now.number) == (before.path, before.number)


def _described(device: UsbDevice) -> LinkSaid:
    return LinkSaid(
        at=device.path, device=device.best_name, text=device.text, speed_mbps=device.speed_mbps
    )


def _listed(paths: Sequence[str]) -> Message:
    more = msg("and {count} more", count=len(paths) - 4) if len(paths) > 4 else None
    return joined(" ", [joined(", ", sorted(paths)[:4]), more])
