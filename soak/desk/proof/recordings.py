"""Look through recordings: which states they show, from which picture to which."""

import csv
import io
import json
import signal
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from soak.bench.capture.packet_file import is_packet_file, open_packet_file
from soak.bench.capture.video_stream import CannotOpen, kind_of_source, pictures_of
from soak.derive.said import state_words
from soak.errors import UsageError, told_of
from soak.measure.video.accounts import nominal_rate
from soak.measure.video.lookthrough import Look, Shown, look_over
from soak.measure.video.watcher import WatcherSettings
from soak.outside import is_file, read_bytes
from soak.roles import Picture
from soak.visible import harmless
from soak.words import (
    Amount,
    Data,
    Message,
    Number,
    Said,
    Tell,
    counted,
    in_brackets,
    indented,
    joined,
    lines_of,
    msg,
    table,
)

TOLD_EVERY_S = 2.0


def while_told(pictures: Iterable[Picture], tell: Tell) -> Iterator[Picture]:
    """Yield pictures, and tell every two seconds how far that has come."""
    told_s = time.monotonic()
    for number, picture in enumerate(pictures, start=1):
        if time.monotonic() - told_s >= TOLD_EVERY_S:
            told_s = time.monotonic()
            at = Amount(picture.t_s, "s")
            tell(msg("{number} pictures, up to {time}", number=number, time=at))
        yield picture


def until_stopped(pictures: Iterable[Picture]) -> Iterator[Picture]:
    """Yield pictures until they end or the operator says so; what came before still counts.

    The first Ctrl-C ends it with the picture that comes next; another one ends the program.
    """
    with _stopping() as stopped:
        for picture in pictures:
            if stopped():
                return
            yield picture


@contextmanager
def _stopping() -> Iterator[Callable[[], bool]]:
    asked = False

    def ask(number: int, frame: FrameType | None) -> None:
        nonlocal asked
        asked = True
        signal.signal(signal.SIGINT, before)

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield lambda: asked
    finally:
        signal.signal(signal.SIGINT, before)


