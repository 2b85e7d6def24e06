"""What a camera may reserve is read from its descriptors as USB 2.0 lays them out."""

import pytest
from made_up_host import BULK_IN, DEVICE, ISOCHRONOUS_IN_BYTES_3072

from soak.bench.usb.isochronous import MICROFRAME_BYTES, PERIODIC_BYTES, most_reserved_bytes


def endpoint(attributes: int, packet: int, interval: int, address: int = 0x81) -> bytes:
    return bytes([7, 5, address, attributes, packet & 0xFF, packet >> 8, interval])


@pytest.mark.parametrize(
    ("packet", "taken"),
    [(0x0400, 1024), (0x0C00, 2048), (0x1400, 3072), (0x0BFC, 2040), (0x00C0, 192)],
)
def test_bits_12_and_11_say_how_often_in_a_microframe(packet, taken):
    """USB 2.0, table 9-13, wMaxPacketSize (from memory): 00 once, 01 twice, 10 three times."""
    assert most_reserved_bytes(DEVICE + endpoint(5, packet, 1)) == taken


def test_an_interval_of_two_takes_half():
    """USB 2.0, table 9-13, bInterval (from memory): every 2^(bInterval-1) microframes."""
    assert most_reserved_bytes(DEVICE + endpoint(5, 0x1400, 2)) == 1536


def test_the_largest_of_all_settings_counts_and_bulk_takes_nothing():
    """A card that streams by bulk transfers reserves nothing; what goes to it is no picture."""
    out = endpoint(5, 0x1400, 1, address=0x01)
    assert most_reserved_bytes(DEVICE + BULK_IN + out) == 0
    several = endpoint(5, 0x0400, 1) + ISOCHRONOUS_IN_BYTES_3072 + endpoint(5, 0x0200, 1)
    assert most_reserved_bytes(DEVICE + several) == 3072


@pytest.mark.parametrize("cut", range(1, 25))
def test_descriptors_that_were_cut_end_the_reading(cut):
    """No length of nothing, no byte behind the end."""
    whole = DEVICE + ISOCHRONOUS_IN_BYTES_3072
    assert most_reserved_bytes(whole[:cut]) in (0, 3072)
    assert most_reserved_bytes(whole[:cut] + b"\0\0\0") in (0, 3072)


def test_a_microframe_is_what_its_rate_and_length_say():
    """480 Mb/s for 125 us are 7500 B, of which 80 % may be periodic (USB 2.0, 5.6.4)."""
    assert MICROFRAME_BYTES == 480e6 * 125e-6 / 8
    assert PERIODIC_BYTES == 0.8 * MICROFRAME_BYTES
