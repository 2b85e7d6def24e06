"""A chunk that failed is moved again in pieces, until each bad sector is known or time is up."""

import errno

import pytest
import trio
from hypothesis import given
from hypothesis import strategies as st

from soak.checks.transfer.again import LONGEST_S, MOST_MOVES, Narrowed, narrow
from soak.clock import LeapingClock
from soak.roles import Transfer

CHUNK, BLOCK = 1 << 20, 4096


def searched(bad, *, least=512, takes_s=0.0, number=errno.EIO, stops_s=1e9):
    """Search a chunk that begins at 1 MiB; `bad` sectors fail, shorter pieces than `least` too."""
    clock, moves = LeapingClock(), []

    async def move(offset, length):
        await trio.sleep(takes_s)
        moves.append((offset, length))
        if length < least:
            return Transfer(None, 0.0, errno.EINVAL, "direct")
        hit = any(offset <= CHUNK + 512 * one < offset + length for one in bad)
        return Transfer(None if hit else b"", 0.0, number if hit else None, "direct")

    found = Narrowed([(CHUNK, CHUNK)])

    async def main():
        with trio.move_on_after(stops_s):
            await narrow(found, move, clock.now_s, BLOCK)

    trio.run(main, clock=clock)
    return found, moves


@given(st.sets(st.integers(0, CHUNK // 512 - 1), max_size=8))
def test_whatever_sectors_are_bad_these_and_no_others_are_found(bad):
    """Up to eight anywhere in a chunk of 1 MiB; all the rest was moved, each byte once."""
    found, _ = searched(bad)
    assert found.bad == [(CHUNK + 512 * one, 512) for one in sorted(bad)]
    well = sum(length for _, length, _ in found.well)
    assert well == CHUNK - 512 * len(bad)


def test_where_every_piece_goes_well_the_failure_had_no_place():
    """Two halves are enough to know it."""
    found, moves = searched(set())
    assert (found.bad, found.errno, len(moves)) == ([], None, 2)


def test_a_medium_that_moves_no_sector_gives_the_block():
    """With 4096-byte sectors a smaller piece is refused, which is no fault of the medium."""
    found, moves = searched({9}, least=4096)
    assert found.bad == [(CHUNK + 4096, 4096)]
    assert found.errno == errno.EIO
    assert all(offset % BLOCK == 0 for offset, length in moves if length >= BLOCK)


def test_a_chunk_that_is_bad_all_over_is_not_searched_for_ever():
    """The pieces that are left are bad as a whole: no less is told than fails."""
    found, moves = searched(set(range(CHUNK // 512)))
    assert len(moves) <= MOST_MOVES + 1
    assert found.bad_bytes == CHUNK


def test_a_medium_that_is_slow_to_give_up_does_not_hold_the_soak_up():
    """Ten seconds a piece: the search ends after a minute."""
    found, moves = searched({700}, takes_s=10.0)
    assert len(moves) <= LONGEST_S / 10 + 2
    [(offset, length)] = found.bad
    assert offset <= CHUNK + 512 * 700 < offset + length


@pytest.mark.parametrize("stops_s", [0.5, 1.5, 3.5, 11.5])
def test_what_is_known_when_the_stretch_ends_is_not_forgotten(stops_s):
    """Stopped at any moment: each byte is in a bad piece or went well, never both or neither."""
    found, _ = searched({700}, takes_s=1.0, stops_s=stops_s)
    assert sum(length for _, length, *_ in [*found.bad, *found.well]) == CHUNK
    assert (found.ended, found.bad_bytes) == (False, 512)
    assert any(offset <= CHUNK + 512 * 700 < offset + length for offset, length in found.bad)


@pytest.mark.parametrize("number", [errno.EROFS, errno.ENOSPC])
def test_a_stick_that_takes_no_more_data_meanwhile_ends_the_search(number):
    """The system made it read-only: no piece would go any more."""
    found, moves = searched({3}, number=number)
    assert found.refused is not None
    assert found.refused.errno == number
    assert found.bad_bytes == CHUNK // 2
    assert len(moves) == 2
