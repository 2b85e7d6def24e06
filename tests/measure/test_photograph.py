"""A photograph that is kept: the picture, upright, and nothing of who took it where."""

import struct

import cv2
import numpy as np
import pytest

from soak.measure.photograph import LONGEST_SIDE, prepared

SECRET = b"GPS 52.0000 N, taken by a telephone"


def picture(width=80, height=40):
    """Return a picture whose left half is white."""
    made = np.zeros((height, width, 3), np.uint8)
    made[:, : width // 2] = 255
    return made


def with_notes(jpeg: bytes, orientation: int) -> bytes:
    """Put an Exif segment with an orientation and a description behind the start of a JPEG.

    Layout after Exif 2.3 (CIPA DC-008): APP1, `Exif`, a TIFF header, directory 0 of 12-byte
    entries; tag 0x0112 is the orientation, 0x010E the description.
    """
    entries = struct.pack("<HHIHH", 0x0112, 3, 1, orientation, 0)
    entries += struct.pack("<HHII", 0x010E, 2, len(SECRET), 8 + 2 + 24 + 4)
    tiff = b"II*\0" + struct.pack("<I", 8) + struct.pack("<H", 2) + entries + b"\0\0\0\0" + SECRET
    segment = b"Exif\0\0" + tiff
    return jpeg[:2] + b"\xff\xe1" + struct.pack(">H", len(segment) + 2) + segment + jpeg[2:]


def encoded(made, kind=".jpg") -> bytes:
    return bytes(cv2.imencode(kind, made)[1].tobytes())


def test_what_a_telephone_notes_is_not_kept():
    """No Exif segment, and not a word of what stood in it."""
    noted = with_notes(encoded(picture()), 1)
    assert SECRET in noted
    kept = prepared(noted)
    assert SECRET not in kept
    assert b"Exif" not in kept


def test_it_stands_upright_by_its_own_note():
    """Orientation 6 (Exif 2.3): what is stored as its left side is shown at the top."""
    kept = cv2.imdecode(np.frombuffer(prepared(with_notes(encoded(picture()), 6)), np.uint8), 1)
    assert kept.shape[:2] == (80, 40)
    assert kept[5, 20].min() > 200
    assert kept[75, 20].max() < 50


def test_a_large_one_is_made_smaller_and_a_small_one_is_not():
    """A display still reads well; a report still travels by mail."""
    large = cv2.imdecode(np.frombuffer(prepared(encoded(picture(4000, 3000))), np.uint8), 1)
    assert max(large.shape[:2]) == LONGEST_SIDE
    assert large.shape[0] / large.shape[1] == pytest.approx(3 / 4, abs=0.01)
    small = cv2.imdecode(np.frombuffer(prepared(encoded(picture(), ".png")), np.uint8), 1)
    assert small.shape[:2] == (40, 80)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "neither JPEG nor PNG"),
        (b"GIF89a...", "neither JPEG nor PNG"),
        (b"\xff\xd8\xff\xe0 no picture", "damaged"),
        (b"\xff\xd8\xff" + bytes(65 << 20), "larger than"),
    ],
)
def test_what_is_no_photograph_is_refused(content, why):
    """A letter that was named .jpg is not kept as evidence."""
    with pytest.raises(ValueError, match=why):
        prepared(content)
