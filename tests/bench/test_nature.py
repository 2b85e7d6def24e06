"""What stands behind a port, a file or an address is found out from the system.

What the kernel shows of devices is imitated as its documentation describes it
(Documentation/ABI/testing/sysfs-devices-removable, Documentation/admin-guide/devices.txt); pipes,
terminals and addresses are this host's own.
"""

import os
import socket
from pathlib import Path

import pytest
from headers import fixture_of

from soak.bench import nature
from soak.bench.stick import mounts
from soak.natures import KINDS, NO_INSTRUMENT, Nature, nature_of, was_looked_at


@pytest.fixture
def sysfs(tmp_path, monkeypatch):
    """Return a sysfs of the test's own."""
    place = tmp_path / "sys"
    (place / "class").mkdir(parents=True)
    monkeypatch.setattr(mounts, "SYSFS", place)
    return place


def listed(sysfs: Path, group: str, name: str, at: str) -> Path:
    """Let sysfs list a device by its group, and return the place it leads to."""
    place = sysfs / "devices" / at / group / name
    place.mkdir(parents=True)
    entry = sysfs / "class" / group / name
    entry.parent.mkdir(exist_ok=True)
    entry.symlink_to(place)
    return place


def test_a_pseudo_terminal_is_told_from_a_port(tmp_path):
    """Also under another name: a link to it changes nothing."""
    ours, theirs = os.openpty()
    link = tmp_path / "relay"
    link.symlink_to(os.ttyname(theirs))
    try:
        assert nature.of_terminal(str(link)) is Nature.TERMINAL
        assert nature.of_terminal(os.ttyname(theirs), on_usb=True) is Nature.TERMINAL
    finally:
        os.close(ours)
        os.close(theirs)


def test_a_pipe_or_a_file_is_no_port(tmp_path):
    """What a program wrote for another to read is an ordinary file."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "file").write_text("T=31.5\n")
    assert nature.of_terminal(str(tmp_path / "pipe")) is Nature.FILE
    assert nature.of_terminal(str(tmp_path / "file")) is Nature.FILE


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        ("pci0000:00/0000:00:14.0/usb1/1-2/1-2:1.0", Nature.DEVICE),
        ("platform/soc/fe500000.csi", Nature.DEVICE),  # a small computer's own camera
        ("virtual", Nature.PROGRAM),  # made by a program, such as a looped-back picture
        ("platform/vivid.0", Nature.PROGRAM),  # the kernel's test picture
        ("platform/vhci_hcd.0/usb5/5-1/5-1:1.0", Nature.PROGRAM),  # USB brought from elsewhere
    ],
)
def test_a_card_sits_below_a_device(sysfs, at, expected):
    """One that a program makes has no device, or sits below the drivers that make some up."""
    listed(sysfs, "video4linux", "video3", at)
    assert nature.of_node("/dev/video3", "video4linux") is expected


def test_what_the_system_does_not_list_is_unknown(sysfs):
    """Nothing is guessed."""
    assert nature.of_node("/dev/video9", "video4linux") is Nature.UNKNOWN
    assert nature.of_terminal("COM3") is Nature.UNKNOWN
    assert nature.of_usb_path("1-2") is Nature.UNKNOWN
    assert nature.of_usb_path("") is Nature.UNKNOWN
    assert nature.of_udc("") is Nature.UNKNOWN


def test_a_number_the_kernel_shows_is_a_device_and_any_other_a_file(sysfs, tmp_path):
    """A link to the kernel's is the kernel's."""
    value = sysfs / "devices" / "platform" / "thermometer" / "hwmon" / "hwmon1" / "temp1_input"
    value.parent.mkdir(parents=True)
    value.write_text("31500\n")
    link, own = tmp_path / "link", tmp_path / "own"
    link.symlink_to(value)
    own.write_text("31.5\n")
    assert nature.of_number_file(link) is Nature.DEVICE
    assert nature.of_number_file(own) is Nature.FILE


def block(sysfs: Path, at: str, **files: str) -> Path:
    """Make the folder of a block device with these files in it."""
    place = sysfs / "devices" / at
    place.mkdir(parents=True)
    for name, text in files.items():
        (place / name).write_text(text + "\n")
    return place


def test_a_stick_is_what_can_be_pulled(sysfs):
    """On USB, or where the kernel says so; a built-in disk is the bench's own computer."""
    usb = block(sysfs, "pci0000:00/usb1/1-2/1-2:1.0/host6/block/sdb", removable="0")
    block(sysfs, "pci0000:00/usb1/1-2/more", x="").parent.joinpath("idVendor").write_text("1234\n")
    assert nature.of_block(usb) is Nature.DEVICE
    reader = block(sysfs, "pci0000:00/ata3/block/sdc", removable="1")
    assert nature.of_block(reader) is Nature.DEVICE
    outside = block(sysfs, "pci0000:00/0000:03:00.0/nvme/block/nvme1n1", removable="0")
    (sysfs / "devices" / "pci0000:00" / "0000:03:00.0" / "removable").write_text("removable\n")
    assert nature.of_block(outside) is Nature.DEVICE
    card = block(sysfs, "platform/mmc0/mmc0:1234/block/mmcblk0", removable="0")
    (sysfs / "devices" / "platform" / "mmc0" / "mmc0:1234" / "type").write_text("SD\n")
    assert nature.of_block(card) is Nature.DEVICE
    inside = block(sysfs, "pci0000:00/ata1/block/sda", removable="0")
    assert nature.of_block(inside) is Nature.FOLDER


