"""Learn from a good unit how long what it shows stands still and is black: for its model sheet."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path

from soak.bench.capture.video_stream import CannotOpen, Stream, open_stream
from soak.bench.drivers.opencv import OpenCvWired
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import fixture_file
from soak.desk.proof.recordings import until_stopped
from soak.errors import BenchFault, FixtureError, told_of
from soak.live.lines import say_line
from soak.measure.video.rests import ENOUGH_S, TIMES_LONGEST, Rests, rests_of
from soak.measure.video.watcher_settings import WatcherSettings
from soak.outside import read_bytes
from soak.pasting import remark
from soak.roles import Picture
from soak.settings import checked, read_toml
from soak.words import Amount, Message, Number, joined, lines_of, msg

STANDS_FROM_S = 0.45
"""A shorter still is none: the least that is ever said of a freeze, s. Our own choice."""


def teach_rests(
    bench_path: Path, fixture_name: str, ask: Callable[[Message], object], for_s: float
) -> Message:
    """Watch a good unit for so long; return the lines to paste into its model sheet.

    Raises
    ------
    FixtureError, BenchFault
        If the fixture wires no capture through OpenCV, or the picture was lost meanwhile.
    """
    file = fixture_file(BenchFolder(bench_path), Path(fixture_name))
    entry = read_toml(file, FixtureError, msg("fixture file")).get("capture")
    if not isinstance(entry, dict) or entry.get("driver") != "opencv":
        what = msg('teaching needs a capture with driver = "opencv"; wire one')
        raise FixtureError(str(file), "capture", what)
    wired = checked(OpenCvWired, entry, str(file), error=FixtureError, at="capture")
    try:
        taught = tuple(read_bytes(file.parent / name) for name in wired.taught)
    except OSError as fault:
        what = msg(
            "{file}: cannot be read: {why}; teach it again",
            file=str(fault.filename),
            why=str(fault.strerror),
        )
        raise FixtureError(str(file), "capture.taught", what) from None
    ask(
        msg(
            "Have a good unit show what it shows all night, then press Enter; it is watched for "
            "{time}, and Ctrl-C ends that sooner",
            time=Amount(for_s, "s"),
        )
    )
    try:
        stream = open_stream(wired.asked())
    except CannotOpen as fault:
        raise BenchFault("capture", told_of(fault)) from None
    try:
        rests = rests_of(until_stopped(_watched(stream, for_s)), WatcherSettings(taught=taught))
    except ValueError as fault:
        raise FixtureError(str(file), "capture.taught", told_of(fault)) from None
    finally:
        stream.close()
    return _told(rests)


def _watched(stream: Stream, for_s: float) -> Iterator[Picture]:
    """Yield the stream's pictures for so long, or until it ends."""
    began_s: float | None = None
    number = 0
    while (frame := stream.read()) is not None:
        now_s = time.monotonic() - (frame.age_s or 0.0)
        t_s = now_s if frame.stamp_s is None else frame.stamp_s
        began_s = t_s if began_s is None else began_s
        if t_s - began_s >= for_s:
            return
        yield frame.picture(t_s - began_s, number)
        number += 1


def _told(rests: Rests) -> Message:
    if rests.lost or not rests.watched_s:
        what = joined(", ", rests.lost) if rests.lost else msg("no picture at all")
        text = msg("saw {what}: that is no good unit's run; mend that, and teach again", what=what)
        raise BenchFault("capture", text)
    for line in _in_words(rests):
        say_line(line)
    rests_s = {"longest_still_s": rests.still_s, "longest_black_s": rests.black_s}
    least = {"longest_still_s": STANDS_FROM_S, "longest_black_s": 0.0}
    said = [
        f'{key} = "{TIMES_LONGEST * seen_s:.1f} s"'
        for key, seen_s in rests_s.items()
        if seen_s > least[key]
    ]
    nothing = remark(msg("nothing to say: it never stood still, and was never black"))
    return lines_of(said) if said else nothing


def _in_words(rests: Rests) -> Iterator[Message]:
    watched = Amount(rests.watched_s, "s")
    yield msg(
        "watched for {time}: it stood still for {still} s at the longest, and was black for "
        "{black} s",
        time=watched,
        still=Number(rests.still_s, ".2f"),
        black=Number(rests.black_s, ".2f"),
    )
    if rests.watched_s < ENOUGH_S:
        yield msg(
            "{time} is little unless its loop is shorter: a longer still is likely within a "
            "night, and would count as a loss; watch for {enough}",
            time=watched,
            enough=Amount(ENOUGH_S, "s"),
        )
    if rests.still_s >= rests.watched_s / 2:
        yield msg("it hardly moved: a freeze of it cannot be told; promise no motion")
    yield msg("paste into the model sheet; a freeze or a black that is shorter cannot be told:")
