"""Files that say of themselves what they are: for carrying data through a unit by hand.

Each 16-byte block of a file is enciphered as in `pattern`, with a key that is published here: what
a block says is which *pack* it belongs to, which *file* of it, and which *place* in that file. A
pack's number also holds its size, and the size of a pack settles how many files it has and how long
each is. So any one sector that survives tells everything: no manifest, name, time stamp or order of
the files is needed to judge what came back.
"""

import secrets
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import lru_cache

from soak.measure.stick.pattern import SECTOR_BYTES, Pattern

KEY = b"soak carries it."
"""Not a secret: it makes the data look like noise, so nothing on the way can compress or merge it.
Every bench uses it, so that a pack can be read where it was not made."""

PATTERN = Pattern(KEY)

STEP_BYTES = 4_000_000
"""Decides nothing: part of the format of packs. Packs come in steps of this size."""
MOST_BYTES = 1023 * STEP_BYTES
"""4.09 GB: more would wear the stick for nothing, and a FAT file ends at 4.29 GB."""

_STEPS_BITS = 10
"""Decides nothing: part of the format of packs: so many bits of a pack's number say its size in
steps."""
_FILE_SHIFT = 40
"""Decides nothing, part of the format: a file's number stands above its places: 40 bits are 1.1 TB,
more than any file here has."""
_NUMBER_BITS = 8
"""Decides nothing: part of the format of packs: so many bits of a file's name are its number."""
_DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Ten digits and 22 letters, none of them mistaken for a digit: a name in capitals that every FAT
keeps as it is."""
_NAME_DIGITS = 8
"""Decides nothing: part of the format of packs: a name of eight characters, as FAT keeps it."""

SMALL_BYTES = (0, 1, 15, 16, 17, 511, 512, 513, 4095, 4096, 4097, 65_535, 65_536, 65_537)
"""Lengths at which a copying program errs first: nothing, one byte, one less and one more than a
cipher block, a sector, a page and a cluster. Our own choice."""
_FEWEST_LARGE, _MOST_LARGE, _LARGE_BYTES = 2, 64, 8_000_000
"""So few and so many large files fill a pack, each of some so many bytes. Our own choice."""
LEAST_KNOWN_BYTES = 16
"""A shorter file holds no whole block: it is known by its name or by being one of ours in length
and content. The block of AES, by definition."""


@dataclass(frozen=True, slots=True)
class Pack:
    """A set of files made together, known by its number (32 bits, the size within)."""

    number: int

    @property
    def size_bytes(self) -> int:
        """Length of all its files together, B."""
        return (self.number & ((1 << _STEPS_BITS) - 1)) * STEP_BYTES

    @property
    def lengths_bytes(self) -> tuple[int, ...]:
        """Length of each file, B, by its number."""
        return _lengths_bytes(self.size_bytes)

    @property
    def name(self) -> str:
        """What the pack is called: seven digits and letters."""
        return _written(self.number, _NAME_DIGITS - 1)

    def file_name(self, number: int) -> str:
        """Return the content id of a file, which is its name without the ending."""
        return _written(self.number << _NUMBER_BITS | number, _NAME_DIGITS)

    def make(self, number: int, offset_bytes: int, length_bytes: int) -> bytes:
        """Return the content of a file from a place on, which must begin a sector."""
        return PATTERN.make(self.number, number << _FILE_SHIFT | offset_bytes, length_bytes)


@dataclass(frozen=True, slots=True)
class ContentId:
    """What a sector or a name says: pack and file, and for a sector its place in the file."""

    pack: Pack
    number: int
    offset_bytes: int = 0


def is_number(number: int) -> bool:
    """Return whether a number can be a pack's: 32 bits, with a size and something besides."""
    sized = number & ((1 << _STEPS_BITS) - 1)
    return bool(sized) and 0 < number >> _STEPS_BITS < 1 << (32 - _STEPS_BITS)


def new_pack(size_bytes: int, taken: Collection[int] = ()) -> Pack:
    """Return a pack of a new number, its size rounded down to whole steps.

    Raises
    ------
    ValueError
        If the size is under one step or above `MOST_BYTES`.
    """
    if not STEP_BYTES <= size_bytes <= MOST_BYTES:
        raise ValueError(f"{size_bytes} B lie outside {STEP_BYTES} to {MOST_BYTES}")
    while True:
        number = secrets.randbits(32 - _STEPS_BITS) << _STEPS_BITS | size_bytes // STEP_BYTES
        if number >> _STEPS_BITS and number not in taken:
            return Pack(number)


@lru_cache(maxsize=8)
def _lengths_bytes(size_bytes: int) -> tuple[int, ...]:
    rest_bytes = size_bytes - sum(SMALL_BYTES)
    if rest_bytes <= 0:
        return ()
    count = min(_MOST_LARGE, max(_FEWEST_LARGE, -(-rest_bytes // _LARGE_BYTES)))
    each_bytes = rest_bytes // count
    return (*SMALL_BYTES, *[each_bytes] * (count - 1), rest_bytes - each_bytes * (count - 1))


def said_by(sectors: bytes) -> ContentId | None:
    """Return what most of some data speaks of; None if none of it is ours.

    Parameters
    ----------
    sectors : bytes
        At least 16 bytes; an incomplete block at the end is left out.
    """
    counts: dict[ContentId, int] = {}
    for label in _labels(sectors):
        counts[label] = counts.get(label, 0) + 1
    by_file: dict[tuple[Pack, int], list[ContentId]] = {}
    for label in counts:
        by_file.setdefault((label.pack, label.number), []).append(label)
    if not by_file:
        return None
    most = max(by_file.values(), key=lambda labels: sum(counts[label] for label in labels))
    return min(most, key=lambda one: one.offset_bytes)


def _labels(data: bytes) -> Iterator[ContentId]:
    whole = len(data) // 16 * 16
    padded = data[:whole] + bytes(-whole % SECTOR_BYTES)
    if not padded:
        return
    passes, places = PATTERN.labels(padded)
    for pack, place in zip(passes.ravel().tolist(), places.ravel().tolist(), strict=True):
        if pack < 0:
            continue
        label = ContentId(Pack(pack), place >> _FILE_SHIFT, place & ((1 << _FILE_SHIFT) - 1))
        if label.number < len(label.pack.lengths_bytes):
            yield label


def said_by_name(name: str) -> ContentId | None:
    """Return which file a name was given to, in any case and with any ending; None if to none."""
    stem = name.split(".", 1)[0].strip().upper()
    if len(stem) != _NAME_DIGITS or not set(stem) <= set(_DIGITS):
        return None
    value = 0
    for digit in stem:
        value = value << 5 | _DIGITS.index(digit)
    pack = Pack(value >> _NUMBER_BITS)
    number = value & ((1 << _NUMBER_BITS) - 1)
    return ContentId(pack, number) if number < len(pack.lengths_bytes) else None


def tiny_of(pack: Pack, data: bytes) -> ContentId | None:
    """Return which of a pack's files under 16 bytes has just this content; None if none."""
    for number, length_bytes in enumerate(pack.lengths_bytes):
        short = 0 < length_bytes < LEAST_KNOWN_BYTES
        if short and len(data) == length_bytes and data == pack.make(number, 0, length_bytes):
            return ContentId(pack, number)
    return None


def _written(value: int, digits: int) -> str:
    return "".join(_DIGITS[value >> 5 * place & 31] for place in reversed(range(digits)))
