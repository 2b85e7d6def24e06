"""Learn from a good unit how long what it shows stands still and is black: for its model sheet."""

import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from soak.bench.capture.video_stream import CannotOpen, Stream, open_stream
from soak.bench.drivers.opencv import OpenCvWired
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import fixture_file
from soak.desk.proof.recordings import until_stopped
from soak.errors import BenchFault, FixtureError
from soak.measure.video.rests import ENOUGH_S, TIMES_LONGEST, Rests, rests_of
from soak.measure.video.watcher_settings import WatcherSettings
from soak.quantities import show_duration
from soak.roles import Picture
from soak.settings import checked, read_toml

DO = (
    "Have a good unit show what it shows all night, then press Enter; it is watched for {}, and "
    "Ctrl-C ends that sooner"
)
STANDS_FROM_S = 0.45
"""A shorter still is none: the least that is ever said of a freeze, s. Our own choice."""


def teach_rests(
    bench_path: Path, fixture_name: str, ask: Callable[[str], object], for_s: float
) -> str:
    """Watch a good unit for so long; return the lines to paste into its model sheet.

    Raises
    ------
    FixtureError, BenchFault
        If the fixture wires no capture through OpenCV, or the picture was lost meanwhile.
    """
    file = fixture_file(BenchFolder(bench_path), Path(fixture_name))
    entry = read_toml(file, FixtureError, "fixture file").get("capture")
    if not isinstance(entry, dict) or entry.get("driver") != "opencv":
        what = 'teaching needs a capture with driver = "opencv"; wire one'
        raise FixtureError(str(file), "capture", what)
    wired = checked(OpenCvWired, entry, str(file), error=FixtureError, at="capture")
    try:
        taught = tuple((file.parent / name).read_bytes() for name in wired.taught)
    except OSError as fault:
        what = f"{fault.filename}: cannot be read: {fault.strerror}; teach it again"
        raise FixtureError(str(file), "capture.taught", what) from None
    ask(DO.format(show_duration(for_s)))
    try:
        stream = open_stream(wired.asked())
    except CannotOpen as fault:
        raise BenchFault("capture", str(fault)) from None
    try:
        rests = rests_of(until_stopped(_watched(stream, for_s)), WatcherSettings(taught=taught))
    except ValueError as fault:
        raise FixtureError(str(file), "capture.taught", str(fault)) from None
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


def _told(rests: Rests) -> str:
    if rests.lost or not rests.watched_s:
        what = ", ".join(rests.lost) or "no picture at all"
        told = f"saw {what}: that is no good unit's run; mend that, and teach again"
        raise BenchFault("capture", told)
    watched = show_duration(rests.watched_s)
    still_s, black_s = rests.still_s, rests.black_s
    seen = f"watched for {watched}: it stood still for {still_s:.2f} s at the longest, "
    seen += f"and was black for {black_s:.2f} s"
    lines = [seen]
    if rests.watched_s < ENOUGH_S:
        lines.append(
            f"{watched} is little unless its loop is shorter: a longer still is likely within a "
            f"night, and would count as a loss; watch for {show_duration(ENOUGH_S)}"
        )
    if still_s >= rests.watched_s / 2:
        lines.append("it hardly moved: a freeze of it cannot be told; promise no motion")
    lines.append("paste into the model sheet; a freeze or a black that is shorter cannot be told:")
    sys.stderr.write("\n".join(lines) + "\n")
    found = {"longest_still_s": still_s, "longest_black_s": black_s}
    least = {"longest_still_s": STANDS_FROM_S, "longest_black_s": 0.0}
    said = [
        f'{key} = "{TIMES_LONGEST * seen_s:.1f} s"'
        for key, seen_s in found.items()
        if seen_s > least[key]
    ]
    return "\n".join(said) or "# nothing to say: it never stood still, and was never black"
