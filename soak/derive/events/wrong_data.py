"""What was wrong with data that crossed the unit's port: how, at how many places, where, and why.

A *place* is a sector. A place that is read wrong again and again is one place.
"""

import errno
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from soak.derive.course import Course
from soak.derive.spans import holds, touching
from soak.evidence import Floats
from soak.marks import WritingRefused, WrongChunk, fact_as, facts
from soak.measure.stick.sectors import SECTOR_BYTES
from soak.records import Json, Mark
from soak.words import NOTHING_SAID, Amount, Message, counted, joined, msg, sentence

_NO_PLACE = "failed once"
"""The kind of a failure that was none any more when the pieces were moved."""

_TOLD_WITHIN_S = 0.5
"""A chunk is described at once when its bytes are counted; what is stored may be rounded. Our own
choice."""

_READ_ONLY = frozenset({errno.EPERM, errno.EACCES, errno.EROFS})
"""What is said of a stick that takes no more data, but for one that is full."""

_KINDS: Mapping[str, Callable[[int], Message]] = {
    "flipped": lambda n: counted(n, "bits flipped at 1 place", "bits flipped at {count} places"),
    "zeros": lambda n: counted(n, "zeros at 1 place", "zeros at {count} places"),
    "ones": lambda n: counted(n, "ones at 1 place", "ones at {count} places"),
    "torn": lambda n: counted(n, "torn data at 1 place", "torn data at {count} places"),
    "wrong address": lambda n: counted(
        n, "data of another place at 1 place", "data of other places at {count} places"
    ),
    "earlier pass": lambda n: counted(
        n, "data of an earlier pass at 1 place", "data of an earlier pass at {count} places"
    ),
    "foreign": lambda n: counted(n, "foreign data at 1 place", "foreign data at {count} places"),
    "short": lambda n: counted(n, "data cut short at 1 place", "data cut short at {count} places"),
    "unreadable": lambda n: counted(
        n, "1 place could not be read", "{count} places could not be read"
    ),
    "not written": lambda n: counted(
        n, "1 place could not be written", "{count} places could not be written"
    ),
    _NO_PLACE: lambda n: counted(
        n,
        "1 transfer failed and went well when it was repeated",
        "{count} transfers failed and went well when they were repeated",
    ),
}
"""How each kind is said; the kinds are those of `soak.measure.stick.sectors` and of the check."""


@dataclass(frozen=True, slots=True)
class WrongTransfer:
    """A transfer that speaks against the unit.

    Attributes
    ----------
    size_bytes : float
        Wrong bytes as they were counted then.
    chunks : sequence of WrongChunk
        Each chunk as it was described; empty where nobody did.
    """

    t_s: float
    size_bytes: float
    chunks: Sequence[WrongChunk] = ()


@dataclass(frozen=True, slots=True)
class Wrong:
    """What was wrong over several transfers, each place once.

    Attributes
    ----------
    transfers : int
        Transfers that something was wrong with.
    size_bytes : float
        Bytes that were wrong, each place once.
    kinds : mapping of str to int
        Places of each kind; at least so many, where chunks were not described one by one.
    first_bytes : int or None
        Where the first place begins; None if nobody knows.
    on_disk : bool
        Whether that is an address on the disk, or one in the data that soak wrote.
    errnos : frozenset of int
        What the system said of those that failed.
    stuck : frozenset of str
        Data lines that stood still.
    """

    transfers: int
    size_bytes: float
    kinds: Mapping[str, int] = field(default_factory=dict)
    first_bytes: int | None = None
    on_disk: bool = False
    errnos: frozenset[int] = frozenset()
    stuck: frozenset[str] = frozenset()

    @property
    def places(self) -> int:
        """Places at which something was wrong."""
        return sum(self.kinds.values())

    def as_json(self) -> Json:
        """Return what is known as a finding's detail, without empty entries."""
        where = "disk_address_bytes" if self.on_disk else "data_address_bytes"
        detail = {
            "kinds": dict(sorted(self.kinds.items())),
            "wrong_transfers": self.transfers,
            where: self.first_bytes,
            "errno": sorted(self.errnos),
        }
        return {key: value for key, value in detail.items() if value or value == 0}


def wrong_transfers(course: Course) -> Sequence[WrongTransfer]:
    """Return what speaks against the unit; a read beside a hole of the stick does not."""
    return course.once(("wrong transfers",), lambda: _find(course))


def _find(course: Course) -> Sequence[WrongTransfer]:
    if not course.stick_proves_unit:
        return []
    t_s, damaged_bytes = course.series("transfer.stick.damaged")
    # That the bench looked away for a moment spoils no data; that it opened the stick anew may.
    apart = [h.explains for h in course.holes("stick") if h.after_s or h.unit_too]
    at = np.flatnonzero(damaged_bytes > 0)
    described = _described(course, t_s[at])
    return [
        WrongTransfer(float(t_s[one]), float(damaged_bytes[one]), described[number])
        for number, one in enumerate(at)
        if touching(float(t_s[one]) - 1, float(t_s[one]) + 1, apart) is None
    ]


