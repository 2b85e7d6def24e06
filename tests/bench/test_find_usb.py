"""Finding USB devices, with lines that a fixture takes as they are."""

import tomllib

from bench_tools import wired

from soak.bench.usb.device import UsbDevice
from soak.bench.usb.find import find_usb

ROOT = UsbDevice("usb1", 1, 0x1D6B, 2, device_class=9)
HUB = UsbDevice("1-2", 2, 0x1A40, 0x0101, device_class=9, speed_mbps=480.0)
STICK = UsbDevice("1-2.1", 3, 0x1209, 2, "ST0001", 480.0, text="a stick")
TWINS = [UsbDevice(f"1-{port}", port, 0x0403, 0x6001) for port in (5, 6)]


def found(*devices: UsbDevice) -> dict:
    return {one.device.path: one for one in find_usb({d.path: d for d in devices})}


def test_each_device_comes_with_lines_a_fixture_takes():
    """What is pasted is checked by the same settings as a fixture."""
    for one in found(ROOT, HUB, STICK, *TWINS).values():
        for role, entry in tomllib.loads(one.toml).items():
            assert wired(role, entry).driver in ("usb_link", "hub_port")


def test_twins_without_serial_numbers_are_named_by_their_place():
    """A name that two answer to is none."""
    names = {path: one.name for path, one in found(STICK, *TWINS).items()}
    assert names == {"1-2.1": "1209:0002/ST0001", "1-5": "1-5", "1-6": "1-6"}


def test_only_a_hub_is_offered_as_a_switch_and_no_root_hub_at_all():
    """The host's own controllers are not plugged in."""
    all_found = found(ROOT, HUB, STICK)
    assert set(all_found) == {"1-2", "1-2.1"}
    assert [path for path, one in all_found.items() if "[switch]" in one.toml] == ["1-2"]
