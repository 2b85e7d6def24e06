"""What of a chunk that failed is bad: it is moved again in ever smaller pieces, down to a sector.

A read or write of megabytes fails as a whole for one bad sector. What is told of a stick is told of
its sectors, so the bad ones are looked for.
"""

import errno
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

from soak.measure.pattern import SECTOR_BYTES
from soak.measure.stick_states import NO_WRITING
from soak.roles import Transfer

MOST_MOVES, LONGEST_S = 256, 60.0
"""So many pieces are tried, and for so long: a medium tries for seconds before it gives a sector
up. One bad sector of a chunk of 4 MiB takes 26. Our own choice."""

Piece = tuple[int, int]
"""Offset and length, B."""
Move = Callable[[int, int], Awaitable[Transfer]]


@dataclass(slots=True)
class Narrowed:
    """What came of the pieces of a chunk that failed.

    Attributes
    ----------
    bad : list of (int, int)
        Pieces that fail by themselves; larger than a sector where the search ended before, or
        where the medium moves no less. None: every piece went well, so the failure had no place.
    well : list of (int, int, Transfer)
        Offset, length and what came of those that went well.
    errno : int or None
        Of the last piece that failed.
    refused : Transfer or None
        What said, meanwhile, that nothing is written any more.
    """

    bad: list[Piece] = field(default_factory=list)
    well: list[tuple[int, int, Transfer]] = field(default_factory=list)
    errno: int | None = None
    refused: Transfer | None = None

    @property
    def bad_bytes(self) -> int:
        """How much is bad, B."""
        return sum(length for _, length in self.bad)


async def narrowed(
    move: Move, now_s: Callable[[], float], chunk: Piece, block_bytes: int
) -> Narrowed:
    """Find the bad sectors of a chunk that failed.

    Parameters
    ----------
    move : callable
        Reads or writes a piece.
    block_bytes : int
        Pieces are multiples of it as long as they are larger.
    """
    found, failed, moves, until_s = Narrowed(), [chunk], 0, now_s() + LONGEST_S
    while failed and not found.refused and moves < MOST_MOVES and now_s() < until_s:
        piece = failed.pop(0)
        if piece[1] <= SECTOR_BYTES:
            found.bad.append(piece)
            continue
        for half in _halves(piece, block_bytes):
            came = await move(*half)
            moves += 1
            if came.errno == errno.EINVAL and half[1] < block_bytes:
                found.bad.append(piece)  # it moves no less at a time
                break
            if came.errno is None:
                found.well.append((*half, came))
                continue
            if came.errno in NO_WRITING:
                found.refused = came
                failed.append((half[0], sum(piece) - half[0]))  # nothing of the rest goes either
                break
            failed.append(half)
            found.errno = came.errno
    found.bad = sorted([*found.bad, *failed])
    return found


def _halves(piece: Piece, block_bytes: int) -> tuple[Piece, Piece]:
    offset, length = piece
    of_bytes = block_bytes if length > block_bytes else SECTOR_BYTES
    first = length // 2 // of_bytes * of_bytes or of_bytes
    return (offset, first), (offset + first, length - first)
