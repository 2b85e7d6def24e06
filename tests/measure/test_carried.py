"""Files that say of themselves what they are."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soak.measure.stick.carried import (
    MOST_BYTES,
    STEP_BYTES,
    ContentId,
    Pack,
    new_pack,
    said_by,
    said_by_name,
    tiny_of,
)

PACK = Pack(0x2F00_5400 | 2)  # 8 MB


@pytest.mark.parametrize("size_bytes", [STEP_BYTES, 64_000_000, 500_000_000, MOST_BYTES])
def test_the_files_of_a_pack_are_as_long_together_as_was_asked_for(size_bytes):
    """A stick is filled to the size given, neither more nor less, and the size stands in the id."""
    pack = new_pack(size_bytes)
    assert sum(pack.lengths_bytes) == pack.size_bytes == size_bytes
    assert max(pack.lengths_bytes) < 2**32 - 1  # the longest file of a FAT (Microsoft, fatgen103)
    assert len(pack.lengths_bytes) <= 256


def test_lengths_around_nothing_a_byte_and_a_sector_are_in_every_pack():
    """Copying programs err at the edges first: 0, 1, and a sector of 512 B more or less one."""
    assert {0, 1, 511, 512, 513} <= set(PACK.lengths_bytes)
    assert sum(length > 1_000_000 for length in PACK.lengths_bytes) >= 2


@pytest.mark.parametrize("size_bytes", [0, STEP_BYTES - 1, MOST_BYTES + 1])
def test_a_pack_of_an_impossible_size_is_refused(size_bytes):
    """A size outside what a pack can hold raises and is not bent into one that fits."""
    with pytest.raises(ValueError, match="lie outside"):
        new_pack(size_bytes)


def test_no_two_packs_of_a_bench_share_a_number():
    """A number that is taken is never given again, even if few are left."""
    taken = range(2**10 + 1, 2**32 - 2**20, 2**10)  # all but a thousandth of the numbers of 4 MB
    assert new_pack(STEP_BYTES, taken).number not in taken


@given(st.integers(1, 2**22 - 1), st.integers(1, 1023), st.data())
@settings(max_examples=60)
def test_names_are_short_names_that_every_fat_keeps(serial, steps, data):
    """Eight capitals and digits need no long name, and each name leads back to its file.

    References: Microsoft, FAT32 File System Specification (fatgen103), short directory entries.
    """
    pack = Pack(serial << 10 | steps)
    number = data.draw(st.integers(0, len(pack.lengths_bytes) - 1))
    name = pack.file_name(number)
    assert re.fullmatch(r"[A-Z0-9]{8}", name)
    for seen in (name, f"{name}.BIN", f"{name.lower()}.mp4"):
        assert said_by_name(seen) == ContentId(pack, number)


@pytest.mark.parametrize("name", ["V06180~1.BIN", "IMG_0001.JPG", "", "V06180GUX.BIN", "V0618ILO"])
def test_a_name_that_was_not_given_says_nothing(name):
    """Mangled and foreign names are no content ids."""
    assert said_by_name(name) is None


@given(st.data())
@settings(max_examples=60)
def test_any_sector_tells_its_pack_file_and_place(data):
    """One sector that survived is enough: no name, manifest or order is needed."""
    number = data.draw(st.integers(6, len(PACK.lengths_bytes) - 1))
    sector = data.draw(st.integers(0, (PACK.lengths_bytes[number] - 1) // 512))
    found = said_by(PACK.make(number, sector * 512, 512))
    assert found == ContentId(PACK, number, sector * 512)


def test_a_last_sector_that_is_not_full_still_tells():
    """Sixteen bytes are one cipher block, and that is enough."""
    number = PACK.lengths_bytes.index(16)
    assert said_by(PACK.make(number, 0, 16)) == ContentId(PACK, number)
    assert said_by(PACK.make(number, 0, 15)) is None


def test_foreign_data_is_of_no_pack():
    """4 MB of noise hold 262 144 blocks, and by chance one in 2^48 might be taken for ours."""
    noise = np.random.default_rng(5).bytes(4_000_000)
    assert said_by(noise) is None
    assert said_by(bytes(4096)) is None
    assert said_by(b"") is None


def test_data_mostly_of_one_file_is_of_that_file():
    """A few sectors that went astray do not make it another file."""
    data = PACK.make(14, 0, 20 * 512) + PACK.make(15, 512, 3 * 512)
    assert said_by(data) == ContentId(PACK, 14)


def test_a_file_too_short_for_a_block_is_known_by_length_and_content():
    """Fifteen bytes are known if they are just ours, and not with one bit otherwise."""
    number = PACK.lengths_bytes.index(15)
    data = PACK.make(number, 0, 15)
    assert tiny_of(PACK, data) == ContentId(PACK, number)
    assert tiny_of(PACK, bytes([data[0] ^ 1]) + data[1:]) is None
    assert tiny_of(PACK, b"") is None
