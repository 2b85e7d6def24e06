"""Switching the power of a hub's port, on hubs of both kinds that obey, refuse or only claim."""

import errno

import pytest
from bench_tools import run_real, wired
from usb_backend import GANGED, NO_SWITCHING, Device, ModelBackend, Port

from soak.bench.drivers import hub_port
from soak.bench.registry import Tools
from soak.bench.usb.device import UsbFault
from soak.bench.usb.libusb import UDEV_RULE, LibUsb
from soak.errors import BenchFault


def hub(**given) -> Device:
    """Make a USB 2 hub of four ports with a high-speed device in port 3."""
    ports = [Port(), Port(), Port(connected=True), Port()]
    given = {"vendor": 0x1A40, "product": 0x0101, "hub_ports": ports, **given}
    return Device(1, (2,), 5, **given)


def super_hub(**given) -> Device:
    """Make the SuperSpeed half of a USB 3 hub."""
    ports = [Port(), Port(), Port(connected=True, speed_mbps=5000.0), Port()]
    given = {"vendor": 0x1A40, "product": 0x0301, "hub_ports": ports, **given}
    return Device(2, (2,), 6, speed_mbps=5000.0, **given)


def settings(**given):
    return {"driver": "hub_port", "hub": "1a40:0101", "channel": "3", "settle_s": 0.0, **given}


def switched(on: bool, *devices: Device, **given) -> ModelBackend:
    """Open the switch on these devices, command port 3, close it twice."""
    backend = ModelBackend(*devices)

    async def main(tools: Tools) -> None:
        entry = wired("switch", settings(**given))
        switch = await hub_port.open_hub("switch", entry, tools, backend)
        await switch.command(entry.channel, on)
        assert await switch.asked_on(entry.channel) is on
        assert switch.identity["hangs_up_on_the_bus"]
        await switch.aclose()
        await switch.aclose()

    run_real(main)
    return backend


def test_off_clears_the_ports_power_by_the_class_request():
    """0x23 CLEAR_FEATURE PORT_POWER, wIndex the port: USB 2.0 section 11.24.2.2."""
    one = hub()
    switched(False, one)
    assert (0x23, 1, 8, 3) in one.asked
    assert [port.powered for port in one.hub_ports] == [True, True, False, True]


def test_on_sets_it_again():
    """0x23 SET_FEATURE PORT_POWER: USB 2.0 section 11.24.2.13."""
    one = hub()
    one.hub_ports[2].powered = False
    switched(True, one)
    assert (0x23, 3, 8, 3) in one.asked
    assert one.hub_ports[2].powered


def test_a_super_speed_hub_is_asked_and_read_by_its_own_tables():
    """Descriptor type 0x2A, and power in bit 9 of the status."""
    one = super_hub()
    switched(False, one, hub="1a40:0301")
    assert (0xA0, 6, 0x2A00, 0) in one.asked
    assert not one.hub_ports[2].powered


def test_both_halves_of_a_usb_3_hub_are_switched():
    """As long as one half keeps a port powered, it is powered."""
    halves = (hub(), super_hub())
    switched(False, *halves, companion="1a40:0301")
    assert [half.hub_ports[2].powered for half in halves] == [False, False]


@pytest.mark.parametrize(
    ("made", "given", "what"),
    [
        ({"characteristics": GANGED}, {}, "switches all its ports together"),
        ({"characteristics": NO_SWITCHING}, {}, "does not switch the power of its ports"),
        ({}, {"channel": "9"}, "has 4 ports, so no port 9"),
        ({}, {"hub": "1a40:9999"}, "no USB device 1a40:9999 here; the hubs are 1a40:0101"),
        ({"trouble": errno.EACCES}, {}, UDEV_RULE),
        ({"trouble": errno.EPIPE}, {}, "refuses the request"),
        ({"trouble": errno.ETIMEDOUT}, {}, "does not answer"),
    ],
)
def test_a_hub_that_cannot_is_refused_in_one_sentence(made, given, what):
    """Before anything is switched, and saying what to do."""
    with pytest.raises(BenchFault) as fault:
        switched(False, hub(**made), **given)
    assert what in str(fault.value)
    assert "\n" not in str(fault.value)


def test_two_hubs_of_one_name_are_refused():
    """Which of them the unit hangs on, only its place tells."""
    other = hub()
    other.ports, other.address = (3,), 8
    with pytest.raises(BenchFault, match=r"2 devices call themselves 1a40:0101 .at 1-2 and 1-3"):
        switched(False, hub(), other)


def test_a_hub_whose_port_stays_as_it_was_is_a_bench_fault():
    """The hub is asked after each command; one that does not follow is told, after two tries."""
    with pytest.raises(BenchFault, match=r"2 tries.*says that the port is still on"):
        switched(False, hub(obeys=False))


def test_two_fixtures_may_use_two_ports_of_one_hub_and_not_one():
    """A port of a hub is an output of a switch."""
    first, second = (wired("switch", settings(channel=channel)).claims() for channel in "34")
    assert set(first).isdisjoint(second)
    assert set(first) == set(wired("switch", settings()).claims())


@pytest.mark.parametrize("channel", ["0", "x", ""])
def test_a_channel_that_is_no_port_number_is_refused(channel):
    """Ports are counted from 1."""
    with pytest.raises(ValueError, match="channel"):
        wired("switch", settings(channel=channel))


def test_what_is_no_hub_says_so():
    """A device that is no hub refuses the hub's descriptor."""
    with pytest.raises(UsbFault, match="refuses the request"):
        LibUsb(ModelBackend(Device(1, (4,), 3))).hub_words("1-4")


def test_a_port_that_is_over_current_and_off_is_told():
    """What a hub says of the port a device hung on explains why it went."""
    one = hub()
    one.hub_ports[2] = Port(powered=False, over_current=True)
    status = LibUsb(ModelBackend(one)).status_above("1-2.3")
    assert status.words == ("over-current",)


def test_without_libusb_the_sentence_says_what_to_install(monkeypatch):
    """No library, one sentence."""
    import libusb_package
    import usb.backend.libusb1

    monkeypatch.setattr(libusb_package, "get_libusb1_backend", lambda *a, **k: None)
    monkeypatch.setattr(usb.backend.libusb1, "get_backend", lambda *a, **k: None)
    with pytest.raises(UsbFault, match="pip install libusb-package"):
        LibUsb()


def test_devices_are_listed_with_their_serial_numbers_and_speeds():
    """What needs to be asked for is asked for once."""
    stick = Device(2, (2, 1), 9, 0x1209, 2, "ST0001", 5000.0)
    libusb = LibUsb(ModelBackend(hub(), stick))
    found = libusb.read()["2-2.1"]
    assert (found.best_name, found.speed_mbps) == ("1209:0002/ST0001", 5000.0)
    asked = len(stick.asked)
    assert libusb.read()["2-2.1"] == found
    assert len(stick.asked) == asked
