"""Self-addressing data: every 16-byte block says which pass it belongs to and where it lies.

The data is the AES-128 counter-mode key stream of zeros. The counter block of the 16 bytes at
absolute index i of pass p is p (8 bytes) followed by i (8 bytes), both big-endian; deciphering a
block that came back therefore yields its pass and its place, without any list of what was written.
It looks like noise to the medium, so nothing on the way can compress or merge it.

References
----------
NIST SP 800-38A (2001), Recommendation for Block Cipher Modes of Operation, section 6.5 (CTR).
"""

from collections import Counter
from functools import lru_cache

import numpy as np
from cryptography.hazmat.primitives.ciphers import Cipher, CipherContext, algorithms, modes

from soak.measure.stick.sectors import SECTOR_BYTES as SECTOR_BYTES
from soak.measure.stick.sectors import Label, Places, SectorCounts, classify, short

BLOCK_BYTES = 16
"""Block of AES, B: by definition (NIST FIPS 197)."""
BLOCKS_A_SECTOR = SECTOR_BYTES // BLOCK_BYTES
LAST_PASS = 2**32 - 1
"""Decides nothing: highest number of a pass; part of the format, of 32 bits."""
_PIECE_BYTES = 1 << 18
"""Decides nothing: so much is deciphered at once, to keep it within the cache of a processor."""
_LAST_INDEX = 2**48
"""Beyond any medium (4 EiB): a deciphered place above it was not written by us. With the bound on
the pass this leaves 2^-48 for a foreign block to be taken for one of ours. Our own choice."""


class Pattern:
    """The data of one soak.

    Parameters
    ----------
    key : bytes
        16 bytes, one key a soak, so that another soak's data is foreign.

    Raises
    ------
    ValueError
        If the key does not have 16 bytes.
    """

    def __init__(self, key: bytes) -> None:
        if len(key) != BLOCK_BYTES:
            raise ValueError(f"the key has {len(key)} bytes; AES-128 takes {BLOCK_BYTES}")
        self._cipher = algorithms.AES128(key)

    def make(self, pass_number: int, offset_bytes: int, length_bytes: int) -> bytes:
        """Return the data of a pass at a place.

        Parameters
        ----------
        pass_number : int
            1 to 2^32 - 1.
        offset_bytes : int
            Place on the medium, a multiple of 512.
        length_bytes : int
            Any length from 0.

        Raises
        ------
        ValueError
            If pass, place or length lie outside what is given above.
        """
        if length_bytes < 0:
            raise ValueError(f"{length_bytes} B is no length")
        return self._stream(pass_number, offset_bytes).update(_zeros(length_bytes))

    def _stream(self, pass_number: int, offset_bytes: int) -> CipherContext:
        if not 1 <= pass_number <= LAST_PASS:
            raise ValueError(f"pass {pass_number} lies outside 1 to {LAST_PASS}")
        if offset_bytes < 0 or offset_bytes % SECTOR_BYTES:
            raise ValueError(f"{offset_bytes} B does not begin at a sector")
        counter = pass_number.to_bytes(8) + (offset_bytes // BLOCK_BYTES).to_bytes(8)
        return Cipher(self._cipher, modes.CTR(counter)).encryptor()

    def labels(self, sectors: bytes) -> tuple[Places, Places]:
        """Return the pass and the sector that each block speaks of.

        Parameters
        ----------
        sectors : bytes
            Whole sectors.

        Returns
        -------
        passes, offsets : ndarray of int64, shape (sectors, 32)
            Pass number and place of the sector in bytes; -1 where a block is not ours.
        """
        decryptor = Cipher(self._cipher, modes.ECB()).decryptor()
        plain = np.frombuffer(decryptor.update(sectors), dtype=">u8").astype(np.uint64)
        passes, indices = plain.reshape(-1, BLOCKS_A_SECTOR, 2).transpose(2, 0, 1)
        within = np.arange(BLOCKS_A_SECTOR, dtype=np.uint64)
        ours = (passes >= 1) & (passes <= LAST_PASS) & (indices < _LAST_INDEX)
        ours &= indices % BLOCKS_A_SECTOR == within
        offsets = (indices - within).astype(np.int64) * BLOCK_BYTES
        return np.where(ours, passes.astype(np.int64), -1), np.where(ours, offsets, -1)

    def whose(self, sector: bytes) -> Label | None:
        """Return what most blocks of one 512-byte sector speak of; None if it is foreign."""
        passes, offsets = self.labels(sector)
        said = Counter(zip(passes.ravel().tolist(), offsets.ravel().tolist(), strict=True))
        said.pop((-1, -1), None)
        return Label(*said.most_common(1)[0][0]) if said else None

    def examine(
        self, received: bytes, pass_number: int, offset_bytes: int, asked_bytes: int | None = None
    ) -> SectorCounts:
        """Classify every 512-byte sector of what was read.

        Parameters
        ----------
        received : bytes
            What came back for the place.
        asked_bytes : int, optional
            How much was asked for, whole sectors; what is missing counts as short. Default: what
            came.

        Returns
        -------
        SectorCounts
            Counts over all sectors; details of the first few wrong ones.

        Raises
        ------
        ValueError
            As `make`; or more came than was asked for, or no whole sectors were.
        """
        asked = len(received) if asked_bytes is None else asked_bytes
        if len(received) > asked or asked % SECTOR_BYTES:
            raise ValueError(f"{len(received)} B came where {asked} B were asked for")
        if len(received) == asked and self._as_made(received, pass_number, offset_bytes):
            return SectorCounts(asked // SECTOR_BYTES, asked // SECTOR_BYTES)
        return self._told(memoryview(received), pass_number, offset_bytes, asked)

    def _told(
        self, received: memoryview, pass_number: int, offset_bytes: int, asked: int
    ) -> SectorCounts:
        """Classify piece by piece: telling what is wrong takes ten times the memory of the data."""
        counts = SectorCounts(0, 0)
        whole = len(received) // SECTOR_BYTES * SECTOR_BYTES
        for begin in range(0, whole, _PIECE_BYTES):
            piece = received[begin : begin + _PIECE_BYTES]
            place = offset_bytes + begin
            piece = piece[: whole - begin]
            if self._as_made(piece, pass_number, place):
                sectors = len(piece) // SECTOR_BYTES
                counts = counts.and_then(SectorCounts(sectors, sectors))
                continue
            expected = self.make(pass_number, place, len(piece))
            own = classify(piece, expected, Label(pass_number, place), self.labels)
            counts = counts.and_then(own)
        if len(received) == asked:
            return counts
        begun = self.make(pass_number, offset_bytes + whole, len(received) - whole)
        return counts.and_then(short(received[whole:], begun, asked - whole, offset_bytes + whole))

    def _as_made(self, received: bytes | memoryview, pass_number: int, offset_bytes: int) -> bool:
        """Return whether whole sectors are right, compared in words of 64 bits.

        Made and compared in pieces that stay in the processor's cache: a third quicker than making
        all of it first.
        """
        stream = self._stream(pass_number, offset_bytes)
        piece = bytearray(_PIECE_BYTES + BLOCK_BYTES)  # the library asks for room to spare
        words = np.frombuffer(received, np.uint64)
        for begin in range(0, len(received), _PIECE_BYTES):
            size = min(_PIECE_BYTES, len(received) - begin)
            stream.update_into(_zeros(size), piece)
            made = np.frombuffer(piece, np.uint64, size // 8)
            if not np.array_equal(words[begin // 8 : (begin + size) // 8], made):
                return False
        return True


@lru_cache(maxsize=4)
def _zeros(length_bytes: int) -> bytes:
    return bytes(length_bytes)
