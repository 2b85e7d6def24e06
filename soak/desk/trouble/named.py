"""What each name in the bench's fixtures stands for now."""

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from soak.bench.capture.video_device import card_key
from soak.bench.host.access import ids_of
from soak.bench.host.patterns import fitting_files
from soak.bench.reached import Reached, Way, reached
from soak.bench.serial.names import Adapter, named
from soak.bench.stick.mounts import block_device, mount_of, on_own_disk, table, usb_above
from soak.bench.usb import device as usb
from soak.bench.usb.sysfs import device_above
from soak.desk.trouble.host import Host
from soak.errors import told_of
from soak.frozen.fixture import Fixture
from soak.outside import is_file, is_folder
from soak.words import Message, counted, joined, msg

_CHANGES = re.compile(r"/dev/(tty(USB|ACM)\d+|video\d+|sd[a-z]+\d*|nvme\d+n\d+\S*)|\d+")
"""Names that the kernel gives out in the order of plugging."""
_LASTING = {Way.VIDEO: "/dev/v4l/by-id", Way.DISK: "/dev/disk/by-id"}
"""Where udev keeps names that stay."""


@dataclass(frozen=True, slots=True)
class Named:
    """One name in a fixture and what it stands for now.

    Attributes
    ----------
    node : str
        The device's file; empty if it is gone, or has none.
    ids : str
        `VID:PID`; empty if it is not on USB.
    place : str
        Bus path of its USB device; empty where unknown.
    lasting : str
        A name that stays; empty if there is none, or its name is one.
    opens : bool
        Whether the instrument opens that file.
    is_ : (str, str)
        By what it is known, as its identity would say it once open: the key and what it says.
    missing : Message or None
        What is wrong with the name.
    """

    fixture: Fixture
    source: str
    reached: Reached
    node: str = ""
    ids: str = ""
    place: str = ""
    lasting: str = ""
    opens: bool = True
    is_: tuple[str, str] = ("", "")
    missing: Message | None = None

    @property
    def where(self) -> Message:
        """Where it is named."""
        return joined(", ", [self.fixture.file, self.source])


def named_in(fixtures: Sequence[Fixture], host: Host) -> list[Named]:
    """Return every name of real instruments in some fixtures with what it stands for."""
    return [
        _look(fixture, source, name, host)
        for fixture in fixtures
        if not fixture.simulated
        for source, _, wired in fixture.entries()
        for name in reached(wired)
    ]


def _look(fixture: Fixture, source: str, name: Reached, host: Host) -> Named:
    if name.way is Way.SERIAL:
        return _serial(fixture, source, name, host)
    if name.way is Way.USB:
        return _usb(fixture, source, name, host)
    if name.way is Way.VIDEO:
        path = f"/dev/video{name.name}" if name.name.isdigit() else name.name
        return _file(fixture, source, name, host=host, node=host.real(path))
    if name.way is Way.DISK:
        return _file(fixture, source, name, host=host, node=host.real(name.name))
    is_there = name.way is Way.FOLDER and is_folder(Path(name.name))
    place = _place_of_folder(name.name) if is_there else ""
    crosses = fixture.stick_path != "bench_only"
    missing = _lacks(name, host, crosses=crosses)
    return Named(fixture, source, name, place=place, opens=False, missing=missing)


def _place_of_folder(folder: str) -> str:
    """Return the bus path of the stick that a folder is mounted from; empty if of none."""
    mount = mount_of(folder, table())
    device = None if mount is None else block_device(mount.source)
    return str(usb_above(device).get("usb_port", ""))


def _serial(fixture: Fixture, source: str, name: Reached, host: Host) -> Named:
    real = host.real(name.name) if name.name.startswith("/") else ""
    by_path = [plugged for plugged in host.adapters if plugged.device == real]
    try:
        adapter = next(iter(by_path), Adapter(real)) if real else named(name.name, host.adapters)
    except LookupError:
        fitting = [
            plugged
            for plugged in host.adapters
            if name.name.lower()
            in (plugged.usb_id, plugged.best_name.lower(), plugged.serial_number.lower())
        ]
        missing = _several(name, [plugged.device for plugged in fitting]) if fitting else None
        there = [_both_names(plugged) for plugged in host.adapters]
        return Named(fixture, source, name, missing=missing or _gone(name, there))
    lasting = ""
    if adapter.usb_id and _CHANGES.fullmatch(name.name):
        lasting = _lasting_name(adapter, host)
    place = adapter.socket.partition(":")[0]
    return Named(
        fixture,
        source,
        name,
        node=adapter.device,
        ids=adapter.usb_id,
        place=place,
        lasting=lasting,
        is_=("adapter", adapter.key),
    )


