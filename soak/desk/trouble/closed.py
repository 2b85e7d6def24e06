"""What this user may not open, and what lets him: one sentence for all that one thing mends."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from soak.bench.capture.video_device import video_devices
from soak.bench.host.access import (
    Barred,
    Help,
    barred,
    ids_of,
    join_command,
    rule_commands,
    rule_for,
)
from soak.bench.reached import Way
from soak.desk.trouble.found import Finding, Trouble, command
from soak.desk.trouble.host import Host
from soak.desk.trouble.named import Named
from soak.words import Message, all_of, joined, msg


@dataclass(frozen=True, slots=True)
class _Device:
    """A device to be opened, and where it is named."""

    way: Way
    node: str
    ids: str
    where: Message


def of_closed(names: Sequence[Named], host: Host) -> Iterator[Finding]:
    """Tell which devices this user may not open: those of fixtures, then what is plugged in."""
    wired = [
        _Device(name.reached.way, name.node, name.ids, name.where)
        for name in names
        if name.node and name.opens and name.missing is None
    ]
    yield from _closed(wired, host, in_the_way=True)
    known = {name.node for name in names}
    unwired = [device for device in _plugged_in(host) if device.node not in known]
    yield from _closed(unwired, host, in_the_way=False)


def _plugged_in(host: Host) -> Iterator[_Device]:
    where = msg("plugged in, in no fixture yet")
    for adapter in host.adapters:
        if adapter.usb_id:
            yield _Device(Way.SERIAL, adapter.device, adapter.usb_id, where)
    video = host.root / "sys/class/video4linux"
    for camera in video_devices(sysfs=video):
        ids = ids_of(video / Path(camera.node).name)
        yield _Device(Way.VIDEO, camera.node, ids, where)


def _closed(devices: Sequence[_Device], host: Host, *, in_the_way: bool) -> Iterator[Finding]:
    by_mend: dict[tuple[Message, ...], tuple[Barred, list[_Device]]] = {}
    for device in devices:
        why = barred(host.at(device.node), host.person, device.way.value)
        if why is not None:
            mend = tuple(_opening(why, device, host))
            by_mend.setdefault(mend, (why, []))[1].append(device)
    for mend, (why, closed) in by_mend.items():
        where = joined("; ", dict.fromkeys(device.where for device in closed))
        nodes = all_of(dict.fromkeys(device.node for device in closed))
        yield Trouble(joined(": ", [where, _told(nodes, why)]), mend, in_the_way=in_the_way)


def _told(nodes: Message, why: Barred) -> Message:
    if why.help_ is Help.JOIN:
        return msg(
            "you may not open {nodes}; only the group {group} may, and you are not in it",
            nodes=nodes,
            group=why.group,
        )
    if why.help_ is Help.LOG_IN:
        return msg(
            "you may not open {nodes} yet; you have joined the group {group} and not logged in "
            "anew",
            nodes=nodes,
            group=why.group,
        )
    return msg("you may not open {nodes}, nor may any group that you should join", nodes=nodes)


def _opening(why: Barred, device: _Device, host: Host) -> Sequence[Message]:
    """Return what lets this user open a device."""
    again = msg("then log out, and in again")
    if why.help_ is Help.LOG_IN:
        return [msg("log out, and in again")]
    if why.help_ is Help.JOIN:
        return [command(join_command(why.group, host.person)), again]
    kernel = "" if device.ids else Path(device.node).name
    rule = rule_for(device.way.value, device.ids, why.group, kernel)
    commands = rule_commands(rule, why.group, host.person)
    return [*map(command, commands), msg("then plug it in anew, log out, and in again")]
