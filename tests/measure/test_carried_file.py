"""What came of a carried file, against faults put in on purpose."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from soak.measure.stick.carried import Pack
from soak.measure.stick.carried_file import FileLook

PACK, OLD = Pack(0x2F00_5400 | 1), Pack(0x1100_0400 | 1)  # 4 MB each
NUMBER = PACK.lengths_bytes.index(65_537)
SECTORS = 65_537 // 512  # whole ones; one byte stands in the last


def look(data: bytes, number: int = NUMBER, piece: int = 4096):
    """Look through a file in pieces of whole sectors."""
    looking = FileLook(PACK, number)
    for begin in range(0, len(data), piece):
        looking.take(data[begin : begin + piece])
    return looking.end()


def put_in(data: bytearray, sector: int, kind: str) -> None:
    """Put one fault into one sector."""
    place = slice(sector * 512, sector * 512 + 512)
    if kind == "flipped":
        data[sector * 512 + 100] ^= 0x10
    elif kind == "zeros":
        data[place] = bytes(512)
    elif kind == "ones":
        data[place] = b"\xff" * 512
    elif kind == "wrong address":
        data[place] = PACK.make(15, 512 * sector, 512)
    elif kind == "earlier pass":
        data[place] = OLD.make(NUMBER, 512 * sector, 512)
    elif kind == "foreign":
        data[place] = np.random.default_rng(sector).bytes(512)
    elif kind == "torn":
        data[sector * 512 + 256 : sector * 512 + 512] = np.random.default_rng(sector).bytes(256)


KINDS = ["flipped", "zeros", "ones", "wrong address", "earlier pass", "foreign", "torn"]


@given(st.dictionaries(st.integers(0, SECTORS - 1), st.sampled_from(KINDS), max_size=12))
@settings(max_examples=80)
def test_any_mix_of_faults_is_told_as_it_was_put_in(faults):
    """Each kind is counted exactly as often as it was injected."""
    data = bytearray(PACK.make(NUMBER, 0, 65_537))
    for sector, kind in faults.items():
        put_in(data, sector, kind)
    found = look(bytes(data))
    counted = {kind: list(faults.values()).count(kind) for kind in set(faults.values())}
    assert dict(found.wrong) == counted
    assert found.came == ("changed" if faults else "whole")


@given(st.integers(0, len(PACK.lengths_bytes) - 1))
@settings(max_examples=20)
def test_a_file_as_packed_is_whole_at_every_length(number):
    """Nothing, one byte, a sector and one more: a length at an edge is no damage."""
    found = look(PACK.make(number, 0, PACK.lengths_bytes[number]), number)
    assert (found.came, found.damaged_bytes, dict(found.wrong)) == ("whole", 0, {})


@given(st.integers(0, 65_536))
@settings(max_examples=40)
def test_a_file_cut_short_lacks_just_what_was_cut(length_bytes):
    """Every missing byte is counted, and nothing that came is called wrong."""
    found = look(PACK.make(NUMBER, 0, length_bytes))
    assert found.damaged_bytes == 65_537 - length_bytes
    assert set(found.wrong) == {"short"}


def test_a_file_with_something_behind_it_is_longer():
    """A unit that fills up to its cluster changed the file, and it is said how."""
    found = look(PACK.make(NUMBER, 0, 65_537) + bytes(100))
    assert (found.damaged_bytes, dict(found.wrong)) == (100, {"longer": 100})


def test_damage_in_the_last_byte_is_seen():
    """The sector that is not full is compared, too."""
    data = bytearray(PACK.make(NUMBER, 0, 65_537))
    data[-1] ^= 0x80
    found = look(bytes(data))
    assert (found.damaged_bytes, dict(found.wrong)) == (1, {"flipped": 1})


def test_data_of_another_file_is_named():
    """Who looks for the cause reads which file and place the stray sector belongs to."""
    data = bytearray(PACK.make(NUMBER, 0, 65_537))
    put_in(data, 7, "wrong address")
    where = look(bytes(data)).where[0]
    assert where["found"] == {"pack": PACK.name, "file": 15, "offset_bytes": 7 * 512}
    assert where["offset_bytes"] == 7 * 512
