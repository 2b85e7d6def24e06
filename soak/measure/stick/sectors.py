"""What came back of each 512-byte sector, told from the data itself.

The classes, tried in this order on a sector that is not as expected:

``short``         fewer bytes came than were asked for
``zeros, ones``   all 0 or all 1 but for at most 40 bits (1 %)
``flipped``       some 16-byte blocks right and single bits wrong in others; or no block right but
                  at most a quarter of all bits wrong (a data line that stands still spoils every
                  block)
``torn``          some blocks right, the wrong ones replaced altogether
``wrong address`` data of ours that belongs elsewhere
``earlier pass``  data of ours for this place, from another pass
``foreign``       anything else
"""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from soak.marks import WrongChunk

Kind = Literal[
    "short", "zeros", "ones", "flipped", "torn", "wrong address", "earlier pass", "foreign"
]

KINDS: tuple[Kind, ...] = (
    "short",
    "zeros",
    "ones",
    "flipped",
    "torn",
    "wrong address",
    "earlier pass",
    "foreign",
)

SECTOR_BYTES = 512
"""Smallest piece that a medium gives or takes, B: the sector of nearly every stick and card.
Common practice."""

_BLOCK_BITS = 128
"""Block of AES in bits: by definition (NIST FIPS 197)."""
NEARLY_BITS = 40
"""A sector of zeros or ones may have so many bits otherwise and is still told as such. Our own
choice."""
MOST_FLIPS_BITS = 1024
"""Unrelated data differs in 2048 bits, standard deviation 32: a quarter of all bits is 32 of these
away from chance, so more cannot be taken for noise on the same data nor less for foreign. By the
variance of a binomial number; the quarter is our own choice."""
_REPLACED_BITS = 32
"""A block of unrelated data differs in 64 of 128 bits, standard deviation 5.7; fewer than 32 wrong
bits are flips. The variance of a binomial number; the figure is our own choice, 5.6 of these below
the mean."""
MOST_DETAILS = 8
"""So many wrong sectors are described one by one; all are counted. Our own choice."""
MOST_POSITIONS = 16
"""Of a wrong sector so many wrong bits are listed; all are counted. Our own choice."""


class Label(NamedTuple):
    """What a block says of itself: its pass and the place of its sector in bytes."""

    pass_number: int
    offset_bytes: int


@dataclass(frozen=True, slots=True)
class WrongSector:
    """One sector that is not as expected.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    offset_bytes : int
        Place of the sector on the medium.
    damaged_bytes : int
        Bytes that differ or are missing.
    flipped_bits : int
        Bits that differ; 0 for a short sector.
    positions : tuple of int
        Places of flipped bits within the sector, bit 0 the lowest bit of byte 0; at most 16, and
        only where bits are flipped.
    found : Label or None
        Pass and place that the data speaks of, where it belongs elsewhere.
    """

    kind: Kind
    offset_bytes: int
    damaged_bytes: int
    flipped_bits: int = 0
    positions: tuple[int, ...] = ()
    found: Label | None = None


