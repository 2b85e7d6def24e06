"""Carry: packed, copied by a unit, looked through, judged."""

import json
import os
import shutil

import pytest
from copying_unit import Workshop

from soak.desk.carrying import pack as carry
from soak.desk.carrying.manifest import Manifest, card, plain_card
from soak.journal import open_evidence
from soak.judge.grade import judge
from soak.language import language
from soak.ledger import bench_wear


@pytest.fixture
def shop(tmp_path) -> Workshop:
    return Workshop(tmp_path)


def came(text: str) -> dict[int, dict]:
    """Return what came of each file by its number."""
    return {one["file"]: one for one in json.loads(text)["files"]}


def test_what_a_unit_copied_back_shows_its_port(shop):
    """All files in another folder, whole: met, and the repair on that port is shown by it."""
    shop.ledger.record_repair("K1", what="second port re-soldered", function="usb2")
    shop.pack()
    shop.copy(shop.stick / "BACK")
    text, code = shop.unpack()
    assert code == 0
    assert "16 of 16 files came whole, 4.00 MB" in text
    evidence = open_evidence(next((shop.bench / "reports").iterdir()))
    assert evidence.header.fixture.stick.port == "usb2"
    assert evidence.header.fixture.stick.path == "carried"
    assert not [point for point in judge([evidence]).open_points if "not shown" in point]


def test_carrying_alone_never_makes_a_unit_ready(shop):
    """A carried pack stands beside a soak and replaces none."""
    shop.pack()
    shop.copy(shop.stick / "BACK")
    text, _ = shop.unpack()
    assert "the job is not ready: incomplete: Nothing but data carried by hand" in text


@pytest.mark.parametrize(
    "rename",
    [
        lambda number, name: name.lower(),
        lambda number, name: f"{name[:6]}~{number % 10}{number // 10}.BIN",
        lambda number, name: f"IMG_{number:04}.JPG" if number > 1 else name,
    ],
    ids=["lower case", "mangled", "renamed"],
)
def test_files_are_known_whatever_the_unit_called_them(shop, rename):
    """Case, 8.3 names and new names do not matter: all that have content are found whole."""
    shop.pack()
    shop.copy(shop.storage / "media" / "deep", rename)
    text, code = shop.unpack(shop.storage, through_folder=True, as_json=True)
    assert code == 0
    assert {one["came"] for number, one in came(text).items() if number} == {"whole"}


def test_files_that_only_lie_where_they_were_packed_show_nothing(shop):
    """A stick that was never in the unit is refused, and nothing is put on record."""
    shop.pack()
    with pytest.raises(Exception, match="nowhere else; let the unit copy it") as caught:
        shop.unpack()
    assert "\n" not in str(caught.value)
    assert not (shop.bench / "reports").exists()


def test_files_moved_there_and_back_count(shop):
    """The same place and name with a new time stamp were written by the unit."""
    shop.pack()
    shop.copy(shop.storage)
    shutil.rmtree(shop.packed)
    shop.packed.mkdir()
    for file in shop.storage.iterdir():
        shutil.copyfile(file, shop.packed / file.name)
    text, code = shop.unpack(as_json=True)
    assert code == 0
    assert not any(copy["original"] for one in came(text).values() for copy in one["copies"])


@pytest.mark.parametrize("hours_off", [-11, 0, 5.5, 14])
def test_an_original_is_known_by_a_clock_of_any_zone(shop, hours_off):
    """A FAT keeps local time, so a bench elsewhere reads another hour."""
    shop.pack()
    for file in shop.files():
        seen_s = file.stat().st_mtime + hours_off * 3600
        os.utime(file, (seen_s, seen_s))
    with pytest.raises(Exception, match="nowhere else"):
        shop.unpack()


