"""Needs: root for the tests that mount."""

import os
import shutil
import stat
import subprocess
from pathlib import Path

import pytest
import trio
from mounted_stick import mounted, opened, refusal, run
from patience import LIMIT_S
from plain_user import open_folder, plain_user

from soak.bench.stick import mounts
from soak.bench.stick.folder import Refused, open_own
from soak.bench.stick.mounts import (
    Mount,
    block_device,
    mount_of,
    table,
    usb_above,
    why_cached,
)


def own(folder: Path) -> Path:
    """Return the folder of soak's own, as it was left on a stick."""
    (folder / "soak-data").mkdir()
    (folder / "soak-data" / "id.json").write_text('{"soak_stick": "0123456789abcdef"}')
    return folder / "soak-data"


def test_a_folder_that_is_missing_is_named(tmp_path):
    """The sentence names the folder and says to mount the stick."""
    said = refusal(tmp_path / "nowhere")
    assert str(tmp_path / "nowhere") in said
    assert "mount the stick" in said


def test_a_file_in_place_of_a_folder_is_named(tmp_path):
    """A path to a file is refused as not a folder."""
    (tmp_path / "file").write_text("x")
    assert "is not a folder" in refusal(tmp_path / "file")


def test_a_link_in_place_of_our_folder_is_not_followed(tmp_path):
    """What a link named soak-data points to stays untouched."""
    (elsewhere := tmp_path / "elsewhere").mkdir()
    (stick := tmp_path / "stick").mkdir()
    (stick / "soak-data").symlink_to(elsewhere)
    assert "link" in refusal(stick)
    assert list(elsewhere.iterdir()) == []


@pytest.mark.parametrize("name", ["data.bin", "id.json"])
def test_a_link_in_place_of_our_file_is_not_followed(tmp_path, name):
    """What a link inside soak-data points to keeps its content."""
    victim = tmp_path / "victim"
    victim.write_text("precious")
    folder = own(tmp_path)
    (folder / name).unlink(missing_ok=True)
    (folder / name).symlink_to(victim)
    assert "link" in refusal(tmp_path)
    assert victim.read_text() == "precious"


def test_a_second_name_of_somebody_elses_file_is_not_written(tmp_path):
    """A hard link in place of our data is refused and its file keeps its content."""
    victim = tmp_path / "victim"
    victim.write_text("precious")
    os.link(victim, own(tmp_path) / "data.bin")
    assert "not a plain file" in refusal(tmp_path)
    assert victim.read_text() == "precious"


def test_a_pipe_in_place_of_our_file_does_not_hang(tmp_path):
    """A named pipe is refused at once instead of waited on."""
    os.mkfifo(own(tmp_path) / "data.bin")
    assert "data.bin" in refusal(tmp_path)


def test_files_of_somebody_else_in_our_folder_are_left_alone(tmp_path):
    """A folder soak-data without our id is not taken over."""
    (tmp_path / "soak-data").mkdir()
    (tmp_path / "soak-data" / "data.bin").write_text("precious")
    assert "soak did not make" in refusal(tmp_path)
    assert (tmp_path / "soak-data" / "data.bin").read_text() == "precious"


def test_a_damaged_id_is_refused(tmp_path):
    """An id that cannot be read is not silently replaced."""
    (own(tmp_path) / "id.json").write_text("{")
    assert "is not soak's" in refusal(tmp_path)


def test_more_than_may_be_filled_is_refused_with_what_may(tmp_path):
    """Asked for more than fits, the sentence says how much may be set."""
    with mounted(tmp_path) as (point, _, _):
        said = refusal(point, size="120 MB")
        assert "set size to at most" in said
        at_most_mb = int(said.split("at most ")[1].split(" MB")[0])
        assert 40 < at_most_mb < 96  # 160 MB less the file system's own and 64 MB kept free


def test_a_read_only_stick_is_named_so(tmp_path):
    """A mount without writing is refused with a hint at the lock slide."""
    with mounted(tmp_path) as (point, _, _):
        subprocess.run(["mount", "-o", "remount,ro", str(point)], check=True)
        assert "read-only" in refusal(point)


def test_a_folder_that_no_stick_is_mounted_at_proves_no_port(tmp_path):
    """Forgotten to mount, the data would go to the own disk and be called the unit's port."""
    if not mounts.on_own_disk(tmp_path):
        pytest.skip("temporary files lie on another disk than the system here")
    for path in ("through", "carried"):
        said = refusal(tmp_path, path=path, port="usb1")
        assert "own disk" in said
        assert "mount the stick" in said
    assert list(tmp_path.iterdir()) == []
    with mounted(tmp_path) as (point, _, _):
        assert not mounts.on_own_disk(point)


def test_two_sticks_with_one_label_are_told_apart_by_what_lies_on_them(tmp_path):
    """Both are called STICK; the one that was written is found though the other took its place."""
    first, second = tmp_path / "1", tmp_path / "2"
    first.mkdir()
    second.mkdir()

    async def main(clock):
        with mounted(first) as (one, _, device), mounted(second) as (other, _, twin):
            for node in (device, twin):
                subprocess.run(["e2label", node, "STICK"], check=True)
            async with opened(clock, one) as stick:
                data = bytes(range(256)) * 32
                await stick.write_at(0, data)
                await stick.aclose()
                subprocess.run(["umount", str(one)], check=True)
                subprocess.run(["umount", str(other)], check=True)
                subprocess.run(["mount", twin, str(one)], check=True)
                subprocess.run(["mount", device, str(other)], check=True)
                async with opened(clock, one) as wrong:
                    assert wrong.identity["stick_id"] != stick.identity["stick_id"]
                assert (await stick.read_at(0, len(data))).data == data
                assert stick.identity["folder"] == str(other)

    run(main)


