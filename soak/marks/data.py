"""What became of data and of the stick it lies on."""

from collections.abc import Mapping, Sequence
from dataclasses import field

from soak.marks.fact import Fact, mark, maybe
from soak.records import Json
from soak.words import NOTHING_SAID, Message


@mark("reconnected")
class Reconnected(Fact):
    """A stick or link was found again."""

    source: str = ""
    gone_s: float = 0.0


@mark("chunk")
class WrongChunk(Fact):
    """A chunk of transferred data was not right, or so many of a pass (`chunks`) together.

    Attributes
    ----------
    kinds : mapping of str to int
        Places of each kind.
    offset_bytes, length_bytes : int or None
        The chunk, in the data that soak wrote.
    disk_address_bytes : int or None
        Where the first wrong place begins on the disk.
    where : sequence of Json
        Places, each with `kind`, `offset_bytes`, `damaged_bytes` and what more is known.
    errno : int or None
        What the system said.
    stuck : str
        The data line that stood still.
    cut_short : bool
        Whether the end of the stretch cut short the search for wrong places.
    """

    kinds: Mapping[str, int] = field(default_factory=dict)
    offset_bytes: int | None = maybe(default=None)
    length_bytes: int | None = maybe(default=None)
    disk_address_bytes: int | None = maybe(default=None)
    pass_: int | None = maybe(default=None)
    path: str = maybe(default="")
    damaged_bytes: float | None = maybe(default=None)
    where: Sequence[Json] = maybe(default=())
    errno: int | None = maybe(default=None)
    stuck: str = maybe(default="")
    cut_short: bool = maybe(default=False)
    chunks: int | None = maybe(default=None)


@mark("writing refused")
class WritingRefused(Fact):
    """A stick takes no more data though it is there."""

    source: str = ""
    errno: int | None = None
    why: Message = NOTHING_SAID


@mark("capacity")
class CapacityTried(Fact):
    """A stick was filled once: what it claims, what was tried, what it holds; where it wraps."""

    claims_bytes: int = 0
    tried_bytes: int = 0
    holds_bytes: int = 0
    wraps_bytes: int | None = maybe(default=None)


@mark("carried")
class CarriedFile(Fact):
    """A file of a pack was looked for.

    Attributes
    ----------
    came : str
        `"whole"`, `"changed"` and so on.
    original_whole : bool
        Whether the stick still holds it as it was packed.
    copies : sequence of Json
        Those found, changed ones first, each with `where`, `came`, `damaged_bytes`, `kinds`.
    """

    file: int = 0
    name: str = ""
    length_bytes: int = 0
    came: str = ""
    original_whole: bool = True
    copies: Sequence[Json] = ()
    unreadable: Sequence[str] = ()
    unreadable_at_bytes: Sequence[int | None] = ()
    more_copies: int = 0


@mark("fetched")
class FileFetched(Fact):
    """A file was fetched from the unit: whole, wrong, broke off or hung; since when, and why."""

    came: str
    size_bytes: int = 0
    from_s: float = 0.0
    why: Message = NOTHING_SAID
