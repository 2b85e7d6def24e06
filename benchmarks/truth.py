"""Is the grade right, and its reason? Nights whose truth is drawn from their number, and known.

Run: benchmarks/truth.py journal|soaked FROM TO FILE [--jobs 2] plays the nights
FROM to TO - 1 and puts a line for each into FILE; those that are there already are not played
again, so that a range can be broken off, gone on with and put together from several computers.
benchmarks/truth.py table FILE... prints what came of them. `journal` writes a night's records as a
bench would have written them, and judges those; `soaked` simulates the unit and soaks it by the
same runner and checks as a real one.
"""

import argparse
import json
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from true_nights import EXPECTED, STRENGTHS, written_night
from true_soaks import soaked_night

Row = dict[str, Any]
Play = Callable[[int], Row]


def main(words: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("what", choices=("journal", "soaked", "table"))
    parser.add_argument("given", nargs="+")
    parser.add_argument("--jobs", type=int, default=2)
    told = parser.parse_args(words)
    if told.what == "table":
        print("\n".join(table([row for file in told.given for row in rows_of(Path(file))])))
        return 0
    from_, to, file = int(told.given[0]), int(told.given[1]), Path(told.given[2])
    play(written_night if told.what == "journal" else soaked_night, range(from_, to), file, told)
    print("\n".join(table(rows_of(file))))
    return 0


def play(night: Play, seeds: range, file: Path, told: argparse.Namespace) -> None:
    """Play what is not in the file yet, and put it there at once."""
    known = {row["seed"] for row in rows_of(file)}
    open_ = [seed for seed in seeds if seed not in known]
    pool = ProcessPoolExecutor(told.jobs, mp_context=get_context("spawn"))
    with pool, file.open("a", encoding="utf-8") as out:
        for row in pool.map(night, open_, chunksize=4):
            out.write(json.dumps(row) + "\n")
            out.flush()


def rows_of(file: Path) -> list[Row]:
    """Return the nights of a file; its last line may have been cut off."""
    found = []
    for line in file.read_text(encoding="utf-8").splitlines() if file.exists() else ():
        try:
            found.append(json.loads(line))
        except ValueError:
            continue
    return found


def table(rows: Sequence[Row]) -> Iterator[str]:
    """Say what came of nights: by level, kind and strength, each share with its 95 % interval."""
    for level in sorted({row["level"] for row in rows}):
        here = [row for row in rows if row["level"] == level]
        yield f"{level}: {len(here)} nights, seeds {here[0]['seed']} to {here[-1]['seed']}"
        yield "unit's fault   strength   nights  ready  failed  incomplete"
        for kind in EXPECTED:
            for strength in STRENGTHS if kind != "none" else ("",):
                own = [r for r in here if r["kind"] == kind and strength in ("", r["strength"])]
                grades = Counter(r["grade"] for r in own)
                counts = "".join(f"{grades[g]:>9}" for g in ("ready", "failed", "incomplete"))
                yield f"{kind:<14} {strength:<10} {len(own):>6}{counts}"
        yield from _errors(here)
        yield from _bounds(here)


def _errors(rows: Sequence[Row]) -> Iterator[str]:
    good = [row for row in rows if row["kind"] == "none"]
    bad = [row for row in good if row["grade"] == "failed"]
    yield _share("good units failed", bad, good)
    seen = [row for row in rows if row["surely_seen"]]
    yield _share(
        "ready with a fault that was surely seen", [r for r in seen if r["grade"] == "ready"], seen
    )
    failed = [row for row in rows if row["kind"] != "none" and row["grade"] == "failed"]
    first = [row for row in failed if row["first"] in EXPECTED[row["kind"]]]
    yield _share("right reason first", first, failed, told=False)
    for row in failed:
        if row not in first:
            yield f"    seed {row['seed']}: {row['kind']}, {row['strength']}: {row['first']}"


def _bounds(rows: Sequence[Row]) -> Iterator[str]:
    for rule in sorted({rule for row in rows for rule, *_ in row["bounds"]}):
        for size in (1, 2, 5, 10):
            told = [(r, b) for r in rows for b in r["bounds"] if b[0] == rule and r["bout"] == size]
            held = [row for row, (_, truth, high) in told if high is None or truth <= high]
            said = sum(high is not None for _, (_, _, high) in told)
            if told:
                name = f"bound of {rule!r} not wrong, bouts of {size} ({said} printed)"
                yield _share(name, held, [row for row, _ in told], told=False)


def _share(what: str, some: Sequence[Row], all_: Sequence[Row], *, told: bool = True) -> str:
    from scipy.stats import binomtest

    if not all_:
        return f"{what}: no such night"
    low, high = binomtest(len(some), len(all_)).proportion_ci(0.95)
    which = ", ".join(str(row["seed"]) for row in some[:8]) if told else ""
    return (
        f"{what}: {len(some)} of {len(all_)} ({len(some) / len(all_):.4f}, 95 % interval "
        f"{low:.4f} to {high:.4f}){f'; seeds {which}' if which else ''}"
    )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
