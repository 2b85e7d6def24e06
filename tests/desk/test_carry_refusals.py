"""Carry: what an operator or a stick can get wrong gives one sentence, and nothing is lost."""

import errno
import os
import re
from pathlib import Path

import pytest
from copying_unit import Workshop

from soak.bench.stick import mounts
from soak.desk.carrying import pack as carry
from soak.desk.carrying import place as carry_place
from soak.desk.carrying import search as carry_search
from soak.errors import SoakError


@pytest.fixture
def shop(tmp_path) -> Workshop:
    return Workshop(tmp_path)


def refusal(doing, *args, **given) -> str:
    """Return the one sentence with which something is refused."""
    with pytest.raises(SoakError) as caught:
        doing(*args, **given)
    text = str(caught.value)
    assert "\n" not in text
    assert not re.search(r"Errno|Traceback", text)
    return text


class Volume:
    """What the system says of a small stick."""

    f_frsize, f_bavail = 32768, 100


def test_a_stick_that_is_too_small_is_told_before_writing(shop, monkeypatch):
    """How much is needed and free, and nothing is written."""
    monkeypatch.setattr(carry_place.os, "statvfs", lambda _: Volume)
    text = refusal(shop.pack)
    assert re.search(r"5\.\d+ MB are needed and 3\.28 MB are free", text)
    assert list(shop.stick.iterdir()) == []


@pytest.mark.parametrize(
    ("number", "says"),
    [
        (errno.EROFS, "became read-only while packing"),
        (errno.EACCES, "may not be written by this user"),
        (errno.ENOSPC, "is full"),
        (errno.EIO, "has a bad place"),
        (errno.ENODATA, "has a bad place"),
        (errno.ENODEV, "went while packing"),
    ],
)
def test_a_stick_that_fails_while_packing_is_told(shop, monkeypatch, number, says):
    """Read-only, full, bad or pulled: one sentence; no pack seems finished, nothing is kept."""
    written = carry._write_file

    def fail(file: Path, one, at: int, length_bytes: int) -> None:
        if at == 5:
            raise OSError(number, os.strerror(number))
        written(file, one, at, length_bytes)

    monkeypatch.setattr(carry, "_write_file", fail)
    assert says in refusal(shop.pack)
    assert not shop.packed.exists()
    assert not (shop.bench / "packs").exists()
    monkeypatch.setattr(carry, "_write_file", written)
    shop.pack()  # what the interrupted packing left is taken over
    assert sorted(file.name for file in shop.stick.iterdir()) == ["SOAKPACK"]


def test_an_unfinished_folder_with_anything_else_in_it_is_left_alone(shop):
    """Only files of soak's own names are ever removed."""
    (shop.stick / "SOAKPACK.TMP").mkdir()
    (shop.stick / "SOAKPACK.TMP" / "LETTER.TXT").write_text("keep me")
    assert "was not made by soak" in refusal(shop.pack)
    assert (shop.stick / "SOAKPACK.TMP" / "LETTER.TXT").read_text() == "keep me"


def test_a_stick_with_another_jobs_data_is_not_written_over(shop):
    """It says whose pack lies there."""
    shop.pack("K2")
    text = refusal(shop.pack, "K1")
    assert re.search(r"holds the pack [0-9A-Z]{7} of unit K2 already", text)
    assert len(shop.files()) == 16


def test_a_stick_that_gives_back_other_data_is_refused(shop, monkeypatch):
    """A bad stick is found while packing, so that it is not charged to the unit later."""
    written = carry._write_file

    def spoil(file: Path, one, at: int, length_bytes: int) -> None:
        written(file, one, at, length_bytes)
        if at == 15:
            file.write_bytes(bytes(512) + file.read_bytes()[512:])

    monkeypatch.setattr(carry, "_write_file", spoil)
    assert "gives" in (text := refusal(shop.pack))
    assert "take another stick" in text


def test_the_system_disk_is_refused(shop):
    """A folder of this computer's own disk is no stick."""
    if not mounts.on_own_disk(shop.stick):
        pytest.skip("needs the test's folder on the disk of the program or system")
    assert "this computer's own disk" in refusal(shop.pack, own_disk=False)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"port": "usb3"}, "did you mean"),
        ({"port": "video"}, "no such USB port"),
        ({"unit": "K9"}, "K9"),
        ({"size": "1 MB"}, "at least 4.00 MB"),
        ({"size": "8 GB"}, "at most 4.09 GB"),
        ({"size": "much"}, "not a size"),
        ({"ending": "JPEG"}, "one to three"),
    ],
)
def test_what_cannot_be_packed_is_told(shop, given, says):
    """A wrong port, unit, size or ending is found before anything is written."""
    assert says in refusal(shop.pack, **given)
    assert list(shop.stick.iterdir()) == []


