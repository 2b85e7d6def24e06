"""Cost and accuracy of looking at pictures, on labelled clips; run by hand.

python benchmarks/picture.py make FOLDER      write the clips in three parts, 4 GB
python benchmarks/picture.py cost FOLDER      CPU time against ffmpeg, one core, medians of 3
python benchmarks/picture.py accuracy FOLDER  recall, onset, precision
python benchmarks/picture.py clean HOURS      false alarms on clean video made on the fly
"""

import csv
import os
import resource
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from statistics import median

import cv2
import imageio_ffmpeg
import numpy as np
from picture_contents import HELD_BACK, JUDGING, TUNING, dimmed, noisy
from picture_faults import KINDS, make_clip

from soak.desk.picture import Asked, look_at
from soak.measure.looker import LookerSettings
from soak.measure.lookthrough import look_over
from soak.roles import Picture

SIZE = (1920, 1080)
ROUNDS = 3
VARIANTS = (
    ((1.0, 0, 0.0), (0.8, 10, 2.0), (0.35, 14, 1.0), (1.15, 0, 4.0)),
    ((0.6, 5, 3.0), (0.5, 40, 0.0), (1.0, 0, 1.0), (0.25, 20, 2.0)),
)
"""Gain, lift and noise of the clean video, in two parts."""
SECONDS = 10
ONSET = dict.fromkeys(KINDS, 1) | {"nosignal": 4}
PARTS = {"tuning": (TUNING, 100), "judging": (JUDGING, 500), "held back": (HELD_BACK, 900)}
FILTERS = "blackdetect=d=0.01,freezedetect=d=0.5"


def make(folder: Path) -> None:
    """Write the clips of both parts; each holds one fault of each kind."""
    for part, (contents, seed) in PARTS.items():
        (folder / part).mkdir(parents=True, exist_ok=True)
        for number, (name, content) in enumerate(contents.items()):
            make_clip(folder / part, name, content, SIZE, seed + number, list(KINDS))
            say(f"{part}/{name}")


def cost(folder: Path, *names: str) -> None:
    """Print CPU ms a picture: the looker without and with fine faults, and ffmpeg."""
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    columns = ("looker", "fine", "ffmpeg", "1/8", "ratio", "to 1/8", "streams")
    say(f"{'clip':<22}" + "".join(f"{column:>9}" for column in columns))
    ratios, eighths = [], []
    clips = sorted(folder.glob("judging/*.mjpeg"))
    for clip in (one for one in clips if not names or one.stem in names):
        pictures = look_at(str(clip), Asked(fine_every=0)).look.pictures
        looker = median_ms(partial(looking, clip, 0), pictures)
        fine = median_ms(partial(looking, clip, 4), pictures)
        whole = median_ms(partial(filtering, clip, []), pictures)
        eighth = median_ms(partial(filtering, clip, ["-lowres", "3"]), pictures)
        ratios.append(whole / looker)
        eighths.append(eighth / looker)
        figures = (looker, fine, whole, eighth, ratios[-1], eighths[-1], 1000 / 60 / looker)
        say(f"{clip.stem:<22}" + "".join(f"{figure:>9.2f}" for figure in figures))
    say(f"ratio: least {min(ratios):.1f}, median {median(ratios):.1f}")
    say(f"to 1/8 decode: least {min(eighths):.1f}, median {median(eighths):.1f}")


def median_ms(run: Callable[[], float], pictures: int) -> float:
    """Return the median CPU time of a picture, ms."""
    return median(run() for _ in range(ROUNDS)) * 1000 / pictures


def looking(clip: Path, every: int) -> float:
    """Return the CPU time of looking through a clip, s."""
    began_s = time.process_time()
    look_at(str(clip), Asked(fine_every=every))
    return time.process_time() - began_s