@pytest.mark.parametrize("kind", ["ext2", "ext3", "ext4", "vfat", "exfat", "xfs", "btrfs"])
def test_every_file_system_this_kernel_has_is_read_past_the_cache(tmp_path, kind):
    """What was written comes back right from the medium, on each kind that can be made here."""
    if kind not in Path("/proc/filesystems").read_text().split():
        pytest.skip(f"this kernel has no {kind}")
    if shutil.which(f"mkfs.{kind}") is None:
        pytest.skip(f"mkfs.{kind} is not installed")

    async def main(clock):
        size_mb = 320 if kind == "xfs" else 160  # mkfs.xfs makes none below 300 MB
        with mounted(tmp_path, kind=kind, size_mb=size_mb) as (point, _, _), limited():
            async with opened(clock, point) as stick:
                data = bytes(range(256)) * 4096
                assert (await stick.write_at(0, data)).errno is None
                read = await stick.read_at(0, len(data))
                assert (read.data, read.path) == (data, "direct")
                assert stick.identity["file_system"] == kind

    run(main)


def limited():
    """Let a real file system that hangs end the test."""
    return trio.fail_after(LIMIT_S)


def test_a_full_stick_is_named_so(tmp_path):
    """With no room for a folder of our own the sentence says that it is full or too small."""
    with mounted(tmp_path, size_mb=70) as (point, _, _):
        said = refusal(point)
        assert "do not fit" in said
        assert "set size to at most 0 MB or make room" in said


def test_a_folder_without_permission_is_named_so():
    """A user who may not write gets one sentence about this user."""
    with open_folder() as folder:
        folder.chmod(0o555)
        with plain_user(), pytest.raises(Refused, match="may not be written by this user"):
            open_own(str(folder), "", 4096)


@pytest.mark.skipif(not Path("/proc/self/mountinfo").exists(), reason="Linux tells so")
@pytest.mark.parametrize("point", ["/", "/proc", "/sys"])
def test_the_mount_table_is_what_the_kernel_says(point):
    """Kind and source of a mount are those of the kernel's other table.

    Fields by Linux Documentation/filesystems/proc.rst, section 3.5; `/` may have a name there for
    which the library looks up the device.
    """
    lines = [line.split() for line in Path("/proc/self/mountinfo").read_text().splitlines()]
    told = [fields[fields.index("-") + 1 :] for fields in lines if fields[4] == point]
    if not told:
        pytest.skip(f"nothing is mounted at {point} here")
    found = mount_of(point, table())
    assert found is not None
    assert (found.point, found.kind) == (point, told[-1][0])
    assert found.source == told[-1][1] or told[-1][1] in {"/dev/root", "rootfs", "none"}


@pytest.mark.skipif(os.geteuid() != 0 or not shutil.which("mount"), reason="needs root and mount")
def test_a_mount_with_a_space_in_its_name_is_told_as_it_is(tmp_path):
    """The kernel writes a space as octal; the table has the name."""
    point = tmp_path / "MY STICK"
    point.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "my own", point], capture_output=True).returncode:
        pytest.skip("this host mounts no tmpfs")
    try:
        assert Mount(str(point), "tmpfs", "my own") in table()
    finally:
        subprocess.run(["umount", point], check=True)


def test_a_folder_belongs_to_the_longest_and_latest_mount():
    """A mount over another one hides it."""
    table = [Mount("/", "ext4", "a"), Mount("/tmp", "tmpfs", "b"), Mount("/tmp", "vfat", "c")]
    assert mount_of("/tmp/stick", table).source == "c"
    assert mount_of("/tmpx", table).source == "a"


@pytest.mark.parametrize("kind", ["tmpfs", "ramfs", "overlay", "nfs4", "cifs", "fuseblk", "fuse.x"])
def test_file_systems_that_may_answer_from_memory_are_not_believed(kind):
    """No kind outside the list of block file systems is evidence, unless it is vouched for."""
    mount = Mount("/x", kind, "x")
    assert kind in why_cached(mount)
    assert why_cached(mount, (kind,)) == ""


def test_a_block_file_system_without_a_block_device_is_not_believed():
    """A kind alone is no proof: the source must be a block device."""
    assert "no block device" in why_cached(Mount("/x", "ext4", "/dev/null"))


def test_what_usb_says_is_read_from_the_device_above_the_disk(tmp_path):
    """Link speed and serial number are those of the nearest folder with a vendor number.

    Layout of Linux Documentation/ABI/testing/sysfs-bus-usb (from memory).
    """
    usb = tmp_path / "usb1" / "1-2"
    disk = usb / "1-2:1.0" / "host0" / "block" / "sdb" / "sdb1"
    disk.mkdir(parents=True)
    for name, text in (("idVendor", "1234"), ("speed", "480"), ("serial", "A1 ")):
        (usb / name).write_text(f"{text}\n")
    assert usb_above(disk) == {"usb_port": "1-2", "link_mbps": 480.0, "serial": "A1"}
    assert usb_above(None) == {}


def test_a_block_devices_numbers_lead_to_its_folder(tmp_path):
    """The folder found for a loop device names that loop device."""
    nodes = [node for node in Path("/dev").glob("loop[0-9]") if stat.S_ISBLK(node.stat().st_mode)]
    if not nodes or not (mounts.SYSFS / "dev" / "block").is_dir():
        pytest.skip("no loop device here")
    found = block_device(str(nodes[0]))
    assert found is not None
    assert found.name == nodes[0].name
