import pytest
from hypothesis import given
from hypothesis import strategies as st

from soak.marks import as_json
from soak.measure.stick.capacity import LEAST_SHARE, Filling
from soak.measure.stick.pattern import Pattern

CHUNK = 4096
PATTERN = Pattern(bytes(16))


def read_back(claims, holds, beyond):
    """Fill a stick of so many chunks that holds fewer; return what came of reading it back.

    `beyond`: what becomes of writes to places that are not there: `wraps`, or lost to zeros.
    """
    kept = {}
    for chunk in range(claims):
        place = chunk % holds if beyond == "wraps" else chunk
        if place < holds:
            kept[place] = PATTERN.make(1, chunk * CHUNK, CHUNK)
    filling = Filling(claims * CHUNK)
    damaged = 0
    for chunk in range(claims):
        place = chunk % holds if beyond == "wraps" else chunk
        data = kept.get(place, bytes(CHUNK))
        damaged += filling.read(PATTERN.examine(data, 1, chunk * CHUNK, CHUNK))
    return filling, damaged


@given(st.integers(1, 20), st.integers(2, 30))
def test_a_stick_whose_addresses_wrap_is_measured_by_where_its_data_belongs(holds, more):
    """Whatever it claims above twice its size, the size it holds comes out exactly."""
    filling, damaged = read_back(holds * 2 + more, holds, "wraps")
    assert as_json(filling.fact()) == {
        "claims_bytes": (holds * 2 + more) * CHUNK,
        "tried_bytes": (holds * 2 + more) * CHUNK,
        "holds_bytes": holds * CHUNK,
        "wraps_bytes": holds * CHUNK,
    }
    assert damaged == 0


@given(st.integers(1, 20), st.integers(1, 30))
def test_a_stick_that_loses_what_it_has_no_room_for_is_measured_by_what_came_back(holds, more):
    """Zeros beyond the end: what it holds is what came back right, and nothing wraps."""
    filling, damaged = read_back(holds + more, holds, "zeros")
    assert filling.holds_bytes == holds * CHUNK
    assert "wraps_bytes" not in as_json(filling.fact())
    assert (filling.honest, damaged) == (False, 0)


@given(st.integers(1, 50))
def test_an_honest_stick_holds_all_that_was_tried(chunks):
    """With every sector right nothing is missing."""
    filling, _ = read_back(chunks, chunks, "wraps")
    assert filling.honest
    assert filling.holds_bytes == chunks * CHUNK


def test_flips_are_damage_and_no_matter_of_size():
    """A bit that flips is charged as wrong data, the size stays honest."""
    data = bytearray(PATTERN.make(1, 0, CHUNK))
    data[100] ^= 1
    filling = Filling(CHUNK)
    assert filling.read(PATTERN.examine(bytes(data), 1, 0, CHUNK)) == 1
    assert filling.honest


@pytest.mark.parametrize("kind", ["zeros", "wrong address"])
def test_one_sector_in_many_is_damage_and_not_a_false_size(kind):
    """One sector of zeros, or of another place, in 200 chunks makes no stick smaller."""
    filling, damaged = Filling(200 * CHUNK), 0
    for chunk in range(200):
        data = PATTERN.make(1, chunk * CHUNK, CHUNK)
        if chunk == 77:
            sector = bytes(512) if kind == "zeros" else PATTERN.make(1, 0, 512)
            data = sector + data[512:]
        damaged += filling.read(PATTERN.examine(data, 1, chunk * CHUNK, CHUNK))
    assert LEAST_SHARE < 200
    assert filling.honest
    assert (filling.holds_bytes, damaged) == (200 * CHUNK, 0)
    assert filling.unexplained_bytes == 512
    assert "wraps_bytes" not in as_json(filling.fact())


def test_the_beginning_moved_tells_the_size_before_all_is_written():
    """Seen while filling, the place of what replaced the beginning is the size."""
    filling = Filling(64 * CHUNK)
    filling.moved(8 * CHUNK)
    assert as_json(filling.fact()) == {
        "claims_bytes": 64 * CHUNK,
        "tried_bytes": 0,
        "holds_bytes": 8 * CHUNK,
        "wraps_bytes": 8 * CHUNK,
    }
