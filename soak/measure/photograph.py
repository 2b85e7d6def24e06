"""A photograph that is kept: a picture and nothing else, upright, small enough to keep.

A telephone writes into its photographs where and when they were taken and by which device; a report
travels to strangers. So the picture is decoded and written anew. What a file says of its size is
read first: a few bytes can claim a picture that no memory holds.
"""

import struct
import zlib
from collections.abc import Iterator

import cv2
import numpy as np

from soak import MOST_PIXELS
from soak.measure.decode import decode
from soak.measure.video.jpeg_header import NotAJpeg, can_hold, read_jpeg_header
from soak.words import Number, msg

LONGEST_SIDE = 1600
"""Pixels of the longer side that are kept. Our own choice: a display still reads well."""
MOST_BYTES = 64 << 20
"""A larger file is refused: a photograph takes some MB. Our own choice."""
MOST_SCANS = 64
"""A JPEG of more scans is refused: each goes over the whole picture once more, and a few bytes are
enough for one. Encoders write 10 or so (common practice); our own choice."""
_QUALITY = 88
"""JPEG quality that is kept: small print stays legible. Our own choice."""
_JPEG = b"\xff\xd8\xff"
_PNG = b"\x89PNG\r\n\x1a\n"
_SCAN = b"\xff\xda"
_END = b"\xff\xd9"
"""Markers of a scan and of the end. In coded data FF is followed by 00 (ITU-T T.81, B.1.1.5)."""
_DECODED = frozenset({b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"eXIf", b"IEND"})
"""Chunks that make the picture and set it upright; all others go before anything is decoded."""
_SAMPLES = {2: 3, 4: 2, 6: 4}
"""Samples of a pixel by the kind of colour; else 1 (PNG Specification, 11.2.1)."""
_SPARE_BYTES = 4096
"""More than a picture takes at its rows' ends and beginnings, beside 16 B a row. Our own choice."""
_PIECE_BYTES = 1 << 20
"""So much is unpacked at a time. Our own choice."""
_REDUCED = (
    (8, cv2.IMREAD_REDUCED_COLOR_8),
    (4, cv2.IMREAD_REDUCED_COLOR_4),
    (2, cv2.IMREAD_REDUCED_COLOR_2),
    (1, cv2.IMREAD_COLOR),
)


def prepared(content: bytes) -> bytes:
    """Return a photograph as a JPEG upright by its own note, shrunk, without any other note.

    Parameters
    ----------
    content : bytes
        A JPEG or PNG file.

    Raises
    ------
    ValueError
        If it is no whole picture that can be read, or an unreasonably large one; holds a message.
    """
    if not content:
        raise ValueError(msg("is empty"))
    if len(content) > MOST_BYTES:
        raise ValueError(msg("is larger than {most} MiB", most=MOST_BYTES >> 20))
    if content.startswith(_JPEG):
        width, height = _jpeg_size(content)
    elif content.startswith(_PNG):
        width, height = _png_size(content)
        content = _PNG + b"".join(one for kind, one in _chunks(content) if kind in _DECODED)
    else:
        raise ValueError(msg("is neither JPEG nor PNG"))
    return _written(_decoded(content, max(width, height)))


def _decoded(content: bytes, longest: int) -> np.ndarray:
    """Decode a picture, no larger than is kept where its kind allows that."""
    how = next(flag for share, flag in _REDUCED if share == 1 or longest >= share * LONGEST_SIDE)
    picture = decode(content, how)
    if picture is None:
        raise ValueError(msg("is damaged"))
    return picture


def _written(picture: np.ndarray) -> bytes:
    height, width = picture.shape[:2]
    share = LONGEST_SIDE / max(height, width)
    if share < 1:
        size = (max(1, round(width * share)), max(1, round(height * share)))
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    _, encoded = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    return encoded.tobytes()


def _jpeg_size(content: bytes) -> tuple[int, int]:
    """Return width and height that a JPEG says it has, if it can have them and is whole."""
    try:
        header = read_jpeg_header(content)
    except NotAJpeg:
        raise ValueError(msg("is damaged")) from None
    picture = _one_picture(content)
    if not picture or not can_hold(picture, header):
        raise ValueError(msg("is cut off: its end is missing"))
    if picture.count(_SCAN) > MOST_SCANS:
        raise ValueError(msg("is no usual JPEG: it goes over its picture too many times"))
    _refuse_too_large(header.width, header.height)
    return header.width, header.height


def _one_picture(content: bytes) -> bytes:
    """Return a JPEG's scans up to its end; telephones put films and pictures behind. Empty: none.

    What comes before them may hold a small picture with an end of its own.
    """
    at = 2
    while content[at : at + 2] != _SCAN:
        length = int.from_bytes(content[at + 2 : at + 4], "big")
        if content[at : at + 1] != b"\xff" or length < 2:
            return b""
        at += 2 + length
    ends_at = content.find(_END, at)
    return content[at : ends_at + 2] if ends_at > 0 else b""


def _png_size(content: bytes) -> tuple[int, int]:
    """Return width and height that a PNG says it has, if all of it is there as it was written."""
    chunks = _chunks(content)
    kind, first = next(chunks, (b"", b""))
    if kind != b"IHDR" or len(first) != 4 + 4 + 13 + 4:
        raise ValueError(msg("is damaged"))
    if not any(kind == b"IEND" for kind, _ in chunks):
        raise ValueError(msg("is cut off: its end is missing"))
    width, height, depth, colours = struct.unpack_from(">IIBB", first, 8)
    _refuse_too_large(width, height)
    bits = depth * _SAMPLES.get(colours, 1)
    _refuse_more_than(width * height * bits // 8 + 16 * height + _SPARE_BYTES, content)
    return int(width), int(height)


def _refuse_too_large(width: int, height: int) -> None:
    if width * height > MOST_PIXELS:
        raise ValueError(
            msg(
                "has {pixels} megapixels, and at most {most} are taken; make a smaller one of it",
                pixels=Number(width * height / 1e6, ".0f"),
                most=MOST_PIXELS // 1_000_000,
            )
        )


def _refuse_more_than(most_bytes: int, content: bytes) -> None:
    """Refuse a PNG whose data unpack to more than its picture takes: a few MB can hold hours."""
    unpacks = zlib.decompressobj()
    unpacked = 0
    try:
        for kind, chunk in _chunks(content):
            packed = chunk[8:-4] if kind == b"IDAT" else b""
            while packed and not unpacks.eof:
                unpacked += len(unpacks.decompress(packed, _PIECE_BYTES))
                packed = unpacks.unconsumed_tail
                if unpacked > most_bytes:
                    raise ValueError(msg("is damaged"))
    except zlib.error:
        raise ValueError(msg("is damaged")) from None


def _chunks(content: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Yield kind and bytes of each whole chunk of a PNG up to its last.

    References
    ----------
    W3C, Portable Network Graphics (PNG) Specification (Third Edition), 5.3 chunk layout.
    """
    at = len(_PNG)
    while at + 12 <= len(content):
        (length,) = struct.unpack_from(">I", content, at)
        chunk = content[at : at + 12 + length]
        if len(chunk) < 12 + length:
            return
        kind = chunk[4:8]
        if zlib.crc32(chunk[4:-4]) != int.from_bytes(chunk[-4:], "big"):
            raise ValueError(msg("is damaged"))
        yield kind, chunk
        if kind == b"IEND":
            return
        at += 12 + length
