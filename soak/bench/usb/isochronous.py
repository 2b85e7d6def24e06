"""How much of a USB 2.0 bus a camera may reserve for its stream, from its descriptors.

References
----------
USB 2.0 specification, 5.6.3 and 5.6.4 (isochronous transfers of high speed), 9.6.6 (endpoint
descriptor, tables 9-13 and 9-14). From memory, not checked against its own text.
"""

from pathlib import Path

MICROFRAME_BYTES = 7500
"""What fits into a microframe: 480 Mb/s for 125 us. USB 2.0, 5.5.3 and 7.1.8; from memory."""
PERIODIC_BYTES = 6000
"""Of it, what isochronous and interrupt transfers may take together: 80 %. USB 2.0, 5.6.4; from
memory. A host refuses a stream that would take more, and then no picture comes."""
_ENDPOINT = 5
_ENDPOINT_BYTES = 7
_IN = 0x80
_ISOCHRONOUS = 1


def most_reserved_of(device: Path) -> int:
    """Return the same of a device's folder in `/sys`; 0 where it has gone."""
    try:
        return most_reserved_bytes((device / "descriptors").read_bytes())
    except OSError:
        return 0


def most_reserved_bytes(descriptors: bytes) -> int:
    """Return the most that a device may reserve for a stream to the host, B a microframe.

    0 if it reserves none: a card that streams by bulk transfers takes what is left over.

    Parameters
    ----------
    descriptors : bytes
        As Linux lists them, in a file of that name: the device's, then each configuration's.
    """
    most = 0
    at = 0
    while at + 1 < len(descriptors) and descriptors[at] >= 2:
        entry = descriptors[at : at + descriptors[at]]
        if entry[1] == _ENDPOINT and len(entry) >= _ENDPOINT_BYTES:
            most = max(most, _reserved_bytes(entry))
        at += len(entry)
    return most


def _reserved_bytes(endpoint: bytes) -> int:
    """Return what one endpoint reserves, on the average of its interval, B a microframe."""
    is_stream = endpoint[2] & _IN and endpoint[3] & 3 == _ISOCHRONOUS
    size = int.from_bytes(endpoint[4:6], "little")
    each = (size & 0x7FF) * (1 + (size >> 11 & 3))
    return each >> max(0, endpoint[6] - 1) if is_stream else 0