def _described(course: Course, t_s: Floats) -> list[list[WrongChunk]]:
    """Return for each of the times, shape (n,), the chunks that were described then."""
    chunks: list[list[WrongChunk]] = [[] for _ in t_s]
    for mark, chunk in facts(course, WrongChunk) if len(t_s) else ():
        after = min(int(np.searchsorted(t_s, mark.t_s)), len(t_s) - 1)
        nearest = min((max(0, after - 1), after), key=lambda one: abs(t_s[one] - mark.t_s))
        if abs(t_s[nearest] - mark.t_s) <= _TOLD_WITHIN_S:
            chunks[nearest].append(chunk)
    return chunks


def put_together(transfers: Iterable[WrongTransfer]) -> Wrong:
    """Count each place once, of one soak's transfers."""
    transfers = list(transfers)
    by_chunk: dict[int, _Chunk] = {}
    described = [chunk for transfer in transfers for chunk in transfer.chunks]
    # What is told together with others of its pass has no place of its own; what was cut short
    # tells nothing that a whole search told better.
    placed = [(chunk.offset_bytes, chunk) for chunk in described if chunk.offset_bytes is not None]
    for offset_bytes, chunk in sorted(placed, key=lambda one: one[1].cut_short):
        known = by_chunk.setdefault(offset_bytes, _Chunk())
        if not (chunk.cut_short and known.searched):
            known.take(chunk)
    kinds: dict[str, int] = {}
    for chunk_of in by_chunk.values():
        for kind, number in chunk_of.kinds().items():
            kinds[kind] = kinds.get(kind, 0) + number
    firsts = [first for wrong in by_chunk.values() if (first := wrong.first_bytes) is not None]
    on_disk = [wrong.disk_bytes for wrong in by_chunk.values() if wrong.disk_bytes is not None]
    size_bytes = sum(wrong.size_bytes for wrong in by_chunk.values())
    return Wrong(
        transfers=len(transfers),
        # What was not described was most likely described before: it counts where nothing was.
        size_bytes=float(size_bytes or sum(transfer.size_bytes for transfer in transfers)),
        kinds=kinds,
        first_bytes=min(on_disk) if on_disk else min(firsts, default=None),
        on_disk=bool(on_disk),
        errnos=frozenset(wrong.errno for wrong in described if wrong.errno is not None),
        stuck=frozenset(wrong.stuck for wrong in described if wrong.stuck),
    )


class _Chunk:
    """All that was ever told of one chunk."""

    def __init__(self) -> None:
        self._most: dict[str, int] = {}
        self._most_bytes = self._failed_once = 0
        self._sectors: dict[tuple[str, int], int] = {}
        self.first_bytes: int | None = None
        self.disk_bytes: int | None = None
        self.searched = False

    def take(self, chunk: WrongChunk) -> None:
        """Take what one transfer found."""
        self.searched |= not chunk.cut_short
        of_kind = dict(chunk.kinds)
        sectors_bytes = sum(of_kind.values()) * SECTOR_BYTES
        once = of_kind.pop(_NO_PLACE, 0)
        self._failed_once += once
        if once and not of_kind:
            return
        for kind, number in of_kind.items():
            self._most[kind] = max(self._most.get(kind, 0), number)
        told_bytes = sectors_bytes if chunk.damaged_bytes is None else int(chunk.damaged_bytes)
        damaged_bytes = told_bytes - once * SECTOR_BYTES
        self._most_bytes = max(self._most_bytes, damaged_bytes)
        for place in chunk.where:
            key = str(place["kind"]), int(place["offset_bytes"])
            self._sectors[key] = max(self._sectors.get(key, 0), int(place["damaged_bytes"]))
        first = int(chunk.where[0]["offset_bytes"]) if chunk.where else chunk.offset_bytes or 0
        self.first_bytes = first if self.first_bytes is None else min(self.first_bytes, first)
        if (disk_bytes := chunk.disk_address_bytes) is not None:
            self.disk_bytes = min(disk_bytes, self.disk_bytes or disk_bytes)

    def kinds(self) -> dict[str, int]:
        """Return at how many places each kind was seen, at least."""
        listed: dict[str, int] = {}
        for kind, _ in self._sectors:
            listed[kind] = listed.get(kind, 0) + 1
        both = sorted({*self._most, *listed})
        kinds = {kind: max(self._most.get(kind, 0), listed.get(kind, 0)) for kind in both}
        return kinds | ({_NO_PLACE: self._failed_once} if self._failed_once else {})

    @property
    def size_bytes(self) -> int:
        """How many bytes were wrong, each place once, at least."""
        once_bytes = self._failed_once * SECTOR_BYTES
        return once_bytes + max(self._most_bytes, sum(self._sectors.values()))


def kinds_words(kinds: Mapping[str, int]) -> Message:
    """Say what was wrong at how many places, to stand within a sentence."""
    known = [one(kinds[kind]) for kind, one in _KINDS.items() if kinds.get(kind)]
    others = [
        msg("{kind} at {count} places", kind=kind, count=number)
        for kind, number in kinds.items()
        if kind not in _KINDS
    ]
    return joined(", ", [*known, *others])


