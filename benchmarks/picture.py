"""Cost and accuracy of looking at pictures, on labelled clips; run by hand.

python benchmarks/picture.py make FOLDER [PART [ROUNDS [NAME...]]]    write the clips, 15 GB
python benchmarks/picture.py cost FOLDER [ROUNDS [NAME...]]   CPU time against ffmpeg, one core
python benchmarks/picture.py accuracy FOLDER [PART [NAME...]]         recall, onset, precision
python benchmarks/picture.py clean HOURS [FINE [NAME...]]   false alarms on clean video

PART is tuning or judging, NAME a content; FINE: one picture in so many is seen fully, 0 none.
"""

import sys
from pathlib import Path

import cv2
from picture_accuracy import judge, say, table
from picture_clean import clean
from picture_cost import cost
from picture_faults import Plan, make_clips
from picture_sets import CAPTURE_NOISE, JUDGING, STANDING_STILL, TUNING

SIZE = (1920, 1080)
PARTS = {"tuning": (TUNING, 100), "judging": (JUDGING, 500)}


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
