"""Teach a card's own no-signal picture, taken through the path that a soak looks through."""

import sys
from collections.abc import Callable
from pathlib import Path

from soak.bench.drivers.opencv import OpenCvWired
from soak.bench.video_stream import CannotOpen, Stream, open_stream
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import fixture_file
from soak.errors import BenchFault, FixtureError
from soak.measure.picture import Held, is_black
from soak.measure.taught import are_alike
from soak.settings import checked, read_toml

SETTLES, COMPARED = 30, 12
"""So many pictures go by before the card has settled; so many must then be alike. Own choice."""


def teach(bench_path: Path, fixture_name: str, ask: Callable[[str], object]) -> str:
    """Keep the card's no-signal picture beside the fixture; return the line to paste.

    Raises
    ------
    FixtureError, BenchFault
        If the fixture wires no capture through OpenCV, or the card delivers nothing steady.
    """
    file = fixture_file(BenchFolder(bench_path), Path(fixture_name))
    data = read_toml(file, FixtureError, "fixture file")
    entry = data.get("capture")
    if not isinstance(entry, dict) or entry.get("driver") != "opencv":
        what = 'teaching needs a capture with driver = "opencv"; wire one'
        raise FixtureError(str(file), "capture", what)
    wired = checked(OpenCvWired, entry, str(file), FixtureError, "capture")
    ask("Pull the picture's plug out of the unit, leave the card plugged in, then press Enter")
    try:
        stream = open_stream(wired.asked())
    except CannotOpen as fault:
        raise BenchFault("capture", str(fault)) from None
    try:
        held = _steady(stream)
    finally:
        stream.close()
    return _kept(file, held, list(wired.taught))


def _steady(stream: Stream) -> Held:
    """Return the picture that the card shows, once it stands still."""
    kept: list[Held] = []
    for number in range(SETTLES + COMPARED):
        frame = stream.read()
        if frame is None:
            what = "the card delivers no picture without a signal: nothing need be taught"
            raise BenchFault("capture", what)
        if number >= SETTLES:
            kept.append(Held(frame.form, frame.size, frame.data.tobytes()))
    first = kept[0].grey()
    if first is None:
        raise BenchFault("capture", "the card delivers damaged pictures; check its cable and port")
    for one in kept[1:]:
        grey = one.grey()
        if grey is None or not are_alike(first, grey):
            what = (
                "the picture does not stand still; if the plug is out the card shows noise, "
                "which cannot be taught"
            )
            raise BenchFault("capture", what)
    if is_black(first, 40.0):
        what = "the card shows plain black without a signal; that is seen untaught, as black"
        raise BenchFault("capture", what)
    return kept[-1]


def _kept(fixture: Path, held: Held, taught: list[str]) -> str:
    name = f"{fixture.stem}-no-signal-{len(taught) + 1}.jpg"
    file = fixture.parent / name
    try:
        file.write_bytes(held.as_jpeg())
    except OSError as fault:
        raise FixtureError(str(file), "", f"cannot be written: {fault.strerror}") from None
    listed = ", ".join(f'"{one}"' for one in (*taught, name))
    sys.stderr.write(f"kept {file}; look at it, then paste under [capture]:\n")
    return f"taught = [{listed}]"