KINDS = {
    "black": "black",
    "no signal": "nosignal",
    "frozen": "freeze",
    "stalled": "stall",
    "other size": "resolution",
    "tint": "tint",
    "sparkle": "sparkle",
    "torn": "torn",
    "block": "block",
}
"""State as the program says it, and as a table of labels does."""
COLUMNS = ("clip", "start_frame", "end_frame", "kind")


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of looking through recordings.

    Attributes
    ----------
    taught : sequence of str
        Files of the card's own no-signal pictures.
    protected : sequence of str
        Files of what is shown in place of protected output.
    menu : sequence of str
        Files of the unit's own pictures whose colours are right.
    moving : bool or None
        Whether motion is promised; None: as the index says, else not.
    fine_every : int
        One picture in so many is seen fully, for the fine faults; 0: none.
    tell : callable
        Told now and then how far it has come.
    """

    taught: Sequence[str] = ()
    protected: Sequence[str] = ()
    menu: Sequence[str] = ()
    moving: bool | None = None
    fine_every: int = 4
    tell: Tell = lambda _: None


@dataclass(frozen=True, slots=True)
class Found:
    """A recording with what it shows, and what is odd about the file."""

    clip: str
    look: Look
    complaints: Sequence[Message]

    def rows(self) -> Iterator[tuple[str, int, int, str]]:
        """Yield what is no plain picture, by the names that tables of labels use."""
        most = max(self.look.pictures - 1, 0)
        spans = [span for span in (*self.look.spans, *self.look.faults) if span.kind in KINDS]
        for span in sorted(spans, key=lambda shown: shown.from_s):
            first, last = frames_of(span, most)
            yield harmless(self.clip), first, last, KINDS[span.kind]


def frames_of(span: Shown, most: int) -> tuple[int, int]:
    """Return first and last picture, both included; of a stall those before and after it."""
    first = max(span.first, 0)
    last = max(span.last, 0)
    if span.kind == "stalled":
        last = min(first + 1, most)
    return first, last


def look_at(file: str, asked: Asked) -> Found:
    """Look through one recording.

    Raises
    ------
    UsageError
        If a file cannot be read, is no recording, or a taught picture is none.
    """
    try:
        pictures, said, complaints = _opened(file)
        taught = tuple(_read(name) for name in (*asked.taught, *said.taught))
        settings = WatcherSettings(
            moving=said.moving if asked.moving is None else asked.moving,
            size=said.size,
            taught=taught,
            protected=tuple(map(_read, asked.protected)),
            menu=tuple(map(_read, asked.menu)),
            fine_every=asked.fine_every,
        )
        try:
            look = look_over(while_told(pictures, asked.tell), settings, said.period_s)
        except ValueError as fault:
            raise UsageError(joined(": ", [str(file), told_of(fault)])) from None
    except CannotOpen as fault:
        raise UsageError(told_of(fault)) from None
    if not look.pictures:
        raise UsageError(
            msg("{file} holds no picture that can be read; give a recording", file=file)
        )
    return Found(Path(file).name, look, (*complaints, *_odd(file, look)))


@dataclass(frozen=True, slots=True)
class _Told:
    """What a recording says of itself."""

    taught: Sequence[str] = ()
    moving: bool = False
    size: tuple[int, int] | None = None
    period_s: float | None = None


def _opened(file: str) -> tuple[Iterable[Picture], _Told, Sequence[Message]]:
    path = Path(file)
    try:
        named = kind_of_source(file) == "file" and is_file(path)
        empty = named and not path.stat().st_size  # as are some of the kernel's, which never end
        raw = named and not empty and is_packet_file(path)
    except OSError as fault:
        raise CannotOpen(
            msg("{file}: cannot be read: {why}", file=file, why=str(fault.strerror))
        ) from None
    if empty:
        raise CannotOpen(msg("{file}: is empty", file=file))
    if not raw:
        if kind_of_source(file) == "device":
            raise CannotOpen(
                msg("{file} is a camera; give a recording or a stream's address", file=file)
            )
        pictures = pictures_of(file)
        is_live = kind_of_source(file) == "address"
        return (until_stopped(pictures) if is_live else pictures), _Told(), ()
    packets = open_packet_file(path)
    index = packets.index
    taught = [str(path.parent / name) for name in index.taught_nosignal]
    size = packets.size if index.size is not None else None
    return packets.pictures(), _Told(taught, index.moving, size, 1 / index.fps), packets.complaints


def _read(name: str) -> bytes:
    try:
        return read_bytes(Path(name))
    except OSError as fault:
        what = msg("cannot be read as a taught picture")
        raise UsageError(
            msg(
                "{name}: {what}: {why}; teach it again",
                name=name,
                what=what,
                why=str(fault.strerror),
            )
        ) from None


def _odd(file: str, look: Look) -> Iterator[Message]:
    if look.damaged:
        yield msg(
            "{file}: {damaged} of {pictures} packets are no whole picture",
            file=file,
            damaged=look.damaged,
            pictures=look.pictures,
        )
    if look.backwards:
        yield counted(
            look.backwards,
            "{file}: time runs backwards once; it was held still there",
            "{file}: time runs backwards {count} times; it was held still there",
            file=file,
        )


def as_csv(found: Sequence[Found]) -> Data:
    """Return a table for programs, one line for each state that is no plain picture."""
    text = io.StringIO()
    lines = csv.writer(text, lineterminator="\n")
    lines.writerow(COLUMNS)
    for recording in found:
        lines.writerows(recording.rows())
    return Data(text.getvalue().rstrip("\n"))


def as_json(found: Sequence[Found]) -> Data:
    """Return everything for programs."""
    return Data(json.dumps([_object(recording) for recording in found], indent=2))


def _object(found: Found) -> dict[str, object]:
    look = found.look
    nominal = nominal_rate(look.rate_hz)
    return {
        "clip": found.clip,
        "pictures": look.pictures,
        "damaged": look.damaged,
        "lost": look.lost,
        "repeated": look.repeated,
        "rate_hz": round(look.rate_hz, 6),
        "nominal_rate": None if nominal is None else str(nominal),
        "states": [_span(span, look) for span in look.spans],
        "fine_faults": [_span(span, look) for span in look.faults],
        "complaints": list(found.complaints),
    }


def _span(span: Shown, look: Look) -> dict[str, object]:
    first, last = frames_of(span, max(look.pictures - 1, 0))
    return {
        "kind": span.kind,
        "start_frame": first,
        "end_frame": last,
        "from_s": round(span.from_s, 6),
        "seconds": round(span.seconds, 6),
    }


def as_text(found: Sequence[Found]) -> Message:
    """Return it for people."""
    return lines_of(line for recording in found for line in _lines(recording))


def _lines(found: Found) -> Iterator[Message]:
    look = found.look
    rate = _rate(look)
    counts = msg("{lost} lost, {repeated} exact repeats", lost=look.lost, repeated=look.repeated)
    pictures = joined(", ", [msg("{count} pictures", count=look.pictures), rate])
    yield joined("", [found.clip, ": ", joined("; ", [pictures, counts])])
    if not look.spans:
        yield indented(msg("nothing in it could be looked at"))
        return
    rows: list[Sequence[Said]] = [
        ("", msg("what"), msg("first"), msg("last"), msg("from"), msg("for"))
    ]
    for span in (*look.spans, *look.faults):
        first, last = frames_of(span, max(look.pictures - 1, 0))
        times = [_seconds(span.from_s), _seconds(span.seconds)]
        rows.append(("", _FINE.get(span.kind) or state_words(span.kind), first, last, *times))
    yield table(rows, right=(2, 3, 4, 5))
    if look.spans and not look.faults and all(span.kind == "picture" for span in look.spans):
        yield indented(msg("one unbroken picture"))


def _rate(look: Look) -> Message | None:
    if not look.rate_hz:
        return None
    nominal = nominal_rate(look.rate_hz)
    rate = msg("{rate} a second", rate=Number(look.rate_hz, ".3f"))
    if nominal is not None and nominal.denominator > 1:
        return joined(" ", [rate, in_brackets(str(nominal))])
    return rate


_FINE: Mapping[str, Message] = {
    "tint": msg("tint"),
    "sparkle": msg("sparkle"),
    "torn": msg("torn"),
    "block": msg("block"),
}


def _seconds(length_s: float) -> Message:
    return msg("{seconds} s", seconds=Number(length_s, ".3f"))
