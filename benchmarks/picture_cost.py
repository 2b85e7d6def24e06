"""CPU time for one picture against ffmpeg's black and freeze filters, and what those find."""

import os
import re
import resource
import subprocess
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median

import imageio_ffmpeg
from picture_accuracy import Kind, Row, compare, labels_of, say, table

from soak.bench.capture.packet_file import open_packet_file
from soak.desk.proof.recordings import Asked, look_at

RATE_HZ = 60
FILTERS = "blackdetect=d=0.01,freezedetect=d=0.45"
"""The shortest they take; thresholds as ffmpeg has them."""
_BLACK = re.compile(r"black_start:([\d.]+) black_end:([\d.]+)")
_FREEZE = re.compile(r"freeze_(start|end): ([\d.]+)")


def cost(folder: Path, rounds: str = "3", *names: str) -> None:
    """Print CPU ms a picture, one clip of each content: watcher, with fine faults, and ffmpeg."""
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    columns = ("watcher", "fine", "ffmpeg", "1/8", "ratio", "to 1/8", "streams")
    say(f"{'clip':<22}" + "".join(f"{column:>9}" for column in columns))
    rows: list[tuple[float, ...]] = []
    found: dict[str, Kind] = defaultdict(Kind)
    for clip in sorted(folder.glob("judging/*-0.mjpeg")):
        name = clip.stem.rsplit("-", 1)[0]
        if names and name not in names:
            continue
        rows.append(_costs(clip, int(rounds), found))
        say(f"{name:<22}" + "".join(f"{figure:>9.2f}" for figure in rows[-1]))
    for at, column in ((4, "ratio"), (5, "to 1/8"), (6, "streams of 1080p60 a core")):
        each = [row[at] for row in rows]
        say(f"{column}: least {min(each):.1f}, median {median(each):.1f}")
    say("black and freeze as ffmpeg's filters find them in the same clips:")
    table(found)


def _costs(clip: Path, rounds: int, found: dict[str, Kind]) -> tuple[float, ...]:
    packets = list(open_packet_file(clip).pictures())
    with tempfile.NamedTemporaryFile(suffix=".mjpeg") as straight:
        for packet in packets:
            straight.write(packet.data)
        straight.flush()

        def median_ms(run: Callable[[], float], times: int) -> float:
            return median(run() for _ in range(times)) * 1000 / len(packets)

        watcher = median_ms(partial(_looking, clip, 0), rounds)
        fine = median_ms(partial(_looking, clip, 8), 1)
        said: list[str] = []
        whole = median_ms(partial(_filtering, straight.name, [], said), rounds)
        eighth = median_ms(partial(_filtering, straight.name, ["-lowres", "3"], []), rounds)
    labels = [label for label in labels_of(clip) if label[2] in ("black", "freeze")]
    compare(f"ffmpeg {clip.stem}", _rows(said[-1]), labels, found)
    return watcher, fine, whole, eighth, whole / watcher, eighth / watcher, 1000 / RATE_HZ / watcher


def _looking(clip: Path, every: int) -> float:
    """Return the CPU time of looking through a clip, s."""
    began_s = time.process_time()
    look_at(str(clip), Asked(fine_every=every))
    return time.process_time() - began_s


def _filtering(file: str, before: list[str], said: list[str]) -> float:
    """Return the CPU time of ffmpeg's filters, s; put what they say into `said`."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-nostats", "-threads", "1", *before]
    command += ["-f", "mjpeg", "-framerate", str(RATE_HZ), "-i", file, "-vf", FILTERS]
    command += ["-filter_threads", "1", "-f", "null", "-"]
    was = resource.getrusage(resource.RUSAGE_CHILDREN)
    ran = subprocess.run(command, check=True, capture_output=True, text=True)
    now = resource.getrusage(resource.RUSAGE_CHILDREN)
    said.append(ran.stderr)
    return now.ru_utime + now.ru_stime - was.ru_utime - was.ru_stime


def _rows(said: str) -> list[Row]:
    """Return what ffmpeg's filters say as first and last frame and kind."""
    rows = [(_frame(first), _frame(end) - 1, "black") for first, end in _BLACK.findall(said)]
    began: int | None = None
    for which, at_s in _FREEZE.findall(said):
        if which == "start":
            began = _frame(at_s)
        elif began is not None:
            rows.append((began, _frame(at_s) - 1, "freeze"))
    return rows


def _frame(at_s: str) -> int:
    return round(float(at_s) * RATE_HZ)
