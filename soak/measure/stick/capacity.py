"""Whether a stick holds what it claims, told from what came back after it was filled once.

A stick whose controller was told a false size takes all writes without a word. Either its addresses
wrap, so that what was written later replaced what was written first, or what lies beyond is lost.
The data says for which place it was written, so the distance between the two is seen: it is a
multiple of what the stick really holds, and the greatest common divisor of several such distances
is that size, once enough of them were met.
"""

from math import gcd

from soak.marks import CapacityTried
from soak.measure.stick.sectors import SECTOR_BYTES, Kind, SectorCounts

LOST: frozenset[Kind] = frozenset({"wrong address", "earlier pass", "zeros", "ones", "foreign"})
"""What comes back from places that do not exist. Flips, and sectors that cannot be read, are damage
and say nothing of the size."""

LEAST_SHARE = 64
"""Less than one part in so many missing is no matter of size but damage. Our own choice: sizes are
falsified by factors."""


class Filling:
    """Gathers what came of filling a stick.

    Parameters
    ----------
    claims_bytes : int
        What the stick, or the file system on it, says it holds.
    """

    def __init__(self, claims_bytes: int) -> None:
        self._claims_bytes = claims_bytes
        self._tried_bytes = 0
        self._lost_bytes = 0
        self._wraps_bytes = 0
        self._first_moved = False

    @property
    def honest(self) -> bool:
        """Whether nothing is missing that the size explains."""
        few = self._lost_bytes * LEAST_SHARE < max(1, self._tried_bytes)
        return few and not self._first_moved

    @property
    def unexplained_bytes(self) -> int:
        """Bytes that came back as if from elsewhere, too few for a matter of size: damage."""
        return self._lost_bytes if self.honest else 0

    def moved(self, distance_bytes: int) -> None:
        """Take that the beginning now holds what was written so much further on."""
        self._first_moved = True
        self._wraps_bytes = gcd(self._wraps_bytes, distance_bytes)

    def read(self, counts: SectorCounts) -> int:
        """Take a chunk that was read back; return its wrong bytes that the size does not explain.

        A chunk with other faults too is charged whole: nothing may slip through between the two.
        """
        self._tried_bytes += counts.sectors * SECTOR_BYTES
        lost = sum(number for kind, number in counts.wrong.items() if kind in LOST)
        self._lost_bytes += lost * SECTOR_BYTES
        for detail in counts.details:
            if detail.kind == "wrong address" and detail.found is not None:
                distance_bytes = abs(detail.found.offset_bytes - detail.offset_bytes)
                self._wraps_bytes = gcd(self._wraps_bytes, distance_bytes)
        return 0 if set(counts.wrong) <= LOST else counts.damaged_bytes

    @property
    def wraps_bytes(self) -> int:
        """Where addresses begin anew, B; 0 if they do not, or that is not known."""
        right_bytes = self._tried_bytes - self._lost_bytes
        fits = self._first_moved or right_bytes <= self._wraps_bytes * (1 + 1 / LEAST_SHARE)
        return self._wraps_bytes if fits and not self.honest else 0

    @property
    def holds_bytes(self) -> int:
        """What it holds, B: to where its addresses wrap, or what came back of what was tried."""
        if self.honest:
            return self._tried_bytes
        return self.wraps_bytes or self._tried_bytes - self._lost_bytes

    def fact(self) -> CapacityTried:
        """Return claimed, tried and held bytes, and where addresses wrap, if they do."""
        return CapacityTried(
            claims_bytes=self._claims_bytes,
            tried_bytes=self._tried_bytes,
            holds_bytes=self.holds_bytes,
            wraps_bytes=self.wraps_bytes or None,
        )
