"""What the bench's fixtures name: gone, named by a name that changes, closed to us, held."""

import json
import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from shlex import quote

from soak.bench.capture.video_device import card_key, video_devices
from soak.bench.host.access import (
    Barred,
    Help,
    barred,
    ids_of,
    join_command,
    rule_commands,
    rule_for,
)
from soak.bench.host.holders import Holder, holders
from soak.bench.host.patterns import fitting_files
from soak.bench.reached import Reached, Way, reached
from soak.bench.serial.names import Adapter, named
from soak.bench.stick.mounts import block_device, mount_of, on_own_disk, table, usb_above
from soak.bench.usb import device as usb
from soak.bench.usb.sysfs import device_above
from soak.desk.proof.challenges import known_as
from soak.desk.trouble.found import Finding, Trouble, Unseen, command
from soak.desk.trouble.host import Host
from soak.errors import told_of
from soak.frozen.fixture import Fixture
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


def of_devices(names: Sequence[Named], host: Host, bench: Path) -> Iterator[Finding]:
    """Tell what is gone, closed to this user, held by another program, or named by a loose name."""
    if host.devices is None and any(name.reached.way is Way.USB for name in names):
        yield Unseen(msg("the USB devices that fixtures name: this system does not list them"))
    for name in names:
        if name.missing is not None:
            yield Trouble(joined(": ", [name.where, name.missing]), _mend_name(name))
        elif name.node and name.opens:
            yield from _closed(name.where, name.node, name, host)
    yield from _held(names, host)
    yield from _another(names, bench)
    yield from _loose(names)
    yield from _unwired(names, host)


def _mend_name(name: Named) -> Sequence[Message]:
    """Return what mends a name that stands for nothing, or for several."""
    if name.reached.way is Way.FOLDER:
        return [
            command("lsblk -o NAME,SIZE,LABEL,MOUNTPOINT"),
            command("udisksctl mount -b /dev/PARTITION"),
        ]
    key = f"`{name.reached.key}`"
    file = name.fixture.file
    write = msg("plug it in, or write as {key} into {file} what is there:", key=key, file=file)
    return [write, command("soak find")]


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
    place = _place_of_folder(name.name) if name.way is Way.FOLDER else ""
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
    by_path = [one for one in host.adapters if one.device == real]
    try:
        adapter = next(iter(by_path), Adapter(real)) if real else named(name.name, host.adapters)
    except LookupError:
        fitting = [
            one
            for one in host.adapters
            if name.name.lower() in (one.usb_id, one.best_name.lower(), one.serial_number.lower())
        ]
        missing = _several(name, [one.device for one in fitting]) if fitting else None
        there = [_both_names(one) for one in host.adapters]
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
    twins = [one for one in host.adapters if one.best_name == adapter.best_name]
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
        there = [one.best_name for one in host.devices.values() if not one.is_root]
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
        files = fitting_files(name.name, host.root)
        if len(files) > 1:
            return _several(name, list(map(str, files)))
        if files and os.access(files[0], os.R_OK):
            return None
        return msg("there is no file {name} that you may read", name=name.name)
    folder = Path(name.name)
    if not folder.is_dir():
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


def _closed(where: Message, node: str, name: Named, host: Host) -> Iterator[Finding]:
    why = barred(host.at(node), host.person, name.reached.way.value)
    if why is not None:
        mend = _opening(why, name.reached.way, name.ids, host=host, node=node)
        yield Trouble(_told_closed(where, node, why), mend)


def _told_closed(where: Message, node: str, why: Barred) -> Message:
    if why.help_ is Help.JOIN:
        told = msg(
            "you may not open {node}; it belongs to the group {group}, and you do not",
            node=node,
            group=why.group,
        )
    elif why.help_ is Help.LOG_IN:
        told = msg(
            "you may not open {node} yet; you have joined the group {group} and not logged in anew",
            node=node,
            group=why.group,
        )
    else:
        told = msg("you may not open {node}, nor may any group that you should join", node=node)
    return joined(": ", [where, told])


