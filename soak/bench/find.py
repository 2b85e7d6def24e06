"""What serial ports, network ports and thermometers are there, each with the TOML to paste.

Cameras and sticks are found in `find_media`. Nothing is opened for writing, nothing is printed;
everything here blocks for a moment, so call it in a thread while a soak runs.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from soak.bench.registry import drivers
from soak.bench.rtnetlink import LOOPBACK, Interface, interfaces, mode_of
from soak.bench.serial.names import Adapter, plugged_in
from soak.pasting import pasted, remarked
from soak.records import Role
from soak.words import NOTHING_SAID, Amount, Message, joined, msg


@dataclass(frozen=True, slots=True)
class FoundPort:
    """A serial port that is plugged in.

    Attributes
    ----------
    adapter : Adapter
        Device, `VID:PID`, serial number, socket.
    name : str
        How a fixture should name it.
    note : Message
        What to mind, one sentence; empty if nothing.
    switch_toml, probe_toml : str
        Entries to paste into a fixture and adapt.
    """

    adapter: Adapter
    name: str
    note: Message
    switch_toml: Message
    probe_toml: Message


@dataclass(frozen=True, slots=True)
class FoundNetworkPort:
    """A network port of this computer, with the lines to paste into a fixture."""

    description: Message
    toml: Message


@dataclass(frozen=True, slots=True)
class FoundThermometer:
    """A thermometer of the kernel's.

    Attributes
    ----------
    file : str
        What a fixture should name, with `*` for what changes from boot to boot.
    description : str
        Chip and label.
    toml : str
        An entry to paste into a fixture and adapt.
    """

    file: str
    description: str
    toml: Message


def find_serial(adapters: Sequence[Adapter] | None = None) -> list[FoundPort]:
    """Return the serial ports that are plugged in.

    Parameters
    ----------
    adapters : sequence of Adapter or None
        None: ask the system.
    """
    there = plugged_in() if adapters is None else adapters
    return [_port(adapter, there) for adapter in there]


def find_hwmon(root: Path = Path("/sys/class/hwmon")) -> list[FoundThermometer]:
    """Return the kernel's thermometers: chips of this computer, and some USB thermometers."""
    thermometers = []
    for chip in sorted(root.glob("hwmon*")):
        for file in sorted(chip.glob("temp*_input")):
            name = _text(chip / "name") or chip.name
            label = _text(chip / file.name.replace("_input", "_label"))
            thermometers.append(_thermometer(file, f"{name} {label}".strip()))
    return thermometers


def find_network_ports(there: Mapping[str, Interface] | None = None) -> list[FoundNetworkPort]:
    """Return the network ports of this computer; none where the system tells of none."""
    try:
        known = interfaces() if there is None else there
    except OSError:
        return []
    return [_network_port(interface) for interface in known.values() if interface.name != LOOPBACK]


def _port(adapter: Adapter, there: Sequence[Adapter]) -> FoundPort:
    twins = [other for other in there if other.best_name == adapter.best_name]
    name = adapter.best_name
    note = NOTHING_SAID
    if len(twins) > 1:
        name = adapter.device
        note = msg(
            "{count} adapters call themselves {name}; this name may swap when they are plugged in "
            "anew: mark the sockets, or use /dev/serial/by-path",
            count=len(twins),
            name=adapter.best_name,
        )
    elif adapter.usb_id and not adapter.serial_number:
        note = msg("it has no serial number, so a second one of its kind could be mistaken for it")
    quoted = json.dumps(name)
    others = _others("switch", "serial_text")
    switch_toml = pasted(
        "[switch]",
        remarked('driver = "serial_text"', msg("or {others}", others=others)),
        f"port = {quoted}",
        "baud = 9600",
        remarked('on = "ON {channel}"', msg("as the manual of the board says")),
        'off = "OFF {channel}"',
        'on_answer = "OK"',
        'off_answer = "OK"',
    )
    others = _others("probe", "serial_lines")
    probe_toml = pasted(
        "[probe.heatsink]",
        remarked('driver = "serial_lines"', msg("or {others}", others=others)),
        f"port = {quoted}",
        "baud = 9600",
        remarked(
            r"pattern = '([+-]?\d+\.\d\d)'",
            msg("the whole line, with as many decimals as it prints"),
        ),
        'spot = "heatsink"',
    )
    return FoundPort(adapter, name, note, switch_toml=switch_toml, probe_toml=probe_toml)


def _others(role: Role, shown: str) -> str:
    """Name the other drivers of a role that speak over a serial port, as a fixture names them."""
    return ", ".join(
        kind
        for (own, kind), driver in drivers().items()
        if own == role and kind != shown and "baud" in driver.settings.model_fields
    )


def _network_port(one: Interface) -> FoundNetworkPort:
    speed_mbps, duplex = mode_of(one.name) if one.carrier else (None, "")
    now = msg("switched off")
    if one.up:
        now = msg("carrier") if one.carrier else msg("no carrier")
    if one.up and one.carrier and speed_mbps:
        speed = Amount(speed_mbps, "Mb/s")
        now = msg("carrier, {speed} {duplex} duplex", speed=speed, duplex=duplex)
    interface = f"interface = {json.dumps(one.name)}"
    first = msg("switch it on first: ip link set {name} up", name=one.name)
    toml = pasted(
        remarked("[network]", msg("a port that carries nothing else of this computer's")),
        'driver = "network_port"',
        interface if one.up else remarked(interface, first),
        'port = "network"',
    )
    address = one.address or msg("no address")
    return FoundNetworkPort(
        msg("{name} ({address}): {now}", name=one.name, address=address, now=now), toml
    )


def _thermometer(file: Path, description: str) -> FoundThermometer:
    # The number in hwmonN changes from boot to boot, the device it belongs to does not.
    chip = file.parent.resolve()
    steady = chip.parent / "*" if chip.parent.name == "hwmon" else chip
    name = str(steady / file.name)
    only_if = msg("only if it measures the unit or the air around it")
    toml = pasted(
        remarked("[probe.ambient]", joined("; ", [description, only_if])),
        'driver = "number_file"',
        f"file = {json.dumps(name)}",
        remarked("scale = 0.001", msg("the kernel gives millidegrees")),
        'spot = "ambient"',
    )
    return FoundThermometer(name, description, toml)


def _text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""