def test_a_folder_that_is_not_there_is_told(shop):
    """A stick that is not mounted, or a file in its place."""
    shop.stick.rmdir()
    assert "there is no such folder" in refusal(shop.pack)
    assert "there is no such folder" in refusal(shop.unpack)
    shop.stick.write_text("")
    assert "is not a folder" in refusal(shop.pack)


def test_the_other_one_of_two_like_sticks_is_told(shop, tmp_path):
    """Labels and folders do not count: a stick with no data of a pack is the wrong one."""
    shop.pack()
    other = tmp_path / "stick1"
    other.mkdir()
    (other / "V0618000.BIN").write_bytes(b"another thing")
    assert "no file here is of any pack" in refusal(shop.unpack, other)


def test_a_pack_of_another_unit_is_told(shop):
    """The stick of K2 brought for K1 is refused by name."""
    shop.pack("K2")
    shop.copy(shop.stick / "BACK")
    assert "was made for unit K2, not for K1" in refusal(shop.unpack, unit="K1")


def test_a_pack_from_before_the_unit_was_opened_is_told(shop):
    """Evidence from before a repair says nothing of the unit afterwards."""
    shop.pack()
    shop.copy(shop.stick / "BACK")
    shop.ledger.opened("K1", why="port re-soldered again")
    assert "was opened since; pack again" in refusal(shop.unpack)


def test_the_stick_itself_is_not_taken_for_the_units_storage(shop, monkeypatch):
    """Its file system is known by the identity it was formatted with."""
    monkeypatch.setattr(carry, "on_own_disk", lambda _: False)
    monkeypatch.setattr(carry, "file_system_id", lambda _: "1A2B-3C4D")
    shop.pack()
    monkeypatch.setattr("soak.desk.carrying.unpack.file_system_id", lambda _: "1A2B-3C4D")
    text = refusal(shop.unpack, through_folder=True)
    assert "is the stick itself (file system 1A2B-3C4D)" in text


def test_a_stick_pulled_while_it_is_read_is_told(shop, monkeypatch):
    """Nothing is put on record of half a look, and it can be done again."""
    shop.pack()
    shop.copy(shop.stick / "BACK")

    def pulled(*_):
        raise OSError(errno.ENODEV, "No such device")

    with monkeypatch.context() as patch:
        patch.setattr(carry_search.FileLook, "take", pulled)
        assert "went while reading" in refusal(shop.unpack)
    assert not (shop.bench / "reports").exists()
    assert shop.unpack()[1] == 0


def test_a_file_that_the_stick_does_not_give_back_is_a_hole(shop, monkeypatch):
    """One bad place on the medium is no fault of the unit, and hides no other file."""
    shop.pack()
    back = shop.copy(shop.stick / "BACK")
    bad = max(back.iterdir(), key=lambda file: file.stat().st_size)
    opened = Path.open

    def open_or_fail(path, *args, **given):
        if path == bad:
            raise OSError(errno.EIO, "Input/output error")
        return opened(path, *args, **given)

    monkeypatch.setattr(Path, "open", open_or_fail)
    text, code = shop.unpack()
    assert code == 4
    assert f"a bad place of the stick: BACK/{bad.name} cannot be read from byte 0 on" in text
    assert "1 file of 15 cannot be read from it" in text
    assert "plug it" not in text


@pytest.mark.parametrize("doing", ["statvfs", "stat"])
def test_a_stick_pulled_before_the_first_byte_is_told(shop, monkeypatch, doing):
    """The kernel may say so at any question, not only at a read or write."""

    def gone(*_, **given):
        raise OSError(errno.EIO if doing == "statvfs" else errno.ENODEV, "it is not there")

    if doing == "statvfs":
        monkeypatch.setattr(carry_place.os, "statvfs", gone)
    else:
        monkeypatch.setattr(carry, "usable", gone)
    assert "went while packing" in refusal(shop.pack)


def test_a_port_typed_afterwards_does_not_outweigh_the_manifest(shop):
    """What was packed for one port is not put on record for another."""
    shop.pack(port="usb2")
    shop.copy(shop.stick / "BACK")
    assert "was made for port usb2, not for usb1" in refusal(shop.unpack, port="usb1")


def test_links_out_of_the_folder_are_not_followed(shop, tmp_path):
    """A link to files elsewhere is no copy."""
    shop.pack()
    shop.copy(shop.storage)
    (shop.stick / "BACK").symlink_to(shop.storage)
    assert "nowhere else" in refusal(shop.unpack)
