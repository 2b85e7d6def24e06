"""Teach what a card shows in place of the unit's picture, by the path that a soak looks through."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from soak.bench.capture.video_stream import CannotOpen, Stream, kind_of_source, open_stream
from soak.bench.drivers.opencv import OpenCvWired
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import fixture_file
from soak.desk.proof.pulling import Watched, held_of, refuse_units_own
from soak.errors import BenchFault, FixtureError, UsageError, told_of
from soak.live.lines import say_line
from soak.measure.video.picture import Held, Luma, black_limit, is_black
from soak.measure.video.snow import is_noise
from soak.measure.video.taught import TaughtPictures, are_alike
from soak.outside import read_bytes
from soak.settings import checked, read_toml
from soak.words import NOTHING_SAID, Data, Message, joined, msg

SETTLES = 30
"""So many pictures go by before the card has settled. Own choice."""
COMPARED = 12
"""So many pictures after that must be alike. Own choice."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """What a picture is to stand for: key of the fixture file, what to do, why black is refused.

    Attributes
    ----------
    before : str
        What to do first, where the picture is compared with the one before; empty: nothing.
    """

    key: str
    words: Message
    do: Message
    black: Message
    before: Message = NOTHING_SAID


LESSONS = {
    "no-signal": Lesson(
        "taught",
        msg("no signal"),
        msg("Pull the picture's plug out of the unit, leave the card plugged in, then press Enter"),
        msg("the card shows plain black without a signal; that is seen untaught, as black"),
        msg("Have the unit show what it will show in the soak, best its menu, then press Enter"),
    ),
    "protected": Lesson(
        "protected",
        msg("protected output"),
        msg(
            "Have the unit show something protected, so that what is shown instead is seen, then "
            "press Enter"
        ),
        msg(
            "plain black stands in place of protected output here, which a lost picture looks "
            "like, too: no capture can tell them apart; have the unit show something that is not "
            "protected"
        ),
    ),
    "menu": Lesson(
        "menu",
        msg("the unit's own menu"),
        msg(
            "Have the unit show its menu, look whether all its colours are right, then press Enter"
        ),
        msg("plain black has no colours to be known by; have the unit show its menu"),
    ),
}


def teach(
    bench_path: Path, fixture_name: str, ask: Callable[[Message], object], shows: str = "no-signal"
) -> Data:
    """Keep the card's picture beside the fixture; return the line to paste.

    Raises
    ------
    FixtureError, BenchFault, UsageError
        If the fixture wires no capture through OpenCV, the card delivers nothing steady, or the
        picture already stands for something else.
    """
    if shows not in LESSONS:
        raise UsageError(
            msg(
                "--as {shows}: there is {lessons} and rests",
                shows=shows,
                lessons=joined(", ", LESSONS),
            )
        )
    lesson = LESSONS[shows]
    file = fixture_file(BenchFolder(bench_path), Path(fixture_name))
    data = read_toml(file, FixtureError, msg("fixture file"))
    entry = data.get("capture")
    if not isinstance(entry, dict) or entry.get("driver") != "opencv":
        what = msg('teaching needs a capture with driver = "opencv"; wire one')
        raise FixtureError(str(file), "capture", what)
    wired = checked(OpenCvWired, entry, str(file), error=FixtureError, at="capture")
    try:
        stream = open_stream(wired.asked())
    except CannotOpen as fault:
        raise BenchFault("capture", told_of(fault)) from None
    try:
        held = _shown(stream, wired, lesson, ask)
    finally:
        stream.close()
    _refuse_known(file, wired, held, lesson)
    return _kept(file, held, lesson, taught=list(getattr(wired, lesson.key)), shows=shows)


def _shown(
    stream: Stream, wired: OpenCvWired, lesson: Lesson, ask: Callable[[Message], object]
) -> Held:
    """Return what is to be taught, once the operator has made the card show it."""
    watched = Watched(stream, live=kind_of_source(str(wired.source)) != "file")
    before: list[Held] = []
    if lesson.before:
        watched.while_asked(lambda: ask(lesson.before))
        before = _read(stream, lesson, COMPARED)
        watched.remember(before)
    watched.while_asked(lambda: ask(lesson.do))
    held = _steady(stream, lesson, watched)
    if before:
        refuse_units_own(watched, before, held, _luma(held))
    return held


def _read(stream: Stream, lesson: Lesson, number: int) -> list[Held]:
    pictures = []
    for _ in range(number):
        frame = stream.read()
        if frame is None:
            what = msg(
                "the card delivers no picture at all for {words}: nothing need be taught",
                words=lesson.words,
            )
            raise BenchFault("capture", what)
        pictures.append(held_of(frame))
    return pictures


def _luma(held: Held) -> Luma:
    return "limited" if held.form == "yuyv" else "full"


def _steady(stream: Stream, lesson: Lesson, watched: Watched) -> Held:
    """Return the picture that the card shows, once it stands still."""
    kept = _read(stream, lesson, SETTLES + COMPARED)
    watched.remember(kept)
    kept = kept[SETTLES:]
    first = kept[0].grey()
    if first is None:
        raise BenchFault(
            "capture", msg("the card delivers damaged pictures; check its cable and port")
        )
    for held in kept[1:]:
        grey = held.grey()
        if grey is None or not are_alike(first, grey):
            raise BenchFault("capture", _restless(kept[0]))
    if is_black(first, black_limit(_luma(kept[0]))):
        raise BenchFault("capture", lesson.black)
    return kept[-1]


def _restless(held: Held) -> Message:
    grey = held.grey()
    if grey is not None and is_noise(grey, held.form, held.size[1]):
        return msg("the card shows noise; that is seen untaught, as no signal")
    return msg(
        "the picture does not stand still; wait until it does, and look whether it is the card's"
    )


def _refuse_known(fixture: Path, wired: OpenCvWired, held: Held, lesson: Lesson) -> None:
    """Refuse a picture that stands for the other thing already: nobody could tell the two apart."""
    for other in LESSONS.values():
        if other.key != lesson.key:
            _refuse_other(fixture, wired, held, lesson, other)


def _refuse_other(
    fixture: Path, wired: OpenCvWired, held: Held, lesson: Lesson, other: Lesson
) -> None:
    names: Sequence[str] = getattr(wired, other.key)
    files = [fixture.parent / name for name in names]
    known = [file for file in files if file.is_file()]
    try:
        taught = TaughtPictures([read_bytes(file) for file in known])
    except (OSError, ValueError) as fault:
        raise FixtureError(str(fixture), f"capture.{other.key}", told_of(fault)) from None
    if taught.shows(held, _luma(held)):
        what = msg(
            "this picture is taught as {words} already: on this card {instead} and {words} "
            "look the same and cannot be told apart",
            words=other.words,
            instead=lesson.words,
        )
        raise BenchFault("capture", what)


def _kept(fixture: Path, held: Held, lesson: Lesson, taught: list[str], shows: str) -> Data:
    name = f"{fixture.stem}-{shows}-{len(taught) + 1}.jpg"
    file = fixture.parent / name
    try:
        file.write_bytes(held.as_jpeg())
    except OSError as fault:
        raise FixtureError(
            str(file), "", msg("cannot be written: {why}", why=str(fault.strerror))
        ) from None
    listed = ", ".join(f'"{held}"' for held in (*taught, name))
    say_line(msg("kept {file}; look at it, then paste under [capture]:", file=str(file)))
    return Data(f"{lesson.key} = [{listed}]")
