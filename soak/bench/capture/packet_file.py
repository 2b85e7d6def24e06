"""A raw file of JPEG pictures back to back, with an index beside it that says where and when.

`NAME.idx.json` = `{"fps": 60, "size": [width, rows], "taught_nosignal": ["x.jpg"], "moving": true,
"frames": [[offset, length, timestamp_ns], ...]}`. Without an index the packets are found by their
start and end markers and come at 60 pictures a second.
"""

import itertools
import json
import mmap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from soak.bench.capture.video_stream import CannotOpen
from soak.outside import opened, read_bytes
from soak.roles import Picture
from soak.words import Message, Said, msg

UNTOLD_RATE_HZ = 60.0
"""Pictures a second of a recording whose index tells no times, Hz. Our own choice."""
_START = b"\xff\xd8\xff"
_END = b"\xff\xd9"
_LONGEST = 65535
_MOST_WORDS = 3


class Index(BaseModel):
    """The index of a raw file.

    Attributes
    ----------
    fps : float
        Pictures a second.
    size : two int or None
        Expected width and height in pixels.
    taught_nosignal : sequence of str
        The card's own no-signal pictures, files beside the index.
    moving : bool
        Whether motion is promised.
    frames : sequence of (int, int, float)
        Offset and length in bytes, and time in ns.

    Notes
    -----
    Indexes are written by other programs, so keys that are not known are passed over.
    """

    model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False)

    fps: float = Field(default=UNTOLD_RATE_HZ, gt=0, le=10_000)
    size: Sequence[int] | None = Field(default=None, min_length=2, max_length=2)
    taught_nosignal: Sequence[str] = ()
    moving: bool = False
    frames: Sequence[tuple[int, int, float]]

    @field_validator("size")
    @classmethod
    def _size_is_possible(cls, size: Sequence[int] | None) -> Sequence[int] | None:
        if size is not None and not all(1 <= side <= _LONGEST for side in size):
            raise ValueError(f"width and height lie between 1 and {_LONGEST} pixels")
        return size


@dataclass(frozen=True, slots=True)
class PacketFile:
    """A raw file and what its index says, checked against each other.

    Attributes
    ----------
    told : bool
        Whether there is an index.
    complaints : sequence of Message
        What is odd about it and can be lived with.
    """

    path: Path
    index: Index
    told: bool
    complaints: Sequence[Message]

    @property
    def size(self) -> tuple[int, int]:
        """Expected width and height in pixels, (0, 0) if not told."""
        size = self.index.size
        return (0, 0) if size is None else (size[0], size[1])

    def pictures(self) -> Iterator[Picture]:
        """Yield its packets with their times in s, the first at 0."""
        frames = self.index.frames
        if not frames:
            return
        began_ns = frames[0][2]
        with self.path.open("rb") as file:
            for number, (offset, length, at_ns) in enumerate(frames):
                file.seek(offset)
                data = memoryview(file.read(length))
                t_s = max(0.0, (at_ns - began_ns) / 1e9)
                yield Picture(t_s, number, "mjpeg", size=self.size, data=data)


def index_path(path: Path) -> Path:
    """Return where the index of a raw file lies."""
    beside = path.with_name(path.name + ".idx.json")
    return beside if beside.exists() else path.with_name(path.stem + ".idx.json")


def is_packet_file(path: Path) -> bool:
    """Tell whether a file is to be read here: it has an index, or begins with a JPEG's marker."""
    if index_path(path).exists():
        return True
    with opened(path) as file:
        return file.read(3) == _START


def open_packet_file(path: Path) -> PacketFile:
    """Open a raw file of JPEG pictures.

    Raises
    ------
    CannotOpen
        If the index cannot be read, or points outside the file or into the middle of a picture.
    """
    beside = index_path(path)
    try:
        if not beside.exists():
            return _without_index(path)
        index = Index.model_validate_json(read_bytes(beside))
        size_bytes = path.stat().st_size
    except ValidationError as fault:
        raise CannotOpen(
            msg("{beside} is no index of pictures: {why}", beside=str(beside), why=_first(fault))
        ) from None
    except (OSError, ValueError, RecursionError) as fault:
        raise CannotOpen(
            msg("{beside} or its file cannot be read: {why}", beside=str(beside), why=_words(fault))
        ) from None
    return PacketFile(path, index, True, tuple(_checked(beside, index, size_bytes)))


def _checked(beside: Path, index: Index, size_bytes: int) -> Iterator[Message]:
    """Yield what is odd; raise what makes the index a lie."""
    for number, (offset, length, _) in enumerate(index.frames):
        if offset < 0 or length < 0 or offset + length > size_bytes:
            raise CannotOpen(
                msg(
                    "{beside} lies: picture {number} would reach from byte {offset} to {to} "
                    "of {size_bytes}; make the index anew",
                    beside=str(beside),
                    number=number,
                    offset=offset,
                    to=offset + length,
                    size_bytes=size_bytes,
                )
            )
    places = sorted({(offset, length) for offset, length, _ in index.frames if length})
    for (one, length), (other, _) in itertools.pairwise(places):
        if other < one + length:
            raise CannotOpen(
                msg(
                    "{beside} lies: two different pictures share the bytes from {other} to {one}; "
                    "make the index anew",
                    beside=str(beside),
                    other=other,
                    one=one + length,
                )
            )
    left = size_bytes - sum(length for _, length in places)
    if left:
        yield msg(
            "{beside} leaves {left} of {size} bytes out; they are not looked at",
            beside=str(beside),
            left=left,
            size=size_bytes,
        )
    if not index.frames:
        yield msg("{beside} lists no picture", beside=str(beside))
    empty = sum(length == 0 for _, length, _ in index.frames)
    if empty:
        yield msg(
            "{beside} lists {empty} pictures without a byte; they are taken for damaged",
            beside=str(beside),
            empty=empty,
        )


def _without_index(path: Path) -> PacketFile:
    if not path.stat().st_size:
        raise CannotOpen(msg("{path} is empty; give a recording", path=str(path)))
    frames: list[tuple[int, int, float]] = []
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        at = data.find(_START)
        while at >= 0:
            following = data.find(_END + _START, at)
            end = following + 2 if following >= 0 else len(data)
            time_ns = round(len(frames) * 1e9 / UNTOLD_RATE_HZ)
            frames.append((at, end - at, time_ns))
            at = following + 2 if following >= 0 else -1
    said = msg(
        "{path} has no index {index}: 60 pictures a second are taken for granted",
        path=str(path),
        index=path.name + ".idx.json",
    )
    return PacketFile(path, Index(frames=frames), False, (said,))


def _first(fault: ValidationError) -> str:
    error = fault.errors()[0]
    where = ".".join(str(part) for part in error["loc"][:_MOST_WORDS])
    return f"{where}: {error['msg']}" if where else str(error["msg"])


def _words(fault: Exception) -> Said:
    if isinstance(fault, OSError):
        return fault.strerror or str(fault)
    return msg("it is no JSON text") if isinstance(fault, json.JSONDecodeError) else str(fault)
