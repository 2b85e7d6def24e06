"""A photograph that is kept: the picture, upright, and nothing of who took it where."""

import struct
import zlib

import cv2
import numpy as np
import pytest
from exif_notes import GPS_OF_EXIF, segment, with_orientation

from soak.measure.photograph import LONGEST_SIDE, prepared

SECRET = b"GPS 52.0000 N, taken by a telephone"


def picture(width=80, height=40):
    """Return a picture whose left half is white."""
    made = np.zeros((height, width, 3), np.uint8)
    made[:, : width // 2] = 255
    return made


def with_notes(jpeg: bytes, orientation: int) -> bytes:
    """Put an Exif segment with an orientation and a description behind the start of a JPEG."""
    return jpeg[:2] + with_orientation(orientation, SECRET) + jpeg[2:]


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
        (b"", "is empty"),
        (b"GIF89a...", "neither JPEG nor PNG"),
        (b"\xff\xd8\xff\xe0 no picture", "damaged"),
        (b"\xff\xd8\xff" + bytes(65 << 20), "larger than"),
    ],
)
def test_what_is_no_photograph_is_refused(content, why):
    """A letter that was named .jpg is not kept as evidence."""
    with pytest.raises(ValueError, match=why):
        prepared(content)


NOTES = {
    "Exif with GPS": GPS_OF_EXIF,
    "XMP": segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta>" + SECRET + b"</x:xmpmeta>"),
    "a colour profile": segment(0xE2, b"ICC_PROFILE\0\1\1" + SECRET),
    "an index of more pictures": segment(0xE2, b"MPF\0" + SECRET),
    "IPTC": segment(0xED, b"Photoshop 3.0\0" + SECRET),
    "a comment": segment(0xFE, SECRET),
    "an unknown segment": segment(0xEB, SECRET),
}
PICTURE_ONLY = {0xE0, 0xDB, 0xC0, 0xC4, 0xDA}
"""Markers of JFIF's own header, tables, frame and scan (ITU-T T.81, table B.1; JFIF 1.02)."""


def markers(jpeg: bytes) -> set[int]:
    """Return the markers of a JPEG's segments up to its first scan."""
    at, found = 2, set()
    while at < len(jpeg) and 0xDA not in found:
        assert jpeg[at] == 0xFF
        found.add(jpeg[at + 1])
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
    return found


@pytest.mark.parametrize("name", NOTES)
def test_no_note_of_any_kind_is_kept(name):
    """Whatever stands beside the picture: what is kept has the picture's own segments only."""
    jpeg = encoded(picture())
    noted = jpeg[:2] + NOTES[name] + jpeg[2:] + b"PK\3\4 a film behind the picture " + SECRET
    kept = prepared(noted)
    assert SECRET not in kept
    assert markers(kept) <= PICTURE_ONLY
    assert kept.endswith(b"\xff\xd9")


def chunk(kind: bytes, body: bytes) -> bytes:
    """Return a PNG chunk (PNG Specification, 5.3)."""
    crc = struct.pack(">I", zlib.crc32(kind + body))
    return struct.pack(">I", len(body)) + kind + body + crc