@dataclass(frozen=True, slots=True)
class SectorCounts:
    """What came of a piece of data.

    Attributes
    ----------
    sectors, right : int
        Sectors asked for; of these as expected.
    wrong : mapping of str to int
        Number of sectors of each kind that is not right. Never capped.
    damaged_bytes : int
        Bytes that differ or are missing. Never capped.
    up_bits, down_bits : tuple of 8 int
        Bits of flipped sectors that came as 1 instead of 0, and as 0 instead of 1, by their place
        in the byte (lowest first). Never capped.
    details : tuple of WrongSector
        The first wrong sectors, at most `MOST_DETAILS`.
    """

    sectors: int
    right: int
    wrong: Mapping[Kind, int] = field(default_factory=dict)
    damaged_bytes: int = 0
    up_bits: tuple[int, ...] = (0,) * 8
    down_bits: tuple[int, ...] = (0,) * 8
    details: tuple[WrongSector, ...] = ()

    def and_then(self, following: "SectorCounts") -> "SectorCounts":
        """Return the counts of this piece and the following one together."""
        wrong = Counter(self.wrong)
        wrong.update(following.wrong)
        pairs = zip(self.up_bits, following.up_bits, strict=True)
        downs = zip(self.down_bits, following.down_bits, strict=True)
        return SectorCounts(
            self.sectors + following.sectors,
            self.right + following.right,
            dict(wrong),
            damaged_bytes=self.damaged_bytes + following.damaged_bytes,
            up_bits=tuple(map(sum, pairs)),
            down_bits=tuple(map(sum, downs)),
            details=(self.details + following.details)[:MOST_DETAILS],
        )

    @property
    def stuck(self) -> str:
        """Which data line stands still, as all flips say; empty if they do not agree.

        At least 16 flips on one place in the byte and to one side: by chance (1/16 for each flip
        after the first) under 1e-18.
        """
        sides = [(count, bit, 1) for bit, count in enumerate(self.up_bits) if count]
        sides += [(count, bit, 0) for bit, count in enumerate(self.down_bits) if count]
        if len(sides) == 1 and sides[0][0] >= 16:
            return f"bit {sides[0][1]} stands at {sides[0][2]}"
        return ""

    def described(self) -> WrongChunk:
        """Return what is known of the wrong sectors."""
        return WrongChunk(
            kinds={str(kind): count for kind, count in self.wrong.items()},
            damaged_bytes=self.damaged_bytes,
            where=[_plain(detail) for detail in self.details],
            stuck=self.stuck,
        )


def _plain(one: WrongSector) -> dict[str, Any]:
    entry: dict[str, Any] = {"kind": one.kind, "offset_bytes": one.offset_bytes}
    entry["damaged_bytes"] = one.damaged_bytes
    if one.positions:
        entry |= {"flipped_bits": one.flipped_bits, "positions": list(one.positions)}
    if one.found is not None:
        entry["found"] = dict(one.found._asdict())
    return entry


Bytes = NDArray[np.uint8]
Places = NDArray[np.int64]
Buffer = bytes | memoryview
Labels = Callable[[bytes], tuple[Places, Places]]


def classify(received: Buffer, expected: bytes, label: Label, labels: Labels) -> SectorCounts:
    """Classify every sector of `received` against `expected`.

    Parameters
    ----------
    received, expected : bytes
        What came and what was expected, as many whole sectors of each.
    label : Label
        Pass and place of the first sector.
    labels : callable
        Returns pass and place that each block of whole sectors speaks of, -1 where it is not ours:
        two arrays of shape (sectors, 32).
    """
    shape = (-1, SECTOR_BYTES)
    got = np.frombuffer(received, np.uint8).reshape(shape)
    want = np.frombuffer(expected, np.uint8).reshape(shape)
    numbers = np.flatnonzero((got.view(np.uint64) != want.view(np.uint64)).any(axis=1))
    offsets = label.offset_bytes + numbers.astype(np.int64) * SECTOR_BYTES
    rows = _Rows(
        got[numbers], want[numbers], Label(label.pass_number, 0), offsets=offsets, labels=labels
    )
    return SectorCounts(
        sectors=len(want),
        right=len(want) - len(numbers),
        wrong=rows.counts(),
        damaged_bytes=int(rows.damaged.sum()),
        up_bits=rows.flips_by_place(up=True),
        down_bits=rows.flips_by_place(up=False),
        details=rows.details(),
    )


def short(received: Buffer, begun: bytes, asked_bytes: int, offset_bytes: int) -> SectorCounts:
    """Count sectors that did not come, or not to their end.

    Parameters
    ----------
    received : bytes
        What came of the first of them, less than a sector.
    begun : bytes
        What was expected of that, as long.
    asked_bytes : int
        How much was asked for from there on, whole sectors.
    offset_bytes : int
        Where it begins.
    """
    came = np.frombuffer(received, np.uint8)
    want = np.frombuffer(begun, np.uint8)
    lost_bytes = asked_bytes - len(came) + int(np.count_nonzero(came != want))
    sectors = asked_bytes // SECTOR_BYTES
    detail = (WrongSector("short", offset_bytes, lost_bytes),)
    return SectorCounts(sectors, 0, {"short": sectors}, lost_bytes, details=detail)


