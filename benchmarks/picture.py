"""Cost and accuracy of looking at pictures, on labelled clips; run by hand.

python benchmarks/picture.py make FOLDER [PART [ROUNDS [NAME...]]]    write the clips, 15 GB
python benchmarks/picture.py cost FOLDER [NAME...]      CPU time against ffmpeg, one core
python benchmarks/picture.py accuracy FOLDER [PART [NAME...]]         recall, onset, precision
python benchmarks/picture.py clean HOURS [FINE [NAME...]]   false alarms on clean video

PART is tuning or judging, NAME a content; FINE: one picture in so many is seen fully, 0 none.
"""

import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median

import cv2
import imageio_ffmpeg
from picture_accuracy import judge, say, table
from picture_clean import clean
from picture_faults import Plan, make_clips
from picture_sets import CAPTURE_NOISE, JUDGING, STANDING_STILL, TUNING

from soak.desk.picture import Asked, look_at

SIZE = (1920, 1080)
ROUNDS = 3
PARTS = {"tuning": (TUNING, 100), "judging": (JUDGING, 500)}
FILTERS = "blackdetect=d=0.01,freezedetect=d=0.5"


def make(folder: Path, part: str = "", rounds: str = "5", *names: str) -> None:
    """Write the clips of one part, or of all; each holds one fault of each kind."""
    for one, (contents, seed) in PARTS.items():
        if part not in ("", one):
            continue
        (folder / one).mkdir(parents=True, exist_ok=True)
        for number, (name, content) in enumerate(contents.items()):
            if names and name not in names:
                continue
            plans = [Plan((seed, number, turn)) for turn in range(int(rounds))]
            make_clips(folder / one, name, content, SIZE, plans, CAPTURE_NOISE.get(name, 0.0))
            say(f"{one}/{name}")


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


def accuracy(folder: Path, part: str = "", *names: str) -> None:
    """Print what was found of each kind, for each part apart."""
    for one in PARTS:
        if part not in ("", one):
            continue
        clips = sorted((folder / one).glob("*.mjpeg"))
        if names:
            clips = [clip for clip in clips if clip.stem.rsplit("-", 1)[0] in names]
        say(f"{one}: {len(clips)} clips")
        table(judge(clips, STANDING_STILL))


def main() -> None:
    """Run what the command line asks for."""
    cv2.setNumThreads(1)
    what, value = sys.argv[1], sys.argv[2]
    if what == "clean":
        fine_every = int(sys.argv[3]) if sys.argv[3:] else 0
        contents = TUNING | JUDGING
        if sys.argv[4:]:
            contents = {name: one for name, one in contents.items() if name in sys.argv[4:]}
        clean(float(value), fine_every, contents)
    else:
        {"make": make, "cost": cost, "accuracy": accuracy}[what](Path(value), *sys.argv[3:])


if __name__ == "__main__":
    main()
