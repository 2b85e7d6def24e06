"""How well does the picture check see what nobody here has labelled? Make the set, look, print.

benchmarks/judge_pictures.py make-and-look --range 0 900 --out DIR [--some N] [--jobs 2]
makes the clips FROM to TO - 1 one by one, has the program look at each, and puts a line for each
into DIR; with --clean those without any fault, --range 0 1440. What is there already is not made
again: a range can be broken off and gone on with. The first N of a range are a balanced sample.
benchmarks/judge_pictures.py table DIR prints what came of them, `marks --range 0 900` how the
faults are marked, without a look. What the set holds, and by which rules it marks its faults, is
told in benchmarks/judging/__init__.py and decidable.py.
"""

import argparse
import json
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
import cv2
from judging.clips import Clip, clean_clip, faulty_clip, uses_of
from judging.design import Setting
from judging.looking import FINE_EVERY, looks, settings_for
from judging.table import marked, rows_of, table


def main(words: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parts = parser.add_subparsers(dest="what", required=True)
    make = parts.add_parser("make-and-look", help="make clips and look at them")
    make.add_argument("--range", nargs=2, type=int, required=True, metavar=("FROM", "TO"))
    make.add_argument("--out", type=Path, required=True)
    make.add_argument("--clean", action="store_true", help="clips of 20 s without any fault")
    make.add_argument("--some", type=int, help="the first so many of the range: a balanced sample")
    make.add_argument("--jobs", type=int, default=2)
    marks = parts.add_parser("marks", help="print how the faults of a range are marked")
    marks.add_argument("--range", nargs=2, type=int, required=True, metavar=("FROM", "TO"))
    show = parts.add_parser("table", help="print the table of a folder")
    show.add_argument("folder", type=Path)
    told = parser.parse_args(words)
    if told.what == "marks":
        labels = [faulty_clip(seed).label() for seed in range(*told.range)]
        print("\n".join(marked(labels)))
        return 0
    if told.what == "make-and-look":
        make_and_look(told)
    folder = told.out if told.what == "make-and-look" else told.folder
    print("\n".join(table(rows_of(folder / "faulty.jsonl"), rows_of(folder / "clean.jsonl"))))
    return 0


def make_and_look(told: argparse.Namespace) -> None:
    """Make what is not in the folder yet, and put it there at once."""
    told.out.mkdir(parents=True, exist_ok=True)
    file = told.out / ("clean.jsonl" if told.clean else "faulty.jsonl")
    known = {row["seed"] for row in rows_of(file)}
    from_, to = told.range
    to = min(to, from_ + told.some) if told.some else to
    open_ = [seed for seed in range(from_, to) if seed not in known]
    one = looked_clean if told.clean else looked_faulty
    pool = ProcessPoolExecutor(told.jobs, mp_context=get_context("spawn"))
    with pool, file.open("a", encoding="utf-8") as out:
        for done in as_completed([pool.submit(one, seed) for seed in open_]):
            out.write(json.dumps(done.result()) + "\n")
            out.flush()


def looked_faulty(seed: int) -> dict[str, Any]:
    """Make one clip with faults, and look at it with and without the fine check."""
    cv2.setNumThreads(1)
    began_s = time.process_time()
    clip = faulty_clip(seed)
    seen = _looks(clip, uses_of(clip)[:1])
    return {**clip.label(), "looks": seen, "made_in_s": time.process_time() - began_s}


def looked_clean(seed: int) -> dict[str, Any]:
    """Make a clean clip, and look at it in each of its uses."""
    cv2.setNumThreads(1)
    began_s = time.process_time()
    clip = clean_clip(seed)
    seen = _looks(clip, uses_of(clip))
    return {**clip.label(), "looks": seen, "made_in_s": time.process_time() - began_s}


def _looks(clip: Clip, uses: Sequence[Setting]) -> list[dict[str, Any]]:
    size = clip.setting.size
    asked = [
        (use, fine, settings_for(clip.told, size, clip.taught, fine))
        for use in range(len(uses))
        for fine in FINE_EVERY
    ]
    settings = [(use, one) for use, _, one in asked]
    seen = looks(clip.in_ways(uses), settings, clip.setting.rate_hz)
    return [
        {
            "fine": fine,
            "coding": uses[use].coding,
            "noise": uses[use].noise,
            "rows": list(one.rows),
            "cpu_s": one.cpu_s,
        }
        for (use, fine, _), one in zip(asked, seen, strict=True)
    ]


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
