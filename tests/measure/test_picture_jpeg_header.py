"""Reading a JPEG packet's size from its own header."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soak.measure.video.coded_watcher import CodedWatcher
from soak.measure.video.jpeg_header import (
    JpegHeader,
    NotAJpeg,
    can_hold,
    is_whole,
    luma_quantiser,
    read_jpeg_header,
)
from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.roles import Picture


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
    assert read_jpeg_header(packet) == JpegHeader(width, height)
    assert is_whole(packet)


def test_a_header_laid_out_by_hand_is_read():
    """Fill bytes and a comment before a frame header, as ITU-T T.81 B.1.1.2 and B.2.2 allow."""
    comment = b"\xff\xfe\x00\x06soak"
    frame = b"\xff\xff\xff\xc0\x00\x0b\x08\x04\x38\x07\x80\x01\x01\x11\x00"
    assert read_jpeg_header(b"\xff\xd8" + comment + frame) == JpegHeader(1920, 1080)


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
    assert header.width > 0
    assert header.height > 0


@given(st.integers(0, len(GOOD) - 1))
def test_a_packet_cut_short_is_never_whole(length):
    """Wherever the transfer stops, the end marker is missing."""
    assert not is_whole(GOOD[:length])


@pytest.mark.parametrize("padding", [1, 500])
def test_padding_after_the_end_is_allowed(padding):
    """Cards that fill their buffers up with zeros deliver whole pictures."""
    assert is_whole(GOOD + bytes(padding))


@given(st.binary(max_size=400))
def test_the_quantising_of_any_bytes_is_a_number(data):
    """It is asked for of every picture seen fully, before anything else is known of it."""
    assert luma_quantiser(data) >= 0
    assert luma_quantiser(b"\xff\xd8\xff\xdb" + data) >= 0


@pytest.mark.parametrize("size", [(16, 16), (1920, 1080), (4096, 2160)])
def test_the_emptiest_picture_still_holds_its_size(size):
    """Black at quality 1 with tables of its own is as few bytes as OpenCV's encoder can make."""
    width, height = size
    asked = [cv2.IMWRITE_JPEG_QUALITY, 1, cv2.IMWRITE_JPEG_OPTIMIZE, 1]
    for progressive in (0, 1):
        more = [cv2.IMWRITE_JPEG_PROGRESSIVE, progressive]
        black = np.zeros((height, width), np.uint8)
        packet = cv2.imencode(".jpg", black, [*asked, *more])[1].tobytes()
        assert can_hold(packet, read_jpeg_header(packet))


def claiming(packet, width, height):
    """Return the packet with another size in its frame header."""
    at = packet.find(b"\xff\xc0")
    size = height.to_bytes(2, "big") + width.to_bytes(2, "big")
    return packet[: at + 5] + size + packet[at + 9 :]


PACKETS = [packet_of(320, 240 + 8 * (number % 2), quality=60) for number in range(6)]


@pytest.mark.parametrize(
    "watcher", [PictureWatcher(WatcherSettings(fine_every=1)), CodedWatcher(9)]
)
def test_a_packet_that_claims_a_monstrous_size_is_damaged(watcher):
    """900 million pixels in 30 kB would take minutes and gigabytes to decode."""
    for number in range(12):
        packet = claiming(PACKETS[0], 30_000, 30_000) if number > 3 else PACKETS[0]
        watcher.look(Picture(number / 30, number, "mjpeg", (320, 240), memoryview(packet)))
    if isinstance(watcher, PictureWatcher):
        assert watcher.damaged == 8


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.integers(0, 5), st.integers(2, 5000), st.binary(max_size=6)), max_size=12)
)
def test_no_damage_of_packets_breaks_the_watcher(damages):
    """Whatever bytes are overwritten, also in the header: it looks, or counts it as damaged."""
    watchers = (PictureWatcher(WatcherSettings(moving=True, fine_every=1)), CodedWatcher(9))
    for number, (which, place, data) in enumerate(damages):
        packet = PACKETS[which]
        packet = packet[:place] + data + packet[place + len(data) :]
        for watcher in watchers:
            watcher.look(Picture(number / 30, number, "mjpeg", (320, 240), memoryview(packet)))
