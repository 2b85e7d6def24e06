"""Needs: /dev/fuse and root. A pack on a stick with bad places, lost writes, other packs' data."""

import errno
import hashlib
import json

import fuse_kernel
import pytest
from copying_unit import Workshop
from fuse_stick import FuseStick

from soak.errors import BenchFault
from soak.records import canonical_json

pytestmark = pytest.mark.skipif(bool(fuse_kernel.why_not()), reason=fuse_kernel.why_not() or "-")

PLACE = 1_000_448  # a sector within the two large files of a pack, none of the others is so long
BLOCK = PLACE // 4096 * 4096


@pytest.fixture
def stick(tmp_path):
    with FuseStick(tmp_path, "served") as served:
        yield served


@pytest.fixture
def shop(tmp_path, stick) -> Workshop:
    made = Workshop(tmp_path)
    made.stick.rmdir()
    made.stick = stick.folder
    return made


def refusal(doing, *args) -> str:
    """Return the one sentence with which something is refused."""
    with pytest.raises(BenchFault) as caught:
        doing(*args)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_a_copy_with_a_bad_place_is_told_as_that_and_the_rest_is_looked_at(shop, stick):
    """File and place are named; nobody is told to plug the stick in again, for ever."""
    shop.pack()
    back = shop.copy(shop.stick / "BACK")
    stick.be(unreadable=[PLACE])
    text, code = shop.unpack()
    names = [file.name for file in back.iterdir() if file.stat().st_size > PLACE]
    assert code == 4
    assert len(names) == 2
    for name in names:
        told = f"a bad place of the stick: BACK/{name} cannot be read from byte {BLOCK} on"
        assert told in text
    assert "14 of 16 files came whole" in text
    assert "2 files of 15 cannot be read from it; let the unit copy to another stick" in text
    assert "plug it" not in text


@pytest.mark.parametrize("fault", ["unreadable", "unwritable"])
def test_a_stick_with_a_bad_place_is_not_packed(shop, stick, fault):
    """Another stick is asked for, and the file is named that did not go there or come back."""
    stick.be(**{fault: [PLACE]})
    text = refusal(shop.pack)
    assert "has a bad place" in text
    assert ".BIN failed while packing (Input/output error)" in text
    assert "take another stick" in text


def test_a_stick_that_was_pulled_is_still_told_as_gone(shop, stick):
    """Then, and only then, plugging it in again helps."""
    shop.pack()
    shop.copy(shop.stick / "BACK")
    stick.be(gone=errno.ENODEV)
    text = refusal(shop.unpack)
    assert "went while reading" in text
    assert "plug it into the bench and unpack again" in text


def test_a_write_that_was_lost_is_not_said_to_be_zeros_only(shop, stick):
    """On a blank medium what was never written reads as zeros; the words say that it may be so."""
    shop.pack()
    stick.be(loses=[PLACE])
    shop.copy(shop.stick / "BACK")
    text, code = shop.unpack()
    assert code == 1
    assert "zeros, or nothing ever written, at 1 place" in text


def test_data_of_the_pack_before_is_told_as_that(shop, stick):
    """A write lost over an older copy leaves that one's data: another pack's, and no zeros."""
    shop.pack()
    names = [f"COPY{number}.BIN" for number in range(16)]
    shop.copy(shop.stick / "BACK", lambda number, _: names[number])
    (shop.stick / "SOAKPACK").rename(shop.stick / "OLD")
    for file in (shop.stick / "OLD").iterdir():
        file.unlink()
    shop.pack()
    stick.be(loses=[PLACE])
    for name, file in zip(names, shop.files(), strict=True):
        with (shop.stick / "BACK" / name).open("r+b") as over:
            over.write(file.read_bytes())
    text, code = shop.unpack()
    assert code == 1
    assert "data of another pack at 1 place" in text
    assert "zeros" not in text


@pytest.mark.parametrize(
    "changed",
    [
        {"number": [1]},
        {"number": "7"},
        {"number": True},
        {"number": -1},
        {"number": 1 << 40},
        {"unit": 7},
        {"port": None},
        {"packed_utc": {}},
        {"stamped": "yes"},
    ],
    ids=str,
)
def test_a_manifest_of_wrong_types_is_one_sentence(shop, changed):
    """Its checksum may be right: what it says is not believed, and the data tells the rest."""
    shop.pack()
    shop.copy(shop.stick / "BACK")
    file = shop.packed / "MANIFEST.JSN"
    data = json.loads(file.read_bytes()) | changed
    del data["sha256"]
    data["sha256"] = hashlib.sha256(canonical_json(data)).hexdigest()
    file.write_text(json.dumps(data))
    text, code = shop.unpack()
    assert code == 0
    assert text.count("MANIFEST.JSN was changed since it was packed; it is not believed") == 1
