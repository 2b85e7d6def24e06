"""What of a chunk that failed is bad: it is moved again in ever smaller pieces, down to a sector.

A read or write of megabytes fails as a whole for one bad sector. What is told of a stick is told of
its sectors, so the bad ones are looked for.
"""

import errno
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

from soak.measure.stick.pattern import SECTOR_BYTES
from soak.measure.stick.states import NO_WRITING
from soak.roles import Transfer

MOST_MOVES, LONGEST_S = 256, 60.0
"""So many pieces are tried, and for so long: a medium tries for seconds before it gives a sector
up. One bad sector of a chunk of 4 MiB takes 26. Our own choice."""

Piece = tuple[int, int]
"""Offset and length, B."""
Move = Callable[[int, int], Awaitable[Transfer]]


@dataclass(slots=True)
class Narrowed:
    """What is known of the pieces of a chunk that failed.

    Attributes
    ----------
    pending : list of (int, int)
        Offset and length of pieces that failed and were not looked into yet: the chunk at first.
    single : list of (int, int)
        Pieces that failed and have no smaller ones.
    well : list of (int, int, Transfer)
        Offset, length and what came of those that went well.
    errno : int or None
        Of the last piece that failed.
    refused : Transfer or None
        What said, meanwhile, that nothing is written any more.
    ended : bool
        Whether the search came to its end, and was not stopped with the stretch.
    """

    pending: list[Piece]
    single: list[Piece] = field(default_factory=list)
    well: list[tuple[int, int, Transfer]] = field(default_factory=list)
    errno: int | None = None
    refused: Transfer | None = None
    ended: bool = False

    @property
    def bad(self) -> list[Piece]:
        """Pieces that are bad, larger than a sector where the search ended before.

        None: every piece went well, so the failure had no place.
        """
        return sorted([*self.single, *self.pending])

    @property
    def bad_bytes(self) -> int:
        """How much is bad, B; of a piece that was not looked into at least one sector is."""
        if not self.ended:
            return SECTOR_BYTES * len(self.bad)
        return sum(length for _, length in self.bad)


async def narrow(found: Narrowed, move: Move, now_s: Callable[[], float], block_bytes: int) -> None:
    """Find the bad sectors of a chunk; what is known stands in `found`, also when it is stopped.

    Parameters
    ----------
    move : callable
        Reads or writes a piece.
    block_bytes : int
        Pieces are multiples of it as long as they are larger.
    """
    moves = 0
    until_s = now_s() + LONGEST_S
    while found.pending and not found.refused and moves < MOST_MOVES and now_s() < until_s:
        piece = found.pending[0]
        if piece[1] <= SECTOR_BYTES:
            found.single.append(found.pending.pop(0))
            continue
        came = [(half, await move(*half)) for half in _halves(piece, block_bytes)]
        moves += len(came)
        del found.pending[0]
        _sort(found, piece, came, block_bytes)
    found.ended = True


def _sort(
    found: Narrowed, piece: Piece, came: list[tuple[Piece, Transfer]], block_bytes: int
) -> None:
    """Take what came of both halves of a piece."""
    if any(one.errno == errno.EINVAL and half[1] < block_bytes for half, one in came):
        found.single.append(piece)  # it moves no less at a time
        return
    for half, transfer in came:
        if transfer.errno is None:
            found.well.append((*half, transfer))
            continue
        found.pending.append(half)
        if transfer.errno in NO_WRITING:
            found.refused = transfer
        else:
            found.errno = transfer.errno


def _halves(piece: Piece, block_bytes: int) -> tuple[Piece, Piece]:
    offset, length = piece
    of_bytes = block_bytes if length > block_bytes else SECTOR_BYTES
    first = length // 2 // of_bytes * of_bytes or of_bytes
    return (offset, first), (offset + first, length - first)
