"""Reading a JPEG packet's size from its own header."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soak.measure.jpeg_header import JpegHeader, NotAJpeg, is_whole, read_jpeg_header


def packet_of(width, height, grey=False, progressive=False, quality=80):
    """Return a JPEG of noise made by OpenCV's own encoder."""
    shape = (height, width) if grey else (height, width, 3)
    image = np.random.default_rng(width * 65536 + height).integers(0, 255, shape, dtype=np.uint8)
    asked = [cv2.IMWRITE_JPEG_QUALITY, quality, cv2.IMWRITE_JPEG_PROGRESSIVE, int(progressive)]
    return cv2.imencode(".jpg", image, asked)[1].tobytes()


GOOD = packet_of(48, 32)


@given(
    width=st.integers(1, 300),
    height=st.integers(1, 300),
    grey=st.booleans(),
    progressive=st.booleans(),
    quality=st.integers(1, 100),
)
def test_the_size_is_the_one_the_encoder_was_given(width, height, grey, progressive, quality):
    """For every picture of OpenCV's encoder, header and wholeness are right."""
    packet = packet_of(width, height, grey, progressive, quality)
    wanted = JpegHeader(width, height, 1 if grey else 3, progressive)
    assert read_jpeg_header(packet) == wanted
    assert is_whole(packet)


def test_a_header_laid_out_by_hand_is_read():
    """Fill bytes and a comment before a frame header, as ITU-T T.81 B.1.1.2 and B.2.2 allow."""
    comment = b"\xff\xfe\x00\x06soak"
    frame = b"\xff\xff\xff\xc0\x00\x0b\x08\x04\x38\x07\x80\x01\x01\x11\x00"
    assert read_jpeg_header(b"\xff\xd8" + comment + frame) == JpegHeader(1920, 1080, 1, False)


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(data):
    """Nothing but the typed refusal is ever raised."""
    for packet in (data, b"\xff\xd8" + data, b"\xff\xd8\xff" + data):
        try:
            header = read_jpeg_header(packet)
        except NotAJpeg:
            continue
        assert header.width > 0
        assert header.height > 0


@given(st.integers(0, len(GOOD) - 1), st.integers(0, 255))
def test_a_packet_with_one_wrong_byte_is_read_or_refused(place, value):
    """A damaged byte gives a refusal or a possible size, never another error."""
    damaged = GOOD[:place] + bytes([value]) + GOOD[place + 1 :]
    try:
        header = read_jpeg_header(damaged)
    except NotAJpeg:
        return
    assert header.components > 0


@given(st.integers(0, len(GOOD) - 1))
def test_a_packet_cut_short_is_never_whole(length):
    """Wherever the transfer stops, the end marker is missing."""
    assert not is_whole(GOOD[:length])


@pytest.mark.parametrize("padding", [1, 500])
def test_padding_after_the_end_is_allowed(padding):
    """Cards that fill their buffers up with zeros deliver whole pictures."""
    assert is_whole(GOOD + bytes(padding))