@pytest.mark.parametrize("refuses", [True, False])
def test_where_time_stamps_are_not_kept_every_file_in_place_is_an_original(
    shop, monkeypatch, refuses
):
    """A file system that refuses or forgets them must not make originals look carried."""

    def utime(*_):
        if refuses:
            raise PermissionError(1, "not the owner")

    with monkeypatch.context() as patch:
        patch.setattr(os, "utime", utime)
        shop.pack()
    with pytest.raises(Exception, match="nowhere else"):
        shop.unpack()
    shop.copy(shop.stick / "BACK")
    assert shop.unpack()[1] == 0


def test_a_unit_whose_clock_is_wrong_is_judged_alike(shop):
    """Times of 1980 and of the future on the copies are no matter."""
    shop.pack()
    for number, file in enumerate(shop.copy(shop.stick / "BACK").iterdir()):
        when_s = 315_532_800 if number % 2 else 4_000_000_000
        os.utime(file, (when_s, when_s))
    assert shop.unpack()[1] == 0


def test_a_changed_copy_is_named_with_what_happened_to_it(shop):
    """A flipped bit, a sector of zeros, a cut and a missing file are told apart."""
    shop.pack()
    back = shop.copy(shop.stick / "BACK")
    files = sorted(back.iterdir(), key=lambda file: file.stat().st_size)
    flip, zeros, cut, lost = files[-1], files[-2], files[-3], files[-4]
    data = bytearray(flip.read_bytes())
    data[1_000_000] ^= 1
    flip.write_bytes(data)
    data = bytearray(zeros.read_bytes())
    data[5120:5632] = bytes(512)
    zeros.write_bytes(data)
    cut.write_bytes(cut.read_bytes()[:-512])
    lost.unlink()
    text, code = shop.unpack(as_json=True)
    found = {one["name"]: one for one in came(text).values()}

    def kinds(file):
        copies = found[file.stem]["copies"]
        return next(copy["kinds"] for copy in copies if not copy["original"])

    assert code == 1
    assert (kinds(flip), kinds(zeros), kinds(cut)) == ({"flipped": 1}, {"zeros": 1}, {"short": 1})
    assert found[lost.stem]["came"] == "in place"
    assert sum(one["came"] == "changed" for one in found.values()) == 3


def test_a_whole_copy_does_not_hide_a_changed_one(shop):
    """A unit that copied a file twice, once wrongly, has failed."""
    shop.pack()
    shop.copy(shop.stick / "ONE")
    two = shop.copy(shop.stick / "TWO")
    large = max(two.iterdir(), key=lambda file: file.stat().st_size)
    large.write_bytes(b"\0" * 512 + large.read_bytes()[512:])
    text, code = shop.unpack()
    assert code == 1
    assert "1 file came changed, " in text


def test_a_stick_that_lost_its_original_is_not_charged_to_the_unit(shop):
    """Where the original itself is changed, nobody knows who did it: not shown."""
    shop.pack()
    original = shop.files()[-1]
    stamp = original.stat()
    data = bytearray(original.read_bytes())
    data[700] ^= 4
    original.write_bytes(data)
    os.utime(original, (stamp.st_atime, stamp.st_mtime))
    shop.copy(shop.stick / "BACK")
    text, code = shop.unpack()
    assert code == 4
    assert "the stick itself no longer holds" in text


def test_files_that_did_not_come_are_a_hole_and_can_come_later(shop):
    """Part of a pack is not shown; the whole of it later is met."""
    shop.pack()
    back = shop.copy(shop.stick / "BACK")
    for file in sorted(back.iterdir(), key=lambda file: file.stat().st_size)[-2:]:
        file.unlink()
    text, code = shop.unpack()
    assert code == 4
    assert "2 of 15 files did not come" in text
    shop.copy(shop.stick / "BACK")
    assert shop.unpack()[1] == 0


def test_a_lost_manifest_costs_only_the_port(shop):
    """Manifest, card and the bench's copy are gone: with --port the data tells all the rest."""
    shop.pack()
    shop.copy(shop.storage)
    shutil.rmtree(shop.bench / "packs")
    with pytest.raises(Exception, match="add --port"):
        shop.unpack(shop.storage, through_folder=True)
    text, code = shop.unpack(shop.storage, through_folder=True, port="usb2")
    assert code == 0
    assert "is lost; its data tells the rest" in text


