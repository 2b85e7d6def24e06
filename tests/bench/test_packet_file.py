"""A raw file of JPEG pictures and the index beside it."""

import json

import numpy as np
import pytest
from faulty_clips import jpeg

from soak.bench.capture.packet_file import open_packet_file
from soak.bench.capture.video_stream import CannotOpen

PACKETS = [jpeg(np.full((16, 24, 3), level, np.uint8)) for level in (10, 60, 110, 160)]


def write(folder, frames, **more):
    path = folder / "clip.mjpeg"
    path.write_bytes(b"".join(PACKETS))
    about = {"fps": 60, "frames": frames, **more}
    (folder / "clip.mjpeg.idx.json").write_text(json.dumps(about))
    return path


def honest():
    at, frames = 0, []
    for number, packet in enumerate(PACKETS):
        frames.append([at, len(packet), 5_000_000_000 + number * 16_666_667])
        at += len(packet)
    return frames


def test_pictures_come_with_their_bytes_and_times_from_zero(tmp_path):
    """The index says where each picture is and when it came."""
    found = list(open_packet_file(write(tmp_path, honest(), size=[24, 16])).pictures())
    assert [bytes(one.data) for one in found] == PACKETS
    assert [round(one.t_s, 6) for one in found] == [0.0, 0.016667, 0.033333, 0.05]
    assert found[0].size == (24, 16)


@pytest.mark.parametrize(
    ("frames", "word"),
    [
        ([[0, 10_000_000, 0]], "lies"),
        ([[-5, 10, 0]], "lies"),
        ([[0, 40, 0], [20, 40, 1]], "share"),
        ([[0, 40]], "no index"),
        ("all of them", "no index"),
    ],
)
def test_an_index_that_lies_is_refused_in_one_sentence(tmp_path, frames, word):
    """Offsets beyond the file, before it, overlapping pictures, missing and wrong values."""
    with pytest.raises(CannotOpen, match=word) as refused:
        open_packet_file(write(tmp_path, frames))
    assert "\n" not in str(refused.value)


def test_bytes_that_the_index_leaves_out_are_complained_of(tmp_path):
    """A wrong count is said, and what is listed is still read."""
    file = open_packet_file(write(tmp_path, honest()[:2]))
    assert len(list(file.pictures())) == 2
    assert "leaves" in file.complaints[0]


def test_a_picture_listed_twice_is_a_repeat(tmp_path):
    """The same place may be listed again: the card delivered the same bytes."""
    frames = honest()
    file = open_packet_file(write(tmp_path, [frames[0], [*frames[0][:2], 6_000_000_000]]))
    one, other = file.pictures()
    assert bytes(one.data) == bytes(other.data)


def test_without_an_index_pictures_are_found_by_their_markers(tmp_path):
    """Back to back, each from its start marker to its end marker (ITU-T T.81, B.1.1.3)."""
    path = tmp_path / "bare.mjpeg"
    path.write_bytes(b"".join(PACKETS))
    file = open_packet_file(path)
    assert [bytes(one.data) for one in file.pictures()] == PACKETS
    assert "60 pictures a second" in file.complaints[0]
