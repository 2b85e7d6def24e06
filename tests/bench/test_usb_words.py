"""The words of USB against the tables of the specifications."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soak.bench.usb.words import (
    LIBUSB_SPEED_MBPS,
    hub_words,
    port_status,
    speed_name,
)

words = st.integers(0, 0xFFFF)


@pytest.mark.parametrize(
    ("word", "super_speed", "said", "speed_mbps"),
    [
        # Bits: include/uapi/linux/usb/ch11.h, after USB 2.0 table 11-21 and USB 3.0 table 10-10.
        (0x0100, False, ("power",), None),
        (0x0503, False, ("connected", "enabled", "power"), 480.0),
        (0x0103, False, ("connected", "enabled", "power"), 12.0),
        (0x0303, False, ("connected", "enabled", "power"), 1.5),
        (0x0108, False, ("over-current", "power"), None),
        (0x0507, False, ("connected", "enabled", "suspended", "power"), 480.0),
        (0x0203, True, ("connected", "enabled", "power"), 5000.0),
        (0x02A0, True, ("power",), None),
        (0x00A0, True, (), None),
        (0x0003, True, ("connected", "enabled"), 5000.0),
    ],
)
def test_a_port_is_read_by_the_table_of_its_own_hub(word, super_speed, said, speed_mbps):
    """The same bit is power on a SuperSpeed hub and a low-speed device on a USB 2 hub."""
    found = port_status(word, 0, super_speed)
    assert (found.words, found.speed_mbps) == (said, speed_mbps)


@given(words, words)
def test_power_is_another_bit_on_each_kind_of_hub(status, change):
    """Bit 8 alone tells the power of a USB 2 port, bit 9 alone that of a SuperSpeed port."""
    assert port_status(status, change, False).powered == bool(status & 0x0100)
    assert port_status(status, change, True).powered == bool(status & 0x0200)


@given(words, words, st.booleans())
def test_a_speed_is_told_of_enabled_ports_only(status, change, super_speed):
    """A port that is not enabled has no speed, whatever its other bits say."""
    found = port_status(status, change, super_speed)
    assert (found.speed_mbps is None) == (not status & 0x0002)
    assert found.over_current == bool(status & 0x0008)
    assert ("over-current" in found.changed) == bool(change & 0x0008)


@pytest.mark.parametrize(
    ("bits", "link"),
    [(0x0000, "U0"), (0x0060, "U3"), (0x00A0, "no receiver detected"), (0x00C0, "inactive")],
)
def test_the_state_of_a_super_speed_link_is_bits_5_to_8(bits, link):
    """Values: USB_SS_PORT_LS_* in ch11.h."""
    assert port_status(0x0203 | bits, 0, True).link == link
    assert port_status(0x0503, 0, False).link == ""


@pytest.mark.parametrize(
    ("characteristics", "switching", "protection"),
    [
        # HUB_CHAR_LPSM (bits 0, 1) and HUB_CHAR_OCPM (bits 3, 4) of ch11.h.
        (0x0000, "ganged", "ganged"),
        (0x0001, "per port", "ganged"),
        (0x0002, "none", "ganged"),
        (0x0003, "none", "ganged"),
        (0x0009, "per port", "per port"),
        (0x0012, "none", "none"),
        (0x00E0, "ganged", "ganged"),
    ],
)
@pytest.mark.parametrize("head", ["0929", "0c2a"])
def test_a_hub_says_how_it_switches(characteristics, switching, protection, head):
    """Power and over-current are told in two pairs of bits; others are of no account."""
    low, high = characteristics & 0xFF, characteristics >> 8
    found = hub_words(bytes.fromhex(head) + bytes([4, low, high, 50, 100, 0, 255]))
    assert (found.switching, found.protection) == (switching, protection)
    assert found.ports == 4


@given(st.binary(max_size=12))
def test_what_is_no_hub_descriptor_is_refused(data):
    """A short answer, or one of another type, is an error and never a hub without switching."""
    if len(data) >= 7 and data[1] in (0x29, 0x2A):
        assert hub_words(data).ports == data[2]
    else:
        with pytest.raises(ValueError, match="no hub descriptor"):
            hub_words(data)


def test_the_speeds_are_those_of_libusb_in_order():
    """`enum libusb_speed` of libusb.h, 1 to 6."""
    assert LIBUSB_SPEED_MBPS == {1: 1.5, 2: 12, 3: 480, 4: 5000, 5: 10000, 6: 20000}
    assert speed_name(480.0) == "high speed (480 Mb/s)"
    assert speed_name(10000.0) == "SuperSpeed (10000 Mb/s)"
