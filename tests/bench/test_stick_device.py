"""Needs: root and loop devices. A whole disk is written over only when it is surely the one."""

import errno
import os
import subprocess
from contextlib import asynccontextmanager, contextmanager
from dataclasses import replace

import numpy as np
import pytest
import trio
from headers import placed
from mounted_stick import run

from soak.bench.drivers.device import Settings, open_device
from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools
from soak.bench.stick import device_medium, disks
from soak.bench.stick.device_medium import DeviceOrder
from soak.bench.stick.disks import Disk, disk_at, what_lies_on, why_not
from soak.bench.stick.folder import Refused
from soak.checks.base import Done
from soak.checks.transfer import THE_CHECK, TransferSettings
from soak.errors import BenchFault
from soak.measure.stick.pattern import Pattern
from soak.records import Reading
from soak.settings import checked

# on one worker: the names of loop devices are the computer's, not ours

MIB = 1 << 20
PATTERN = Pattern(bytes(16))


def loop_on(image) -> str:
    """Attach an image to a loop device that reads it past the cache; skip where that fails."""
    if os.geteuid() != 0:
        pytest.skip("loop devices need root")
    asked = ["losetup", "--find", "--show", "--direct-io=on", str(image)]
    done = subprocess.run(asked, capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.skip(f"no loop device here: {done.stderr}")
    return done.stdout.strip()


@contextmanager
def disk(tmp_path, size_bytes=8 * MIB, content=b""):
    """Attach a disk with this content; yield its device file and its image."""
    image = tmp_path / "disk.img"
    image.write_bytes(content)
    with image.open("r+b") as file:
        file.truncate(size_bytes)
    device = loop_on(image)
    try:
        yield device, image
    finally:
        subprocess.run(["losetup", "-d", device], check=False, capture_output=True)


class Operator:
    """Says what it is told to; keeps what it was asked."""

    def __init__(self, says="yes"):
        self.says, self.asked = says, []

    async def __call__(self, question):
        self.asked.append(question)
        return self.says


@asynccontextmanager
async def opened(clock, device, serial, operator, **more):
    """Open a disk for the length of a block."""
    keys = {"driver": "device", "device": device, "serial": str(serial), **more}
    wired = checked(Settings, keys, "fixture.toml", Exception)
    stick = await open_device.open("stick", wired, Tools(off_loop_for(clock), operator, clock))
    try:
        yield stick
    finally:
        await stick.aclose()
        await stick.aclose()


def refusal(device, serial, operator=None, **more) -> str:
    """Return the sentence with which a disk is refused."""

    async def main(clock):
        async with opened(clock, device, serial, operator or Operator(), **more):
            pass

    with pytest.raises(BenchFault) as caught:
        run(main)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_what_was_written_to_a_whole_disk_is_read_back_from_it(tmp_path):
    """Data comes back right and direct, and lies behind the label in the image itself."""

    async def main(clock):
        with disk(tmp_path) as (device, image):
            async with opened(clock, device, image, Operator()) as stick:
                data = PATTERN.make(1, 0, MIB)
                assert stick.size_bytes == 7 * MIB
                assert (await stick.write_at(0, data)).errno is None
                read = await stick.read_at(0, MIB)
                assert (read.data, read.path) == (data, "direct")
            assert image.read_bytes()[MIB : 2 * MIB] == data

    run(main)


def test_a_disk_is_found_by_a_name_that_does_not_change(tmp_path):
    """Names in `/dev/disk/by-id` are links to the kernel's own, which change with every plug."""

    async def main(clock):
        with disk(tmp_path) as (device, image):
            by_id = tmp_path / "usb-stick-0:0"
            by_id.symlink_to(device)
            async with opened(clock, str(by_id), image, Operator()) as stick:
                assert (await stick.write_at(0, PATTERN.make(1, 0, MIB))).errno is None
                assert stick.identity["device"] == device

    run(main)


def test_the_question_says_what_will_be_destroyed_and_comes_before_the_first_write(tmp_path):
    """Device, size, serial number and what lies there stand in it; a no leaves every byte."""
    content = np.random.default_rng(1).bytes(4096)
    operator = Operator("no")
    with disk(tmp_path, content=content) as (device, image):
        before = image.read_bytes()
        assert "may not be written over" in refusal(device, image, operator)
        assert image.read_bytes() == before
        text = operator.asked[0].text
        assert all(word in text for word in ("EVERYTHING", device, "8.39 MB", str(image)))
        assert "data of some kind" in text


def test_a_disk_that_becomes_read_only_is_read_on_and_did_not_leave(tmp_path):
    """Writing is refused with an error number of its own; found again, it can only be read."""

    async def main(clock):
        with disk(tmp_path) as (device, image):
            async with opened(clock, device, image, Operator()) as stick:
                data = PATTERN.make(1, 0, MIB)
                await stick.write_at(0, data)
                assert stick.identity["begins_bytes"] == MIB
                subprocess.run(["blockdev", "--setro", device], check=True)
                try:
                    first = await stick.write_at(0, data)
                    assert (await stick.read_at(0, MIB)).data == data
                    second = await stick.write_at(0, data)
                finally:
                    subprocess.run(["blockdev", "--setrw", device], check=True)
                assert {first.errno, second.errno} <= {errno.EPERM, errno.EROFS}

    run(main)


def test_nobody_there_is_no_consent(tmp_path):
    """Without an answer nothing is written."""
    with disk(tmp_path) as (device, image):
        assert "nobody said" in refusal(device, image, Operator(None))
        assert not any(image.read_bytes())


def test_a_disk_with_our_label_is_not_asked_about_again(tmp_path):
    """It holds nothing but soak's data, so a soak resumed at night need not wait for a person."""
    operator = Operator()

    async def main(clock):
        with disk(tmp_path) as (device, image):
            ids = []
            for _ in range(2):
                async with opened(clock, device, image, operator) as stick:
                    ids.append(stick.identity["stick_id"])
            assert ids[0] == ids[1] != ""

    run(main)
    assert len(operator.asked) == 1


def test_a_disk_whose_serial_number_is_not_repeated_is_refused(tmp_path):
    """The sentence gives the number the disk says, and nothing is asked or written."""
    operator = Operator()
    with disk(tmp_path) as (device, image):
        said = refusal(device, "SOMETHING ELSE", operator)
        assert str(image) in said
        assert "repeat it in serial" in said
        assert not any(image.read_bytes())
    assert operator.asked == []


def test_a_mounted_disk_is_refused_with_its_mount_point(tmp_path):
    """What is mounted is never written over."""
    with disk(tmp_path, 32 * MIB) as (device, image):
        subprocess.run(["mkfs.ext4", "-q", device], check=True, capture_output=True)
        point = tmp_path / "point"
        point.mkdir()
        subprocess.run(["mount", device, str(point)], check=True)
        try:
            assert f"is mounted at {point}" in refusal(device, image)
        finally:
            subprocess.run(["umount", str(point)], check=True)


def test_a_disk_that_another_program_holds_is_refused(tmp_path):
    """The kernel itself keeps two that want a disk alone apart."""
    with disk(tmp_path) as (device, image):
        held = os.open(device, os.O_RDWR | os.O_EXCL)
        try:
            assert "is in use" in refusal(device, image)
        finally:
            os.close(held)


def test_the_system_disk_is_refused_whatever_the_fixture_says():
    """The disk below / is mounted or built in; either ends it before it is opened."""
    root = next(one for one in disks.mounts.table() if one.point == "/")
    folder = disks.mounts.block_device(root.source)
    if folder is None:
        pytest.skip("/ lies on no block device here")
    whole = folder.parent if (folder / "partition").exists() else folder
    found = disk_at(f"/dev/{whole.name}")
    assert found is not None
    said = why_not(found.node, found, found.serial)
    assert "built into this computer" in said or "is mounted at" in said


def test_what_is_no_disk_is_refused(tmp_path):
    """A plain file, a folder and nothing at all are named so."""
    (tmp_path / "file").write_text("x")
    for path in (tmp_path / "file", tmp_path, tmp_path / "nothing"):
        assert "is no block device" in refusal(str(path), "1")


def made_up(tmp_path, **files) -> Disk:
    """Return a disk on USB as sysfs would show it."""
    usb = tmp_path / "usb1" / "1-2"
    folder = usb / "1-2:1.0" / "block" / "sdz"
    folder.mkdir(parents=True)
    given = {"size": "100", "removable": "1", "ro": "0", **files}
    for name, text in given.items():
        (folder / name).write_text(text)
    (usb / "idVendor").write_text("1234")
    return Disk("/dev/sdz", folder, "KITTIWAKE", "A1", 100 * 512)


@pytest.mark.parametrize(
    ("files", "part", "said"),
    [
        ({}, "", ""),
        ({"partition": "1"}, "", "is a part of a disk"),
        ({"ro": "1"}, "", "read-only"),
        ({}, "holders/dm-0", "is part of dm-0"),
        ({}, "sdz1/partition", ""),
    ],
)
def test_what_a_disk_is_used_for_decides(tmp_path, files, part, said):
    """A part, a member of an array and a locked card are refused; a free stick is not."""
    found = made_up(tmp_path, **files)
    if part:
        (found.folder / part).parent.mkdir(parents=True, exist_ok=True)
        (found.folder / part).write_text("1")
    answer = why_not("/dev/sdz", found, "A1")
    assert said in answer
    assert bool(said) == bool(answer)


def test_a_disk_that_serves_as_swap_is_refused(tmp_path, monkeypatch):
    """A line of /proc/swaps that names the disk is enough (format: proc(5), from memory)."""
    with disk(tmp_path) as (device, image):
        (tmp_path / "swaps").write_text(
            f"Filename\tType\tSize\tUsed\tPriority\n{device}\tpartition\t8000\t0\t-2\n"
        )
        monkeypatch.setattr(disks, "SWAPS", tmp_path / "swaps")
        assert "swap space" in why_not(device, disk_at(device), str(image))


def test_a_disk_without_a_serial_number_is_refused(tmp_path):
    """It could be any, so the folder driver is named instead."""
    found = made_up(tmp_path)
    nameless = Disk(found.node, found.folder, found.name, "", found.size_bytes)
    assert "driver folder" in why_not("/dev/sdz", nameless, "")


@pytest.mark.parametrize(
    ("at", "magic", "words"),
    [(1080, b"\x53\xef", "ext"), (510, b"\x55\xaa", "boot sector"), (0, b"", "nothing")],
)
def test_what_lies_on_a_disk_is_told_from_its_first_bytes(tmp_path, at, magic, words):
    """Magic numbers: ext4 superblock 0xEF53 at 0x438; boot sector signature at 510.

    Linux Documentation/filesystems/ext4/globals.rst; FAT specification 1.03, section 3 (from
    memory).
    """
    page = bytearray(4096)
    page[at : at + len(magic)] = magic
    assert words in what_lies_on(bytes(page), made_up(tmp_path))


def test_a_disk_that_comes_back_under_another_name_is_found_by_its_serial(tmp_path):
    """Detached it is gone; attached elsewhere the next read finds it with its data."""

    async def main(clock):
        with disk(tmp_path) as (device, image):
            async with opened(clock, device, image, Operator()) as stick:
                data = PATTERN.make(1, 0, MIB)
                await stick.write_at(0, data)
                (tmp_path / "other.img").write_bytes(bytes(MIB))
                # The kernel detaches a loop device only once nobody holds it: let go as if pulled.
                await stick.aclose()
                subprocess.run(["losetup", "-d", device], check=True)
                # Takes the old name, by name: tests beside this one take and free others.
                subprocess.run(["losetup", device, str(tmp_path / "other.img")], check=True)
                assert (await stick.read_at(0, MIB)).errno == errno.ENODEV
                again = loop_on(image)
                try:
                    assert again != device
                    assert (await stick.read_at(0, MIB)).data == data
                    assert stick.identity["device"] == again
                finally:
                    await stick.aclose()
                    for one in (device, again):
                        subprocess.run(["losetup", "-d", one], check=True)

    run(main)


def test_more_than_the_disk_holds_is_refused_with_what_fits(tmp_path):
    """The stick is too small for size."""
    with disk(tmp_path) as (device, image):
        assert "set size to at most 7 MB" in refusal(device, image, size="64 MB")


class _Bench:
    def __init__(self, clock, stick):
        self.clock, self.random, self._stick = clock, np.random.default_rng(1), stick

    def stick(self, name="stick"):
        return self._stick


def test_the_check_verifies_a_whole_disk(tmp_path):
    """All of it is written and read back right through driver and check."""
    said = []

    async def main(clock):
        with disk(tmp_path) as (device, image):
            async with opened(clock, device, image, Operator()) as stick:
                place = placed("night", {"stick": {"port": "usb1", "path": "through"}}, {})
                check = THE_CHECK(TransferSettings(chunk_bytes=MIB, readings_every_s=0), place)
                with trio.move_on_after(3):
                    await check.measure(_Bench(clock, stick), Done(), said.append)

    run(main)
    named = {"written": 0.0, "damaged": 0.0}
    for reading in (record for record in said if isinstance(record, Reading)):
        name = reading.quantity.rpartition(".")[2]
        if name in named:
            named[name] += reading.value
    assert named == {"written": 7.0 * MIB, "damaged": 0.0}


def test_elsewhere_than_on_linux_a_whole_disk_is_refused_in_one_sentence(tmp_path, monkeypatch):
    """Without what Linux says of its disks nobody can tell which one it is."""
    monkeypatch.setattr(disks.mounts, "SYSFS", tmp_path)
    with pytest.raises(Refused, match="Linux only; use the driver folder"):
        DeviceOrder("/dev/null", "X").open()


def test_of_two_sticks_with_one_serial_number_the_right_one_is_found_again(tmp_path, monkeypatch):
    """Makers give one number to many; the id on the disk decides, whichever comes first."""
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
    with disk(tmp_path / "a") as (one, _), disk(tmp_path / "b") as (two, _):
        twins = [replace(disk_at(node), serial="SAME") for node in (one, two)]
        known = {disk_at(node).folder: twin for node, twin in zip((one, two), twins, strict=True)}
        monkeypatch.setattr(device_medium, "disks_with", lambda serial, size: twins)
        monkeypatch.setattr(
            device_medium, "disk_at", lambda node: known.get(getattr(disk_at(node), "folder", None))
        )
        ids = {}
        for node in (one, two):
            medium, found = DeviceOrder(node, "SAME", may_label=True).open()
            medium.close()
            ids[node] = found["stick_id"]
        for node in (one, two):
            asked = DeviceOrder("/dev/soak-was-here", "SAME", ids[node], 8 * MIB)
            medium, found = asked.open()
            medium.close()
            assert found["stick_id"] == ids[node]
        with pytest.raises(OSError, match="not there"):
            DeviceOrder(one, "SAME", "0" * 16, 8 * MIB).open()