_CARRIED: Mapping[str, Callable[[int], Message]] = {
    "zeros": lambda n: counted(
        n,
        "zeros, or nothing ever written, at 1 place",
        "zeros, or nothing ever written, at {count} places",
    ),
    "earlier pass": lambda n: counted(
        n, "data of another pack at 1 place", "data of another pack at {count} places"
    ),
    "longer": lambda n: counted(n, "1 byte too many", "{count} bytes too many"),
}
"""What is otherwise with a carried file: nobody wrote its place before, and packs take the part of
passes."""


def carried_words(kinds: Mapping[str, int]) -> Message:
    """Say what was wrong with carried files, to stand within a sentence."""
    own = [one(kinds[kind]) for kind, one in _CARRIED.items() if kinds.get(kind)]
    others = {kind: number for kind, number in kinds.items() if kind not in _CARRIED}
    return joined(", ", [kinds_words(others), *own])


def wrong_words(wrong: Wrong) -> Message:
    """Say what was wrong; where nobody described it, how much."""
    if not wrong.kinds and not wrong.size_bytes:
        return msg("nothing came back wrong")
    if not wrong.kinds:
        return msg("{size} came back wrong", size=Amount(wrong.size_bytes, "B"))
    return kinds_words(wrong.kinds)


def where_words(wrong: Wrong) -> Message:
    """Say where the first place lies, in small letters; nothing if nobody knows."""
    if wrong.first_bytes is None or not wrong.kinds:
        return NOTHING_SAID
    sector = wrong.first_bytes // SECTOR_BYTES
    if wrong.on_disk:
        return msg(
            "the first at disk address {address}, sector {sector}",
            address=wrong.first_bytes,
            sector=sector,
        )
    return msg(
        "the first at byte {address} of the data, sector {sector}",
        address=wrong.first_bytes,
        sector=sector,
    )


def errno_words(numbers: Iterable[int]) -> Message:
    """Say what the system gave as reason, in small letters; nothing if it gave none."""
    return joined(", ", [_errno(number) for number in sorted(numbers)])


def _errno(number: int) -> Message:
    if number == errno.EIO:
        return msg("the system said input or output error (errno {number})", number=number)
    if number == errno.ENODATA:
        return msg(
            "the system said that the medium does not give the data (errno {number})", number=number
        )
    return msg("the system said errno {number}", number=number)


def transfer_words(transfer: WrongTransfer) -> Message:
    """Say of one transfer what was wrong and where."""
    wrong = put_together([transfer])
    return joined("; ", [wrong_words(wrong), where_words(wrong), errno_words(wrong.errnos)])


def details_words(wrong: Wrong) -> Message:
    """Say in a sentence what helps the repairer: how often it was read so, where, why."""
    often = counted(
        wrong.transfers,
        "seen in 1 transfer",
        "seen in {count} transfers",
    )
    line = msg("all flips lie on one data line") if len(wrong.stuck) == 1 else NOTHING_SAID
    sentences = [often, where_words(wrong), errno_words(wrong.errnos), line]
    return sentence(joined("; ", sentences)) if wrong.kinds else NOTHING_SAID


def refusals(course: Course, stretch: str) -> Sequence[Mark]:
    """Return when the stick took no more data in a stretch though it was there."""
    windows = course.windows(stretch)
    return [mark for mark, _ in facts(course, WritingRefused) if holds(mark.t_s, windows)]


def refused_words(course: Course, stretch: str) -> Message:
    """Say why nothing was written any more, in small letters; nothing if it was."""
    marks = refusals(course, stretch)
    if not marks:
        return NOTHING_SAID
    number = fact_as(marks[0], WritingRefused).errno
    if number not in _READ_ONLY:
        return msg(
            "the stick was full and took no more data: make room on it, or give a smaller size, "
            "and run again"
        )
    return msg(
        "the stick became read-only while it was in use, as after errors of its medium or on the "
        "way to it: the port, the cable and the stick are under suspicion; look in the system's "
        "log, put another stick in this port, and run again"
    )


def suspects_port(course: Course) -> bool:
    """Return whether a stick at the unit's port became read-only while it was in use."""
    numbers = {refused.errno for _, refused in facts(course, WritingRefused)}
    return course.stick_proves_unit and bool(numbers & _READ_ONLY)


def all_kinds(several: Sequence[Wrong]) -> Wrong:
    """Put together what was wrong in several soaks; the first place is that of the first."""
    kinds: dict[str, int] = {}
    for wrong in several:
        for kind, number in wrong.kinds.items():
            kinds[kind] = kinds.get(kind, 0) + number
    placed = next((wrong for wrong in several if wrong.first_bytes is not None), Wrong(0, 0.0))
    return Wrong(
        transfers=sum(wrong.transfers for wrong in several),
        size_bytes=sum(wrong.size_bytes for wrong in several),
        kinds=kinds,
        first_bytes=placed.first_bytes,
        on_disk=placed.on_disk,
        errnos=frozenset(number for wrong in several for number in wrong.errnos),
        stuck=frozenset(line for wrong in several for line in wrong.stuck),
    )
