"""Coded clips: make one for a stick, read one off a recording, watch one in a soak."""

import json
from dataclasses import asdict
from pathlib import Path

from soak.bench.capture.video_stream import CannotOpen, pictures_of
from soak.errors import UsageError, told_of
from soak.measure.video.coded_picture import read
from soak.measure.video.coded_run import CodedRun, Told
from soak.measure.video.coded_watcher import Both, CodedWatcher, decoded
from soak.measure.video.coded_writer import write_clip
from soak.pasting import remark
from soak.roles import Watcher
from soak.run.script import Script
from soak.words import Data, Message, Number, Output, Percent, joined, lines_of, msg

_CHECK = "coded_clip"


def make(
    file: str, *, seconds: float, size: str, rate_hz: float, clip: int, encoder: str
) -> Message:
    """Write a coded clip; return what to put into a script.

    Raises
    ------
    UsageError
        If a value makes no sense or the file cannot be written.
    """
    width, height = _size(size)
    if not 1 <= rate_hz <= 120 or not 2 / rate_hz <= seconds <= 7200 or not 0 <= clip <= 255:
        raise UsageError(
            msg("give 1 to 120 pictures/s, at most 7200 s, and a clip number 0 to 255")
        )
    if encoder not in ("plain", "h264"):
        raise UsageError(msg("--encoder {encoder}: there is plain and h264", encoder=encoder))
    frames = round(seconds * rate_hz)
    write_clip(Path(file), clip, (width, height), rate_hz=rate_hz, frames=frames, encoder=encoder)
    made = msg(
        "{file}: {frames} frames, {seconds} s, clip {clip}",
        file=file,
        frames=frames,
        seconds=Number(seconds, "g"),
        clip=clip,
    )
    to_do = msg(
        "Copy it to the stick, let the unit play it round and round, and put into the script:"
    )
    port = joined("  ", ['port = "usb1"', remark(msg("the port the stick is in"))])
    return lines_of([made, to_do, "[stretch.coded_clip]", f"frames = {frames}", port])


def read_back(file: str, frames: int, *, as_json: bool) -> Output:
    """Read a recording of a coded clip; return what came.

    Raises
    ------
    UsageError
        If it is no video, or holds no coded picture.
    """
    if frames < 2:
        raise UsageError(
            msg("--frames {frames}: give the number that `soak clip make` said", frames=frames)
        )
    run = CodedRun(frames)
    try:
        for picture in pictures_of(file):
            image = decoded(picture)
            run.take(None if image is None else read(image))
    except CannotOpen as fault:
        raise UsageError(told_of(fault)) from None
    text = run.told()
    if as_json:
        return Data(json.dumps(asdict(text), indent=2))
    if not text.came:
        raise UsageError(msg("{file}: holds no coded picture that can be read", file=file))
    return in_words(text)


def in_words(told: Told) -> Message:
    """Say what came of a clip."""
    blue, green, red = map(Percent, told.colour_error)
    return lines_of(
        [
            msg(
                "{came} of {due} frames came; longest unbroken run {longest}",
                came=told.came,
                due=told.due,
                longest=told.longest_run,
            ),
            msg(
                "lost {lost}, stood too long {stood}, out of order {order}, pictures that could "
                "not be read {unread}, rounds {rounds}",
                lost=told.lost,
                stood=told.stuttered,
                order=told.out_of_order,
                unread=told.unread,
                rounds=told.rounds,
            ),
            msg(
                "largest colour error: blue {blue}, green {green}, red {red}",
                blue=blue,
                green=green,
                red=red,
            ),
        ]
    )


def with_clip(watcher: Watcher | None, script: Script) -> Watcher | None:
    """Let the capture read the clip too, where a script asks for it."""
    asked = [s.checks[_CHECK] for s in script.stretches if _CHECK in s.checks]
    if watcher is None or not asked:
        return watcher
    return Both(watcher, CodedWatcher(int(getattr(asked[0], "frames", 2))))


def _size(text: str) -> tuple[int, int]:
    width, x, height = text.lower().partition("x")
    try:
        size = int(width), int(height)
    except ValueError:
        size = (0, 0)
    if not x or size[0] < 320 or size[1] < 180 or size[0] % 2 or size[1] % 2:
        raise UsageError(
            msg("--size {text}: write it like 1280x720, even, at least 320x180", text=text)
        )
    return size
