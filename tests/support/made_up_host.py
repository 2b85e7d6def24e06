"""A made-up host: its `/sys`, `/dev`, `/proc` and `/etc` in a folder, with real device nodes."""

import importlib
import os
import stat
import struct
from dataclasses import dataclass
from pathlib import Path

from plain_user import plain_user
from typed_bench import Said, TypedBench, typed

from soak.bench.serial.names import Adapter

_ENDPOINT = struct.Struct("<BBBBHB")
"""Length, type, address, attributes, wMaxPacketSize, bInterval: USB 2.0, table 9-13."""
ISOCHRONOUS_IN_BYTES_3072 = _ENDPOINT.pack(7, 5, 0x81, 0x05, 0x1400, 1)
"""Three transactions of 1024 B a microframe: bits 12..11 are 2, bits 10..0 are 1024."""
BULK_IN = _ENDPOINT.pack(7, 5, 0x81, 0x02, 512, 0)
DEVICE = bytes([18, 1]) + bytes(16)

RELAY = """\
name = "left"
[switch]
driver = "serial_text"
port = "{port}"
on = "ON {{channel}}"
off = "OFF {{channel}}"
"""
STICK = """\
name = "left"
[stick]
driver = "device"
device = "{device}"
serial = "S1"
"""
LINK = 'name = "l"\n[link]\ndriver = "usb_link"\ndevice = "{device}"\n'


def trouble(bench: TypedBench, *words: str) -> Said:
    """Type the verb in a bench's folder."""
    return typed("trouble", *words, within=bench.path)


def trouble_of_a_plain_user(bench: TypedBench) -> Said:
    """Type the verb as a user whom permissions hold.

    Once before, and with what may be imported late: it may lie where only root reads.
    """
    for late in ("getpass", "grp", "psutil", "pwd", "resource"):
        importlib.import_module(late)
    trouble(bench)
    with plain_user():
        return trouble(bench)


def in_a_line(text: str) -> str:
    """Undo what the window's width did to sentences."""
    return " ".join(text.split())


@dataclass
class MadeUpHost:
    """A folder in place of `/`."""

    root: Path

    def write(self, name: str, text: str | bytes = "") -> Path:
        """Write a file below it."""
        file = self.root / name.lstrip("/")
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return file

    def node(self, name: str, mode: int = 0o660, group: int = 0, *, block: bool = False) -> Path:
        """Make a device node that belongs to root and to a group; needs root."""
        file = self.root / name.lstrip("/")
        file.parent.mkdir(parents=True, exist_ok=True)
        # A number that no driver has: it can be looked at and not opened.
        os.mknod(file, mode | (stat.S_IFBLK if block else stat.S_IFCHR), os.makedev(240, 7))
        os.chown(file, 0, group)
        file.chmod(mode)
        return file

    def link(self, name: str, to: str) -> None:
        """Make a link, as udev makes them."""
        file = self.root / name.lstrip("/")
        file.parent.mkdir(parents=True, exist_ok=True)
        file.symlink_to(to)

    def usb(self, path: str, ids: str, speed: str = "480", descriptors: bytes = DEVICE) -> Path:
        """Plug in a USB device at a bus path; its root hub comes with it."""
        bus = path.partition("-")[0]
        if not (self.root / f"sys/bus/usb/devices/usb{bus}").exists():
            self._device(f"usb{bus}", "1d6b:0002", speed, device_class="09")
        hub = path.rpartition(".")[0]
        if hub and not (self.root / "sys/bus/usb/devices" / hub).exists():
            self.usb(hub, "1a40:0101")
        return self._device(path, ids, speed, descriptors=descriptors)

    def _device(
        self, path: str, ids: str, speed: str, descriptors: bytes = DEVICE, device_class: str = "00"
    ) -> Path:
        number = sum(1 for _ in (self.root / "sys/bus/usb/devices").glob("*")) + 1
        vendor, product = ids.split(":")
        kept = {
            "devnum": str(number),
            "busnum": path.partition("-")[0].removeprefix("usb"),
            "idVendor": vendor,
            "idProduct": product,
            "speed": speed,
            "bDeviceClass": device_class,
        }
        for name, text in kept.items():
            self.write(f"sys/bus/usb/devices/{path}/{name}", text + "\n")
        self.write(f"sys/bus/usb/devices/{path}/descriptors", descriptors)
        return self.root / "sys/bus/usb/devices" / path

    def camera(self, number: int, path: str, descriptors: bytes, group: int = 0) -> None:
        """Plug in a camera: its node, and its name that stays."""
        device = self.usb(path, f"534d:210{number}", descriptors=DEVICE + descriptors)
        interface = device / f"{path}:1.0"
        interface.mkdir()
        self.link(f"sys/class/video4linux/video{number}/device", str(interface))
        self.write(f"sys/class/video4linux/video{number}/name", f"card {number}\n")
        self.node(f"dev/video{number}", group=group)
        self.link(f"dev/v4l/by-id/usb-card-{number}", f"../../video{number}")

    def adapter(self, number: int, serial: str = "RELAY1", group: int = 0) -> Adapter:
        """Plug in a serial adapter, as pyserial would list it."""
        device = f"/dev/ttyUSB{number}"
        self.node(device, group=group)
        return Adapter(device, "1a86:7523", serial, f"1-{number + 1}", "adapter")

    def holds(self, process: int, device: str, name: str, unit: str = "") -> None:
        """Let a process hold a device open."""
        self.write(f"proc/{process}/comm", name + "\n")
        self.write(f"proc/{process}/cmdline", name + "\0")
        slice_ = f"/system.slice/{unit}" if unit else "/user.slice/user-1000.slice/session-1.scope"
        self.write(f"proc/{process}/cgroup", f"0::{slice_}\n")
        self.link(f"proc/{process}/fd/5", device)