def _both_names(adapter: Adapter) -> str:
    if adapter.best_name == adapter.device:
        return adapter.device
    return f"{adapter.best_name} ({adapter.device})"


def _lasting_name(adapter: Adapter, host: Host) -> str:
    """Return how a fixture should name an adapter: by itself, or by its socket if it has a twin."""
    twins = [plugged for plugged in host.adapters if plugged.best_name == adapter.best_name]
    if len(twins) == 1:
        return adapter.best_name
    return host.lasting_name(adapter.device, "/dev/serial/by-path")


def _usb(fixture: Fixture, source: str, name: Reached, host: Host) -> Named:
    if host.devices is None:
        return Named(fixture, source, name, opens=False)
    try:
        device = usb.named(name.name, host.devices.values())
    except usb.UsbFault as fault:
        return Named(fixture, source, name, missing=told_of(fault))
    if device is None:
        there = [device.best_name for device in host.devices.values() if not device.is_root]
        return Named(fixture, source, name, missing=_gone(name, there))
    bus = re.sub(r"\D", "", device.path.partition("-")[0])
    node = f"/dev/bus/usb/{int(bus):03}/{device.number:03}"
    # To watch a link nothing is opened; to switch a port, or to ask for a descriptor, it is.
    opens = name.key != "device" or bool(getattr(fixture.wired[source], "ask_every_s", 0))
    ids = f"{device.vendor:04x}:{device.product:04x}"
    return Named(fixture, source, name, node=node, ids=ids, place=device.path, opens=opens)


def _file(fixture: Fixture, source: str, name: Reached, host: Host, node: str) -> Named:
    if not node:
        folder = host.at(_LASTING[name.way])
        there = [f"{_LASTING[name.way]}/{link.name}" for link in sorted(folder.glob("*"))]
        return Named(fixture, source, name, missing=_gone(name, there))
    entry = host.root / "sys/class" / name.way.value / Path(node).name
    above = device_above(entry)
    lasting = ""
    if _CHANGES.fullmatch(name.name):
        lasting = host.lasting_name(node, _LASTING[name.way])
    return Named(
        fixture,
        source,
        name,
        node=node,
        ids=ids_of(entry),
        place="" if above is None else above.name,
        lasting=lasting,
        is_=("card", card_key(node, entry.parent)) if name.way is Way.VIDEO else ("", ""),
    )


def _lacks(name: Reached, host: Host, *, crosses: bool) -> Message | None:
    """Return what is wrong with the name of a folder, a network port or a file; None if nothing."""
    if name.way is Way.NETWORK:
        known = host.networks
        return None if known is None or name.name in known else _gone(name, sorted(known))
    if name.way is Way.FILE:
        try:
            files = fitting_files(name.name, host.root)
        except ValueError:  # no pattern
            files = []
        if len(files) > 1:
            return _several(name, list(map(str, files)))
        if files and is_file(files[0]) and os.access(files[0], os.R_OK):
            return None
        return msg("there is no file {name} that you may read", name=name.name)
    folder = Path(name.name)
    if not is_folder(folder):
        return msg("there is no folder {folder}; is the stick in, and mounted?", folder=name.name)
    if crosses and on_own_disk(folder):
        return msg(
            "{folder} lies on this computer's own disk; is the stick in, and mounted?",
            folder=name.name,
        )
    if not os.access(folder, os.W_OK):
        return msg("you may not write to {folder}; mount the stick for yourself", folder=name.name)
    return None


def _gone(name: Reached, there: Sequence[str]) -> Message:
    listed = joined(", ", there) if there else msg("none")
    return msg(
        "nothing is plugged in that is called {name}; there: {there}", name=name.name, there=listed
    )


def _several(name: Reached, there: Sequence[str]) -> Message:
    return counted(
        len(there),
        "{count} device is called {name}: {there}; name it by its place",
        "{count} devices are called {name}: {there}; name it by its place",
        name=name.name,
        there=joined(", ", there),
    )