def filtering(clip: Path, before: list[str]) -> float:
    """Return the CPU time of ffmpeg's black and freeze filters, s."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-threads", "1", *before]
    command += ["-f", "mjpeg", "-framerate", "60", "-i", str(clip), "-vf", FILTERS]
    command += ["-filter_threads", "1", "-f", "null", "-"]
    was = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, capture_output=True)
    now = resource.getrusage(resource.RUSAGE_CHILDREN)
    return now.ru_utime + now.ru_stime - was.ru_utime - was.ru_stime


def accuracy(folder: Path) -> None:
    """Print what was found of each kind, for both parts apart."""
    for part in PARTS:
        found: Counter[tuple[str, str]] = Counter()
        for clip in sorted((folder / part).glob("*.mjpeg")):
            tally(clip, found)
        say(f"\n{part}: {'kind':<12}{'there':>7}{'found':>7}{'onset':>7}{'false':>7}")
        for kind in KINDS:
            numbers = "".join(
                f"{found[kind, what]:>7}" for what in ("there", "found", "onset", "false")
            )
            say(f"{'':<{len(part) + 2}}{kind:<12}{numbers}")


def tally(clip: Path, found: Counter[tuple[str, str]]) -> None:
    """Count what was found in one clip; a label is met by a row of its kind that touches it."""
    with clip.with_suffix(".labels.csv").open() as table:
        labels = [(int(first), int(last), kind) for first, last, kind in csv.reader(table)]
    rows = [row[1:] for row in look_at(str(clip), Asked()).rows()]
    met: set[int] = set()
    for first, last, kind in labels:
        hits = [
            at
            for at, row in enumerate(rows)
            if row[2] == kind and row[0] <= last + 1 and row[1] >= first - 1
        ]
        met.update(hits)
        found[kind, "there"] += 1
        found[kind, "found"] += bool(hits)
        found[kind, "onset"] += bool(hits) and abs(rows[hits[0]][0] - first) <= ONSET[kind]
        if not hits:
            say(f"  missed: {clip.stem} {first}-{last} {kind}")
    for at, row in enumerate(rows):
        if at not in met:
            found[row[2], "false"] += 1
            say(f"  false: {clip.stem} {row}")


def clean(hours: float, fine_every: int = 0, part: int = 0) -> None:
    """Print every alarm on clean video: each content, bright and dark, clean and noisy, looped."""
    made = list(variants(part))
    times = max(1, round(hours * 3600 / (SECONDS * len(made))))
    alarms: Counter[str] = Counter()
    looked_s = 0.0
    for name, frames in made:
        packets = packets_of(frames)
        look = look_over(
            looped(packets, times), LookerSettings(moving=True, fine_every=fine_every), 1 / 60
        )
        looked_s += look.pictures / 60
        for span in (*look.spans, *look.faults):
            if span.kind != "picture":
                alarms[span.kind] += 1
                if alarms[span.kind] <= 20:
                    say(f"  {name}: {span.kind} from {span.from_s:.2f} s for {span.seconds:.2f} s")
        say(f"{name}: {looked_s / 3600:.2f} h so far, alarms {dict(alarms)}")
    dropouts = sum(
        alarms[kind] for kind in ("black", "no signal", "frozen", "stalled", "other size")
    )
    played = f"{len(made)} clips of {SECONDS} s, each {times} times"
    say(f"{played}: {looked_s / 3600:.2f} h; {dict(alarms)}")
    say(f"false dropouts in 8 h: {dropouts / looked_s * 8 * 3600:.2f}")


def variants(part: int) -> Iterator[tuple[str, Iterator[np.ndarray]]]:
    """Yield every content in several variants, small, so that hours can be looked through."""
    small = (480, 270)
    for gain, lift, sigma in VARIANTS[part]:
        for name, content in (TUNING | JUDGING).items():
            changed = dimmed(content, gain, lift) if gain != 1.0 else content
            changed = noisy(changed, sigma, 31) if sigma else changed
            yield f"{name} x{gain} +{lift} noise {sigma}", changed(small)


def packets_of(frames: Iterator[np.ndarray]) -> list[bytes]:
    """Return a piece of a content as JPEG packets."""
    quality = [cv2.IMWRITE_JPEG_QUALITY, 85]
    kept = [cv2.imencode(".jpg", next(frames), quality)[1].tobytes() for _ in range(60 * SECONDS)]
    frames.close()  # type: ignore[attr-defined]  # a generator, typed as iterator
    return kept


def looped(packets: list[bytes], times: int) -> Iterator[Picture]:
    """Play packets forwards and backwards at 60 a second."""
    number = 0
    for turn in range(times):
        for packet in packets if turn % 2 == 0 else reversed(packets):
            yield Picture(number / 60, number, "mjpeg", (480, 270), memoryview(packet))
            number += 1


def say(line: str) -> None:
    """Print at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> None:
    """Run what the command line asks for."""
    cv2.setNumThreads(1)
    what, value = sys.argv[1], sys.argv[2]
    if what == "clean":
        clean(float(value), *map(int, sys.argv[3:]))
    else:
        {"make": make, "cost": cost, "accuracy": accuracy}[what](Path(value), *sys.argv[3:])


if __name__ == "__main__":
    main()
