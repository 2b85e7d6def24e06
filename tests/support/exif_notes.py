"""Notes that telephones put into photographs, as Exif segments made by hand.

Layout after Exif 2.3 (CIPA DC-008) and TIFF 6.0: APP1, `Exif`, a TIFF header, directories of
12-byte entries.
"""

import struct


def segment(marker: int, body: bytes) -> bytes:
    """Return a JPEG segment (ITU-T T.81, B.1.1.4)."""
    return b"\xff" + bytes([marker]) + struct.pack(">H", len(body) + 2) + body


def with_orientation(orientation: int, secret: bytes = b"") -> bytes:
    """Return a segment with an orientation (tag 0x0112) and a description (tag 0x010E)."""
    entries = struct.pack("<HHIHH", 0x0112, 3, 1, orientation, 0)
    entries += struct.pack("<HHII", 0x010E, 2, len(secret), 8 + 2 + 24 + 4)
    tiff = b"II*\0" + struct.pack("<I", 8) + struct.pack("<H", 2) + entries + b"\0\0\0\0" + secret
    return segment(0xE1, b"Exif\0\0" + tiff)


def _gps() -> bytes:
    """Return a segment whose GPS directory (tag 0x8825) holds a latitude: N, then three ratios."""
    head = b"II*\0" + struct.pack("<I", 8)
    first = struct.pack("<HHHII", 1, 0x8825, 4, 1, 26) + b"\0\0\0\0"
    ratios = struct.pack("<6I", 52, 1, 31, 1, 12, 1)
    own = struct.pack("<HHHI4s", 2, 1, 2, 2, b"N\0\0\0") + struct.pack("<HHII", 2, 5, 3, 56)
    return segment(0xE1, b"Exif\0\0" + head + first + own + b"\0\0\0\0" + ratios)


GPS_OF_EXIF = _gps()
