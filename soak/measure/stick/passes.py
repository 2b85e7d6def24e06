"""Which pass lies in which chunk of a stick, and how much may still be written."""

from collections.abc import Sequence


class Passes:
    """What must come back from each chunk.

    Parameters
    ----------
    chunk_bytes : int
        Size of a chunk.
    chunks : int
        Number of chunks.
    budget_bytes : int
        So much may be written.
    """

    def __init__(self, chunk_bytes: int, chunks: int, budget_bytes: int) -> None:
        self._chunk_bytes = chunk_bytes
        self._left_bytes = budget_bytes
        self._on_stick = [0] * chunks
        self.number = 0

    @property
    def chunks(self) -> int:
        """Number of chunks."""
        return len(self._on_stick)

    @property
    def fits(self) -> bool:
        """Whether the budget allows another pass over all chunks."""
        return self.chunks * self._chunk_bytes <= self._left_bytes

    def place(self, chunk: int) -> int:
        """Return where a chunk begins, B."""
        return chunk * self._chunk_bytes

    def adopt(self, found: Sequence[int]) -> None:
        """Take over what an earlier session wrote: the pass each chunk says it is of, 0 for none.

        A chunk older than the pass before the newest was missed by a whole pass: not taken over.
        """
        self.number = max(found, default=0)
        self._on_stick = [number if number >= max(1, self.number - 1) else 0 for number in found]

    def begin(self) -> int:
        """Begin a pass of writing; return its number."""
        self.number += 1
        return self.number

    def wrote(self, chunk: int) -> None:
        """Take that a chunk now holds the current pass."""
        self._on_stick[chunk] = self.number
        self._left_bytes -= self._chunk_bytes

    def lost(self, chunk: int) -> None:
        """Take that nobody knows what a chunk holds: it was half written."""
        self._on_stick[chunk] = 0

    def to_read(self) -> list[tuple[int, int]]:
        """Return number and pass of each chunk of which is known what must come back."""
        return [(chunk, number) for chunk, number in enumerate(self._on_stick) if number]
