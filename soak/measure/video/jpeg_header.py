"""The size of a JPEG packet from its own header, without decoding it.

When a stream changes size a capture card's driver may go on announcing the old one; the packet
itself does not lie. Damaged packets are refused here, because a decoder makes a normal-looking
picture of half a packet.
"""

from dataclasses import dataclass

_STANDALONE = frozenset({0x01, *range(0xD0, 0xD8)})
_FRAME_HEADERS = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_SCAN, _END, _TABLES = 0xDA, 0xD9, 0xDB
"""Markers of the scan, the end and the quantising tables: by definition (ITU-T T.81)."""
_TAIL_BYTES = 1024
"""Some cards pad a packet after its end; so far back the end marker is looked for. Our own
choice."""
PIXELS_OF_A_BYTE = 8 * 64
"""No byte of a JPEG holds more pixels: a block of 8 x 8 takes at least a bit. By definition (ITU-T
T.81, from memory)."""


class NotAJpeg(ValueError):
    """Report bytes that are not one whole JPEG picture."""


@dataclass(frozen=True, slots=True)
class JpegHeader:
    """What a JPEG packet says of itself: width and height in pixels."""

    width: int
    height: int


def read_jpeg_header(packet: bytes) -> JpegHeader:
    """Read the frame header of a JPEG packet.

    Raises
    ------
    NotAJpeg
        If the bytes do not begin with a JPEG's markers in a possible order, or give no size.

    References
    ----------
    ITU-T T.81 (1992), annex B: B.1.1.3 markers, B.2.2 frame header.
    """
    if packet[:2] != b"\xff\xd8":
        raise NotAJpeg("does not begin with a JPEG's start marker")
    at = 2
    length = len(packet)
    while at + 4 <= length:
        if packet[at] != 0xFF:
            raise NotAJpeg(f"no marker at byte {at}")
        marker = packet[at + 1]
        if marker == 0xFF:  # a fill byte, T.81 B.1.1.2
            at += 1
            continue
        if marker in _STANDALONE:
            at += 2
            continue
        if marker in _FRAME_HEADERS:
            return _frame_header(packet, at, marker)
        if marker in (0x00, 0xD8, _END, _SCAN):
            raise NotAJpeg(f"marker {marker:02X} stands before the frame header")
        segment = int.from_bytes(packet[at + 2 : at + 4], "big")
        if segment < 2:
            raise NotAJpeg(f"segment at byte {at} is {segment} bytes long")
        at += 2 + segment
    raise NotAJpeg("ends before its frame header")


def _frame_header(packet: bytes, at: int, marker: int) -> JpegHeader:
    if at + 10 > len(packet):
        raise NotAJpeg("ends within its frame header")
    segment = int.from_bytes(packet[at + 2 : at + 4], "big")
    height = int.from_bytes(packet[at + 5 : at + 7], "big")
    width = int.from_bytes(packet[at + 7 : at + 9], "big")
    components = packet[at + 9]
    if width == 0 or height == 0 or components == 0 or segment != 8 + 3 * components:
        raise NotAJpeg("has an impossible frame header")
    return JpegHeader(width, height)


def can_hold(packet: bytes, header: JpegHeader) -> bool:
    """Tell whether a packet has the bytes that a picture of its size takes at the very least.

    Each 8 x 8 block of luma takes one code of at least 1 bit (ITU-T T.81, F.1.2), so a byte holds
    512 pixels at most. A damaged size would else be decoded: minutes, and all of the memory.
    """
    return len(packet) * PIXELS_OF_A_BYTE >= header.width * header.height


def luma_quantiser(packet: bytes) -> int:
    """Return the sum of the first quantising table's steps, 0 where none is found.

    It says how coarsely the encoder worked, without decoding.

    References
    ----------
    ITU-T T.81 (1992), B.2.4.1: quantisation table-specification syntax.
    """
    at = 2
    while at + 4 <= len(packet) and packet[at] == 0xFF and packet[at + 1] != _SCAN:
        segment = int.from_bytes(packet[at + 2 : at + 4], "big")
        if packet[at + 1] == _TABLES and at + 5 <= len(packet):
            deep = packet[at + 4] >> 4
            steps = packet[at + 5 : at + 5 + (128 if deep else 64)]
            return sum(steps) if not deep else sum(steps[1::2]) + 256 * sum(steps[0::2])
        at += 2 + max(segment, 2)
    return 0


def is_whole(packet: bytes) -> bool:
    """Tell whether the packet reaches its end marker; a transfer cut short does not.

    Within the coded data the end marker cannot occur: there FF is followed by 00 or a restart
    marker (ITU-T T.81, F.1.2.3).
    """
    return packet.endswith(b"\xff\xd9") or packet.rfind(b"\xff\xd9", -_TAIL_BYTES) > 0