class _Rows:
    """The wrong sectors, all at once: a whole chunk of zeros must not hold up the loop.

    Parameters
    ----------
    got, want : ndarray of uint8, shape (n, 512)
    label : Label
        The pass expected.
    offsets : ndarray of int64, shape (n,)
        Place of each sector in bytes.
    """

    def __init__(
        self, got: Bytes, want: Bytes, label: Label, offsets: Places, labels: Labels
    ) -> None:
        self.got = got
        self.want = want
        self.offsets = offsets
        differing = got ^ want
        self.damaged: Places = (differing != 0).sum(axis=1, dtype=np.int64)
        per_byte = np.bitwise_count(differing)
        self.flips: Places = per_byte.sum(axis=1, dtype=np.int64)
        self.in_block: Places = per_byte.reshape(-1, 32, 16).sum(axis=2, dtype=np.int64)
        self.set_bits: Places = np.bitwise_count(got).sum(axis=1, dtype=np.int64)
        passes, places = labels(got.tobytes())
        elsewhere = (passes > 0) & ~((passes == label.pass_number) & (places == offsets[:, None]))
        first = elsewhere.argmax(axis=1)
        rows = np.arange(len(got))
        self.elsewhere = elsewhere.any(axis=1)
        self.passes = passes[rows, first]
        self.places = places[rows, first]
        self.kinds = self._kinds()

    def _kinds(self) -> NDArray[np.int64]:
        """Return each sector's number in `KINDS`, shape (n,)."""
        some_right = (self.in_block == 0).any(axis=1)
        replaced = ((self.in_block == 0) | (self.in_block >= _REPLACED_BITS)).all(axis=1)
        tried: list[tuple[NDArray[np.bool_], Kind]] = [
            (self.set_bits <= NEARLY_BITS, "zeros"),
            (self.set_bits >= SECTOR_BYTES * 8 - NEARLY_BITS, "ones"),
            (some_right & replaced, "torn"),
            (some_right, "flipped"),
            (self.elsewhere & (self.places == self.offsets), "earlier pass"),
            (self.elsewhere, "wrong address"),
            (self.flips <= MOST_FLIPS_BITS, "flipped"),
        ]
        conditions = [condition for condition, _ in tried]
        numbers = [KINDS.index(kind) for _, kind in tried]
        return np.select(conditions, numbers, KINDS.index("foreign")).astype(np.int64)

    def counts(self) -> dict[Kind, int]:
        numbers = np.bincount(self.kinds, minlength=len(KINDS)).tolist()
        return {kind: count for kind, count in zip(KINDS, numbers, strict=True) if count}

    def flips_by_place(self, *, up: bool) -> tuple[int, ...]:
        """Count flips to 1 (or to 0) in flipped sectors by place in the byte, lowest first."""
        at = self.kinds == KINDS.index("flipped")
        got = self.got[at]
        want = self.want[at]
        changed = got & ~want if up else ~got & want
        return tuple(int(np.count_nonzero(changed & (1 << bit))) for bit in range(8))

    def details(self) -> tuple[WrongSector, ...]:
        return tuple(self._detail(row) for row in range(min(len(self.got), MOST_DETAILS)))

    def _detail(self, row: int) -> WrongSector:
        kind = KINDS[self.kinds[row]]
        positions: tuple[int, ...] = ()
        if kind == "flipped":
            differing = np.unpackbits(self.got[row] ^ self.want[row], bitorder="little")
            positions = tuple(np.flatnonzero(differing)[:MOST_POSITIONS].tolist())
        label = None
        if kind in ("torn", "wrong address", "earlier pass") and self.elsewhere[row]:
            label = Label(int(self.passes[row]), int(self.places[row]))
        return WrongSector(
            kind,
            int(self.offsets[row]),
            int(self.damaged[row]),
            flipped_bits=int(self.flips[row]),
            positions=positions,
            found=label,
        )