def _opening(why: Barred, way: Way, ids: str, *, host: Host, node: str) -> Sequence[Message]:
    """Return what lets this user open a device."""
    again = msg("then log out, and in again")
    if why.help_ is Help.LOG_IN:
        return [msg("log out, and in again")]
    if why.help_ is Help.JOIN:
        return [command(join_command(why.group, host.person)), again]
    kernel = "" if ids else Path(node).name
    rule = rule_for(way.value, ids, why.group, kernel)
    commands = rule_commands(rule, why.group, host.person)
    return [*map(command, commands), msg("then plug it in anew, log out, and in again")]


def _held(names: Sequence[Named], host: Host) -> Iterator[Finding]:
    nodes = {name.node: name for name in names if name.node and name.opens}
    if not nodes:
        return
    if not host.at("/proc").is_dir():
        yield Unseen(msg("which program holds a device: this system does not tell"))
        return
    held, closed = holders(nodes, host.at("/proc"))
    for node, processes in sorted(held.items()):
        for process in processes:
            yield _told_held(nodes[node].where, node, process)
    if closed:
        told = counted(
            closed,
            "whether {count} program of other users holds a device: `sudo fuser -v {nodes}`",
            "whether {count} programs of other users hold a device: `sudo fuser -v {nodes}`",
            nodes=joined(" ", sorted(nodes)),
        )
        yield Unseen(told)


def _told_held(where: Message, node: str, by: Holder) -> Trouble:
    told = msg(
        "{where}: process {process} ({name}) holds {node}",
        where=where,
        process=by.process,
        name=by.name,
        node=node,
    )
    if by.is_soak:
        told = msg("{told}: a soak runs with it", told=told)
        return Trouble(told, [command("soak show")], in_the_way=False)
    if by.service:
        return Trouble(told, [command(f"sudo systemctl stop {by.service}")])
    return Trouble(told, [command(f"kill {by.process}")])


def _another(names: Sequence[Named], bench: Path) -> Iterator[Finding]:
    """Tell where a name stands for another device than when its fixture was proved."""
    for name in names:
        key, now = name.is_
        on, known = known_as(bench, name.fixture.file)
        before = str(known.get(name.source, {}).get(key, ""))
        if now and before and now != before:
            told = msg(
                "{where}: {name} is {now}, and was {before} when it was proved on {day}",
                where=name.where,
                name=name.reached.name,
                now=now,
                before=before,
                day=on,
            )
            line = msg("soak prove {file} --unit UNIT", file=quote(name.fixture.file))
            yield Trouble(told, [msg("put back what was there, or prove it anew:"), line])


def _loose(names: Sequence[Named]) -> Iterator[Finding]:
    for name in names:
        if name.lasting:
            told = msg(
                "{where}: {name} is given out in the order of plugging, and may be another "
                "device tomorrow",
                where=name.where,
                name=name.reached.name,
            )
            line = f"{name.reached.key} = {json.dumps(name.lasting)}"
            yield Trouble(told, [command(line)], in_the_way=False)


def _unwired(names: Sequence[Named], host: Host) -> Iterator[Finding]:
    """Tell of what is plugged in, in no fixture yet, and closed to this user."""
    known = {name.node for name in names}
    for adapter in host.adapters:
        if adapter.usb_id and adapter.device not in known:
            yield from _closed_yet(Way.SERIAL, adapter.device, adapter.usb_id, host=host)
    video = host.root / "sys/class/video4linux"
    for camera in video_devices(sysfs=video):
        if camera.node not in known:
            ids = ids_of(video / Path(camera.node).name)
            yield from _closed_yet(Way.VIDEO, camera.node, ids, host=host)


def _closed_yet(way: Way, node: str, ids: str, host: Host) -> Iterator[Finding]:
    why = barred(host.at(node), host.person, way.value)
    if why is not None:
        told = _told_closed(msg("plugged in, in no fixture yet"), node, why)
        yield Trouble(told, _opening(why, way, ids, host=host, node=node), in_the_way=False)
