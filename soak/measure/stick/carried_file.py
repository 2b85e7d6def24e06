"""What came of one carried file: whole, or changed and how, told from its own data."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from soak.measure.stick.carried import PATTERN, ContentId, Pack
from soak.measure.stick.pattern import SECTOR_BYTES
from soak.measure.stick.sectors import SectorCounts, WrongSector

_PLACE = (1 << 40) - 1
"""Decides nothing: part of the format of packs: the bits of a place within its file."""
MOST_WHERE = 8
"""So many places of wrong data are listed for a file. Our own choice."""

Came = Literal["whole", "changed"]


@dataclass(frozen=True, slots=True)
class FileFound:
    """One file that was found and looked through.

    Attributes
    ----------
    what : ContentId
        Which file of which pack it is.
    length_bytes : int
        Its length as found.
    damaged_bytes : int
        Bytes that differ, are missing, or are too many.
    wrong : mapping of str to int
        Sectors of each kind that is not right (`sectors.KINDS`), never capped; `longer` counts
        bytes beyond the end.
    where : sequence of dict
        The first wrong sectors: kind, offset in the file, what the data there belongs to.
    """

    what: ContentId
    length_bytes: int
    damaged_bytes: int
    wrong: Mapping[str, int] = field(default_factory=dict)
    where: tuple[Mapping[str, Any], ...] = ()

    @property
    def came(self) -> Came:
        """Whether it is as it was packed."""
        return "changed" if self.damaged_bytes else "whole"


class FileLook:
    """Looks through one file piece by piece.

    Parameters
    ----------
    pack, number
        Which file it should be.
    """

    def __init__(self, pack: Pack, number: int) -> None:
        self._pack = pack
        self._number = number
        self._expected_bytes = pack.lengths_bytes[number]
        self._at_bytes = 0
        self._damaged_bytes = 0
        self._wrong: dict[str, int] = {}
        self._where: list[Mapping[str, Any]] = []

    def take(self, data: bytes) -> None:
        """Take the next piece; all but the last are whole sectors."""
        begin_bytes = self._at_bytes
        self._at_bytes += len(data)
        ours = data[: max(0, self._expected_bytes - begin_bytes)]
        if len(ours) < len(data):
            extra = len(data) - len(ours)
            self._wrong["longer"] = self._wrong.get("longer", 0) + extra
            self._damaged_bytes += extra
        if ours:
            self._examine(ours, begin_bytes)

    def end(self) -> FileFound:
        """Return what came of it."""
        missing = self._expected_bytes - self._at_bytes
        if missing > 0:
            sectors = -(-missing // SECTOR_BYTES)
            self._wrong["short"] = self._wrong.get("short", 0) + sectors
            self._damaged_bytes += missing
            detail = {"kind": "short", "offset_bytes": self._at_bytes, "damaged_bytes": missing}
            self._where.append(detail)
        return FileFound(
            ContentId(self._pack, self._number),
            self._at_bytes,
            self._damaged_bytes,
            wrong=self._wrong,
            where=tuple(self._where[:MOST_WHERE]),
        )

    def _examine(self, data: bytes, begin_bytes: int) -> None:
        """Compare with what was packed; a last sector that is not full is filled up as made."""
        place = self._number << 40 | begin_bytes
        fill = -len(data) % SECTOR_BYTES
        if fill:
            whole = len(data) + fill
            data += self._pack.make(self._number, begin_bytes, whole)[-fill:]
        self._count(PATTERN.examine(data, self._pack.number, place))

    def _count(self, counts: SectorCounts) -> None:
        self._damaged_bytes += counts.damaged_bytes
        for kind, number in counts.wrong.items():
            self._wrong[kind] = self._wrong.get(kind, 0) + number
        room = MOST_WHERE - len(self._where)
        self._where += [_plain(detail) for detail in counts.details[:room]]


def _plain(one: WrongSector) -> Mapping[str, Any]:
    entry: dict[str, Any] = {
        "kind": one.kind,
        "offset_bytes": one.offset_bytes & _PLACE,
        "damaged_bytes": one.damaged_bytes,
    }
    if one.flipped_bits:
        entry["flipped_bits"] = one.flipped_bits
    if one.found is not None:
        pack = Pack(one.found.pass_number)
        entry["found"] = {
            "pack": pack.name,
            "file": one.found.offset_bytes >> 40,
            "offset_bytes": one.found.offset_bytes & _PLACE,
        }
    return entry
