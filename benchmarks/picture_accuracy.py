"""What was found of each kind on labelled clips: recall, precision, onset, with their intervals."""

import csv
import sys
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from picture_faults import KINDS
from scipy.stats import binomtest

from soak.desk.proof.recordings import Asked, look_at

ONSET = dict.fromkeys(KINDS, 1) | {"nosignal": 4}
"""Frames by which a beginning may be off."""
Row = tuple[int, int, str]


@dataclass
class Kind:
    """What happened to the faults of one kind.

    Attributes
    ----------
    onsets, ends : list of int
        By how many frames the beginning and end of each fault found are late.
    pieces : int
        Rows that are one fault's but not its first.
    false : int
        Rows that touch no fault of their kind.
    """

    there: int = 0
    found: int = 0
    onsets: list[int] = field(default_factory=list)
    ends: list[int] = field(default_factory=list)
    pieces: int = 0
    false: int = 0


def labels_of(clip: Path) -> list[Row]:
    """Return first and last frame and kind of each fault."""
    with clip.with_suffix(".labels.csv").open() as table:
        return [(int(first), int(last), kind) for first, last, kind in csv.reader(table)]


def judge(clips: Iterable[Path], unseen: Sequence[str] = ()) -> dict[str, Kind]:
    """Look through clips and compare with their labels.

    `unseen` names contents that stand still by themselves: a freeze in them counts neither way.
    """
    found: dict[str, Kind] = defaultdict(Kind)
    for clip in clips:
        rows = [(first, last, kind) for _, first, last, kind in look_at(str(clip), Asked()).rows()]
        labels = labels_of(clip)
        if clip.stem.rsplit("-", 1)[0] in unseen:
            hidden = [label for label in labels if label[2] == "freeze"]
            labels = [label for label in labels if label not in hidden]
            rows = [row for row in rows if not any(touches(row, label) for label in hidden)]
        compare(clip.stem, rows, labels, found)
    return found


def touches(row: Row, label: Row) -> bool:
    """Tell whether a row is of the label's kind and meets it, or lies directly beside it."""
    return row[2] == label[2] and row[0] <= label[1] + 1 and row[1] >= label[0] - 1


def compare(name: str, rows: list[Row], labels: list[Row], found: dict[str, Kind]) -> None:
    """Count what was found in one clip and say what was not."""
    left = list(rows)
    for label in labels:
        kind = found[label[2]]
        hits = [row for row in left if touches(row, label)]
        left = [row for row in left if row not in hits]
        kind.there += 1
        if not hits:
            say(f"  missed: {name} {label}")
            continue
        kind.found += 1
        kind.pieces += len(hits) - 1
        kind.onsets.append(hits[0][0] - label[0])
        kind.ends.append(hits[-1][1] - label[1])
        if abs(kind.onsets[-1]) > ONSET[label[2]] or abs(kind.ends[-1]) > 12 or len(hits) > 1:
            say(f"  off: {name} {label} {hits}")
    for row in left:
        found[row[2]].false += 1
        say(f"  false: {name} {row}")


def table(found: dict[str, Kind]) -> None:
    """Print it, with exact (Clopper-Pearson) 95 % intervals."""
    heads = ("found", "recall %", "", "right %", "", "onset %", "late by", "pieces", "false")
    say(f"{'kind':<12}" + "".join(f"{head:>10}" for head in heads))
    for name in KINDS:
        kind = found[name]
        if not kind.there:
            continue
        right = sum(abs(late) <= ONSET[name] for late in kind.onsets)
        worst = max(kind.onsets, key=abs, default=0)
        cells = (
            f"{kind.found}/{kind.there}",
            *shares(kind.found, kind.there),
            *shares(kind.found, kind.found + kind.false),
            f"{100 * right / max(kind.found, 1):.1f}",
            f"{worst}",
            f"{kind.pieces}",
            f"{kind.false}",
        )
        say(f"{name:<12}" + "".join(f"{cell:>10}" for cell in cells))
    right = sum(one.found for one in found.values())
    false = sum(one.false for one in found.values())
    say(f"precision, all kinds: {right}/{right + false}, " + " ".join(shares(right, right + false)))


def shares(some: int, every: int) -> tuple[str, str]:
    """Return a share and its interval, per cent."""
    if not every:
        return "-", "-"
    ends = binomtest(some, every).proportion_ci(0.95, "exact")
    return f"{100 * some / every:.1f}", f"{100 * ends.low:.0f}-{100 * ends.high:.0f}"


def say(line: str) -> None:
    """Print at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()