def test_an_edited_manifest_is_not_believed(shop):
    """A manifest that says another port or unit changes nothing, and it is said."""
    shop.pack()
    shop.copy(shop.stick / "BACK")
    manifest = shop.packed / "MANIFEST.JSN"
    manifest.write_text(manifest.read_text().replace('"usb2"', '"usb1"'))
    text, code = shop.unpack()
    assert code == 0
    assert "MANIFEST.JSN was changed since it was packed" in text
    evidence = open_evidence(next((shop.bench / "reports").iterdir()))
    assert evidence.header.fixture.stick.port == "usb2"


def test_unpacking_writes_nothing_where_it_looks(shop):
    """Names, sizes and times on the stick are the same before and after."""
    shop.pack()
    shop.copy(shop.stick / "BACK")

    def seen():
        files = sorted(shop.stick.rglob("*"))
        return [(file, file.stat().st_size, file.stat().st_mtime_ns) for file in files]

    before = seen()
    shop.unpack()
    assert seen() == before


def test_what_else_lies_on_the_stick_stays(shop):
    """Packing touches nothing but its own folder."""
    (shop.stick / "HOLIDAY.JPG").write_bytes(b"not ours")
    shop.pack()
    assert (shop.stick / "HOLIDAY.JPG").read_bytes() == b"not ours"
    assert sorted(file.name for file in shop.stick.iterdir()) == ["HOLIDAY.JPG", "SOAKPACK"]


def test_a_name_of_any_bytes_is_put_on_record(shop):
    """A file name that is no UTF-8 is found all the same and breaks no record."""
    shop.pack()
    back = shop.copy(shop.stick / "BACK")
    large = max(back.iterdir(), key=lambda file: file.stat().st_size)
    large.rename(os.fsdecode(bytes(back) + b"/caf\xe9.bin"))
    text, code = shop.unpack(as_json=True)
    assert code == 0
    assert "caf?.bin" in text


def test_a_folder_of_a_whole_computer_is_refused(shop, monkeypatch):
    """Whoever names the wrong folder is told after a while and does not wait for ever."""
    shop.pack()
    monkeypatch.setattr("soak.desk.carrying.search.MOST_FILES", 10)
    with pytest.raises(Exception, match="more than 10 files lie there; name a smaller folder"):
        shop.unpack()


def test_a_stick_that_was_packed_too_often_is_warned_of(shop, monkeypatch):
    """What packing writes wears the stick, and the ledger knows it by its file system."""
    monkeypatch.setattr(carry, "on_own_disk", lambda _: False)
    monkeypatch.setattr(carry, "file_system_id", lambda _: "1A2B-3C4D")
    assert "MIND" not in shop.pack()
    shop.copy(shop.stick / "BACK")
    assert shop.unpack()[1] == 0
    shutil.rmtree(shop.packed)
    monkeypatch.setattr(bench_wear, "WORN_WRITTEN_BYTES", 4_000_000)
    assert "stick 1A2B-3C4D: 4.00 MB written in 1 soaks; it counts as worn" in shop.pack()


def test_the_card_is_plain_text_in_every_language():
    """ASCII and short lines: whatever the unit shows of it can be read; the command is whole."""
    manifest = Manifest(
        7, "K1", "K1-1", port="usb", packed_utc="", ending="BIN", file_system="", stamped=True
    )
    told = card(manifest, "Ferrow SP-40, serial ÄÖ-1", "usb, service port")
    cards = [plain_card(language(code).say(told)) for code in ("en", "de")]
    assert b"Geraet" in cards[1]
    for plain in cards:
        assert plain.isascii()
        assert max(map(len, plain.split(b"\r\n"))) <= 78
        assert b"\r\n   soak carry unpack FOLDER --unit K1\r\n" in plain