def png(width: int, height: int, data: bytes, *more: bytes) -> bytes:
    """Return a PNG in true colour of 8 bits, with more chunks before its data."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    parts = (b"\x89PNG\r\n\x1a\n", head, *more, chunk(b"IDAT", data), chunk(b"IEND", b""))
    return b"".join(parts)


def rows(width: int, height: int) -> bytes:
    """Return the packed data of a black picture: a filter byte, then the row (PNG, 7.2)."""
    return zlib.compress(bytes(height * (1 + 3 * width)))


@pytest.mark.parametrize("kind", [b"tEXt", b"zTXt", b"iTXt", b"eXIf", b"tIME", b"iCCP", b"prVt"])
def test_no_note_of_a_png_is_kept(kind):
    """A PNG is kept as a JPEG, without what stood beside its picture."""
    kept = prepared(png(30, 20, rows(30, 20), chunk(kind, b"GPS\0" + SECRET)))
    assert SECRET not in kept
    assert markers(kept) <= PICTURE_ONLY


LEFT_HALF_WHITE = {1: "left", 2: "right", 3: "right", 4: "left", 5: "top", 6: "top", 7: "bottom"}
LEFT_HALF_WHITE[8] = "bottom"
"""Where the stored left side is shown, by orientation (Exif 2.3, tag 0x0112: what row 0 and column
0 are)."""


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("width", [80, 4000])
def test_each_orientation_is_applied_before_it_is_dropped(orientation, width):
    """Small and shrunk: the white half stands where the note says."""
    noted = with_notes(encoded(picture(width, width // 2)), orientation)
    kept = cv2.imdecode(np.frombuffer(prepared(noted), np.uint8), cv2.IMREAD_IGNORE_ORIENTATION)
    height, wide = kept.shape[:2]
    assert (height > wide) == (orientation > 4)
    spots = {
        "left": kept[height // 2, wide // 8],
        "right": kept[height // 2, wide - wide // 8],
        "top": kept[height // 8, wide // 2],
        "bottom": kept[height - height // 8, wide // 2],
    }
    for where in ("left", "right") if orientation < 5 else ("top", "bottom"):
        assert (spots[where].min() > 200) == (where == LEFT_HALF_WHITE[orientation]), where


def claiming(width: int, height: int) -> bytes:
    """Return a small JPEG whose frame header claims another size (T.81, B.2.2)."""
    jpeg = bytearray(encoded(picture()))
    at = jpeg.index(b"\xff\xc0")
    struct.pack_into(">HH", jpeg, at + 5, height, width)
    return bytes(jpeg)


def scanned_again(times: int) -> bytes:
    """Return a progressive JPEG whose last scan comes so many times more."""
    how = [cv2.IMWRITE_JPEG_PROGRESSIVE, 1]
    jpeg = bytes(cv2.imencode(".jpg", picture(), how)[1].tobytes())
    return jpeg[:-2] + jpeg[jpeg.rindex(b"\xff\xda") : -2] * times + jpeg[-2:]


def packed_zeros(mebibytes: int) -> bytes:
    packs = zlib.compressobj(9)
    return b"".join(packs.compress(bytes(1 << 20)) for _ in range(mebibytes)) + packs.flush()


BOMBS = {
    "a gigapixel PNG": (png(32_000, 32_000, rows(8, 8)), "1024 megapixels"),
    "a PNG of 2^31 columns": (png(2**31 - 1, 1, rows(8, 8)), "2147 megapixels"),
    "a PNG that unpacks to more": (png(10, 10, packed_zeros(64)), "damaged"),
    "a JPEG that claims 4 gigapixels": (claiming(65_500, 65_500), "cut off"),
    "a JPEG of a thousand scans": (scanned_again(1000), "too many times"),
    "a PNG without its end": (png(30, 20, rows(30, 20))[:-12], "cut off"),
    "a PNG with a changed byte": (png(30, 20, rows(30, 20)).replace(b"IDATx", b"IDATy"), "damaged"),
    "a JPEG without its end": (encoded(picture(800, 600))[:-2], "cut off"),
    "half a JPEG": (encoded(picture(800, 600))[:1500], "cut off"),
    "a JPEG's beginning": (encoded(picture())[:20], "damaged"),
    "a PNG's beginning": (b"\x89PNG\r\n\x1a\n", "damaged"),
}


@pytest.mark.parametrize("name", BOMBS)
def test_what_no_memory_holds_is_refused_by_its_header(name, monkeypatch):
    """It is never handed to the decoder."""

    def decoded(*given):
        raise AssertionError("it was decoded")

    monkeypatch.setattr(cv2, "imdecode", decoded)
    content, why = BOMBS[name]
    with pytest.raises(ValueError, match=why):
        prepared(content)


def test_two_hundred_megapixels_are_refused_in_one_sentence():
    """A telephone can make such; it says how many it may be."""
    large = np.zeros((10_000, 20_000), np.uint8)
    with pytest.raises(ValueError, match="has 200 megapixels, and at most 64 are taken"):
        prepared(encoded(large))


def test_a_film_behind_the_picture_is_no_bomb():
    """Telephones put seconds of film behind a photograph; nobody looks at its bytes."""
    film = b"\xff\xda\x00\x02" * 1000
    kept = cv2.imdecode(np.frombuffer(prepared(encoded(picture()) + film), np.uint8), 1)
    assert kept.shape[:2] == (40, 80)


def test_a_small_picture_in_the_notes_is_not_taken_for_the_end():
    """An Exif segment holds a JPEG of its own; what is cut off behind it is cut off."""
    small = segment(0xE1, b"Exif\0\0" + encoded(picture(16, 8)))
    jpeg = encoded(picture(800, 600))
    assert prepared(jpeg[:2] + small + jpeg[2:])
    with pytest.raises(ValueError, match="cut off"):
        prepared(jpeg[:2] + small + jpeg[2:-2])
