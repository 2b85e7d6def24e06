"""What a V4L2 driver says of its input."""

import struct

import pytest

from soak.bench.capture.video_device import no_signal


def driver_saying(status):
    """Return a driver that answers VIDIOC_G_INPUT with 2 and VIDIOC_ENUMINPUT with `status`."""

    def answer(node, request, buffer):
        assert node == "/dev/video7"
        if request & 0xFF == 38:
            buffer[:] = struct.pack("=I", 2)
        else:
            assert (request & 0xFF, (request >> 16) & 0x3FFF) == (26, struct.calcsize(LAYOUT))
            assert struct.unpack("=I", buffer[:4]) == (2,)
            buffer[:] = struct.pack(LAYOUT, 2, b"HDMI", 2, 0, 0, 0, status, 0)

    return answer


# struct v4l2_input of Linux's videodev2.h: index, name[32], type, audioset, tuner, std (64 bit),
# status, capabilities, reserved[3]; padded to 8.
LAYOUT = "@I32sIIIQII12x4x"


@pytest.mark.parametrize(
    ("status", "gone"),
    # V4L2_IN_ST_NO_POWER, NO_SIGNAL, NO_H_LOCK, NO_SYNC of videodev2.h; NO_COLOR and flips are not.
    [(0, False), (0x1, True), (0x2, True), (0x100, True), (0x10000, True), (0x34, False)],
)
def test_the_drivers_status_bits_say_whether_there_is_a_signal(status, gone):
    """The bits that mean no picture count; no colour and flipped ones do not."""
    assert no_signal("/dev/video7", driver_saying(status)) is gone


def test_a_driver_that_does_not_tell_says_nothing():
    """An unknown request is no missing signal."""

    def refuse(node, request, buffer):
        raise OSError(25, "Inappropriate ioctl for device")

    assert no_signal("/dev/video7", refuse) is False