def test_a_loop_device_is_a_file_and_memory_a_program(sysfs):
    """A stick that no plug goes into is none, whatever the kernel makes of it."""
    assert nature.of_block(block(sysfs, "virtual/block/loop3")) is Nature.FILE
    assert nature.of_block(block(sysfs, "virtual/block/zram0")) is Nature.PROGRAM


def test_a_folder_of_this_computer_is_no_stick(tmp_path):
    """Where the tests run lies no stick."""
    assert nature.of_folder(str(tmp_path)) in NO_INSTRUMENT


@pytest.mark.parametrize(
    "address",
    ["http://127.0.0.1:8080/", "rtsp://localhost/1", "127.0.0.1:7417", "http://[::1]/", "udp://"],
)
def test_an_address_of_this_computer_leads_to_a_program(address):
    """Whoever serves a film on the bench's own computer has no card."""
    assert nature.of_address(address) is Nature.PROGRAM


def test_the_hosts_own_name_is_this_computer():
    """Not only the address that every computer has."""
    assert nature.of_address(f"http://{socket.gethostname()}/") in (
        Nature.PROGRAM,
        Nature.ADDRESS,  # where nothing resolves the host's own name
    )


def test_an_address_elsewhere_is_an_address():
    """192.0.2.1 is kept for documentation (RFC 5737): nobody is there, and no packet is sent."""
    assert nature.of_address("rtsp://192.0.2.1/camera") is Nature.ADDRESS


def test_old_headers_say_nothing_and_are_not_held_to_it():
    """What a program wrote that did not look is not recorded, but for hands and simulations."""
    assert (
        nature_of(
            fixture_of({"capture": {"driver": "opencv", "identity": {"source": "0"}}}), "capture"
        )
        is Nature.NOT_RECORDED
    )
    assert (
        nature_of(fixture_of({"capture": {"driver": "opencv"}}), "capture") is Nature.NOT_RECORDED
    )
    assert nature_of(fixture_of({"capture": {"driver": "by_hand"}}), "capture") is Nature.HAND
    assert (
        nature_of(fixture_of({"capture": {"driver": "simulated", "identity": {}}}), "capture")
        is Nature.SIMULATED
    )
    assert not was_looked_at(
        fixture_of({"capture": {"driver": "simulated", "identity": {}}}), "capture"
    )
    assert (
        nature_of(fixture_of({"capture": {"identity": {"nature": "nonsense"}}}), "capture")
        is Nature.NOT_RECORDED
    )


def test_every_nature_has_its_words():
    """None is forgotten on a page."""
    assert set(KINDS) == set(Nature)
