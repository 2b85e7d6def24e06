"""Finding cameras and sticks, by folders laid out like the system's own."""

import cv2
import numpy as np
import pytest

from soak.bench import find_media
from soak.bench.capture.video_device import (
    card_key,
    device_name,
    node_of_card,
    stable_path,
    video_devices,
)
from soak.bench.capture.video_stream import Asked, CannotOpen, Frame
from soak.bench.find_media import find_sticks, snapshot
from soak.bench.stick.mounts import Mount


@pytest.fixture
def cards(tmp_path):
    """Lay out two cards with a metadata node each, as Linux does, and one stable name."""
    sysfs, by_id = tmp_path / "video4linux", tmp_path / "by-id"
    by_id.mkdir()
    for node, index, name in (
        ("video0", 0, "Bench Card A"),
        ("video1", 1, "Bench Card A"),
        ("video10", 0, "Bench Card B"),
        ("video11", 1, "Bench Card B"),
    ):
        (sysfs / node).mkdir(parents=True)
        (sysfs / node / "index").write_text(f"{index}\n")
        (sysfs / node / "name").write_text(f"{name}\n")
    (by_id / "usb-Bench_Card_B-video-index0").symlink_to("/dev/video10")
    return by_id, sysfs


def test_metadata_nodes_are_left_out_and_stable_names_used(cards):
    """Each card is listed once, in order of number, by the name that stays where it has one."""
    by_id, sysfs = cards
    found = video_devices(by_id, sysfs)
    assert [device.node for device in found] == ["/dev/video0", "/dev/video10"]
    assert found[0].stable == "/dev/video0"
    assert found[1].stable == str(by_id / "usb-Bench_Card_B-video-index0")
    assert [device.name for device in found] == ["Bench Card A", "Bench Card B"]


def test_a_node_is_found_again_by_its_stable_name(cards):
    """The name that stays belongs to the node it points at, and to no other."""
    by_id, sysfs = cards
    assert stable_path("/dev/video10", by_id).endswith("Card_B-video-index0")
    assert stable_path("/dev/video0", by_id) == "/dev/video0"
    assert device_name("/dev/video10", sysfs) == "Bench Card B"


def test_a_card_is_known_by_its_serial_under_another_number(tmp_path):
    """A card that comes back as another node is the same card; its twin is not."""
    sysfs, usb = tmp_path / "video4linux", tmp_path / "usb1"
    for node, port, serial in (("video3", "1-2", "CC0002"), ("video7", "1-1", "CC0001")):
        (usb / port / f"{port}:1.0").mkdir(parents=True)
        (usb / port / "idVendor").write_text("1209\n")
        (usb / port / "idProduct").write_text("0003\n")
        (usb / port / "serial").write_text(f"{serial}\n")
        (sysfs / node).mkdir(parents=True)
        (sysfs / node / "index").write_text("0\n")
        (sysfs / node / "device").symlink_to(usb / port / f"{port}:1.0")
    assert card_key("/dev/video7", sysfs) == "1209:0003/CC0001"
    assert node_of_card("1209:0003/CC0001", sysfs) == "/dev/video7"
    assert node_of_card("1209:0003/CC0009", sysfs) == ""
    assert card_key("/dev/video9", sysfs) == ""


def test_a_host_without_cameras_has_none(tmp_path):
    """Nothing there is an empty list, no error."""
    assert video_devices(tmp_path / "no", tmp_path / "no") == []


class Still:
    """A stream that shows the given frames, then nothing."""

    identity = None
    size = (32, 16)

    def __init__(self, *frames):
        self.frames, self.closed = list(frames), False

    def read(self):
        return self.frames.pop(0) if self.frames else None

    def close(self):
        self.closed = True


def test_each_camera_comes_with_a_snapshot_and_lines_to_paste(monkeypatch, cards):
    """The last of the first pictures is kept; a camera in use is listed with its sentence."""
    by_id, sysfs = cards
    image = np.full((16, 32, 3), 200, np.uint8)
    packet = cv2.imencode(".jpg", image)[1].reshape(1, -1)
    still = Still(*[Frame("mjpeg", (32, 16), packet)] * 3)

    def open_one(asked: Asked):
        if asked.source == "/dev/video0":
            raise CannotOpen("/dev/video0 cannot be opened as a camera; another program uses it")
        return still

    monkeypatch.setattr(find_media, "open_stream", open_one)
    monkeypatch.setattr(find_media, "video_devices", lambda: video_devices(by_id, sysfs))
    busy, good = find_media.find_cameras()
    assert busy.snapshot == b""
    assert "another program" in busy.trouble
    assert good.snapshot == packet.tobytes()
    assert good.trouble == ""
    assert still.closed
    assert 'driver = "opencv"' in good.toml
    assert f'source = "{good.device.stable}"' in good.toml
    assert "size = [32, 16]" in good.toml


def test_a_yuyv_snapshot_is_a_jpeg_of_the_right_brightness():
    """Limited-range luma 126 is mid grey (BT.601: (126 - 16) x 255 / 219 = 128)."""
    raw = np.full((16, 32, 2), (126, 128), np.uint8)
    image = cv2.imdecode(
        np.frombuffer(snapshot(Still(Frame("yuyv", (32, 16), raw))), np.uint8),
        cv2.IMREAD_GRAYSCALE,
    )
    assert abs(float(image.mean()) - 128) <= 2


def test_removable_media_are_found_and_the_system_disk_is_not(tmp_path):
    """A mounted partition of a removable disk is listed, one that was pulled meanwhile is not."""
    sysfs, disks = tmp_path / "block", tmp_path / "devices"
    sysfs.mkdir()
    for disk, part, removable in (("sdx", "sdx1", 1), ("sda", "sda1", 0)):
        (disks / disk / part).mkdir(parents=True)
        (disks / disk / "device").mkdir()
        (disks / disk / "device" / "model").write_text("Pebble\n")
        (disks / disk / "removable").write_text(f"{removable}\n")
        (disks / disk / part / "partition").write_text("1\n")
        (sysfs / part).symlink_to(disks / disk / part)
    folder = tmp_path / "MY STICK"
    folder.mkdir()
    mounts = [
        Mount(str(folder), "vfat", "/dev/sdx1"),
        Mount(str(tmp_path), "ext4", "/dev/sda1"),
        Mount("/gone", "vfat", "/dev/sdx1"),
    ]
    (stick,) = find_sticks(mounts, sysfs)
    assert stick.folder == str(folder)
    assert stick.name == "Pebble"
    assert 'driver = "folder"' in stick.toml
    assert "MY STICK" in stick.toml
