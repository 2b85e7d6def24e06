"""The table: what is missed, what is called falsely, how late, and what it costs."""

import json
import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from statistics import median
from typing import Any

from judging.design import SIZES
from judging.faults import KINDS
from judging.scoring import (
    DROPOUTS,
    FINE,
    Called,
    Tried,
    rate_bound,
    share_bounds,
    tried,
    wrong_calls,
)

Row = dict[str, Any]
_WORST = 12


def rows_of(file: Path) -> list[Row]:
    """Return the clips of a file by their number; its last line may have been cut off."""
    found = {}
    for line in file.read_text(encoding="utf-8").splitlines() if file.exists() else ():
        try:
            row = json.loads(line)
        except ValueError:
            continue
        found[row["seed"]] = row
    return [found[seed] for seed in sorted(found)]


def table(faulty: Sequence[Row], clean: Sequence[Row]) -> Iterator[str]:
    """Yield the lines of the table, as markdown."""
    yield f"{len(faulty)} clips with faults, {len(clean)} clean clips."
    for fine in (8, 0):
        tries = [one for clip in faulty for look in _of(clip, fine) for one in tried(clip, look)]
        kinds = KINDS if fine else DROPOUTS
        yield ""
        yield f"## Found, {'one picture in 8 seen fully' if fine else 'without the fine check'}"
        yield ""
        yield from _recall([one for one in tries if one.kind in kinds], kinds, by_size=bool(fine))
        if fine:
            yield from _by_form([one for one in tries if one.asked])
    yield from marked(faulty)
    yield from _false(faulty, clean)
    yield from _cost([*faulty, *clean])


def _of(clip: Row, fine: int) -> list[Row]:
    return [look for look in clip["looks"] if look["fine"] == fine]


def _recall(tries: Sequence[Tried], kinds: Sequence[str], *, by_size: bool) -> Iterator[str]:
    heads = ("kind", "size", "asked: found of", "recall, % (95 %)", "smaller: found of")
    yield f"| {' | '.join(heads)} | onset off by, median and in 95 %, pictures |"
    yield "|---|---|---|---|---|---|"
    for kind in kinds:
        for size in (*SIZES, None) if by_size else (None,):
            these = [one for one in tries if one.kind == kind and size in (None, one.size)]
            told = "all" if size is None else f"{size[0]}x{size[1]}"
            yield _recall_line(f"| {kind} | {told} |", these)
        big = [one for one in tries if one.kind == kind and one.size != SIZES[0]]
        yield _recall_line(f"| {kind} | 720p and above |", big)


def _recall_line(start: str, these: Sequence[Tried]) -> str:
    asked = [one for one in these if one.asked]
    small = [one for one in these if not one.asked]
    found = sum(one.onset is not None for one in asked)
    low, high = share_bounds(found, len(asked))
    share = f"{100 * found / len(asked):.1f} ({100 * low:.1f}-{100 * high:.1f})" if asked else "-"
    smaller = f"{sum(one.onset is not None for one in small)} of {len(small)}" if small else "-"
    late = sorted(abs(one.onset) for one in these if one.onset is not None)
    onset = f"{median(late):g}, {late[math.ceil(0.95 * len(late)) - 1]}" if late else "-"
    return f"{start} {found} of {len(asked)} | {share} | {smaller} | {onset} |"


def _by_form(tries: Sequence[Tried]) -> Iterator[str]:
    parts: list[tuple[str, Callable[[Tried], str]]] = [
        ("form", lambda one: f"{one.kind} {one.form}".strip()),
        ("place of tint and sparkle", lambda one: f"{one.kind} {one.place}"),
        ("noise", lambda one: f"{one.kind}, noise {one.noise}"),
    ]
    for name, key in parts:
        yield ""
        yield f"| {name} | found of | recall, % |"
        yield "|---|---|---|"
        there = Counter(key(one) for one in tries)
        found = Counter(key(one) for one in tries if one.onset is not None)
        for told, count in sorted(
            there.items(), key=lambda pair: (found[pair[0]] / pair[1], pair[0])
        ):
            if name == "noise" and found[told] == count:
                continue  # the list is long, and these say nothing
            if name != "place of tint and sparkle" or told.startswith(("tint", "sparkle")):
                yield f"| {told} | {found[told]} of {count} | {100 * found[told] / count:.0f} |"


def marked(faulty: Sequence[Row]) -> Iterator[str]:
    """Yield how the faults of clips are marked, as markdown."""
    faults = [fault for clip in faulty for fault in clip["faults"]]
    yield ""
    yield "## Put in, and marked beforehand as undecidable"
    yield ""
    yield "| kind | put in | decidable | asked | why not |"
    yield "|---|---|---|---|---|"
    for kind in KINDS:
        these = [fault for fault in faults if fault["kind"] == kind]
        why = Counter(fault["why"] for fault in these if fault["why"]).most_common()
        told = "; ".join(f"{reason} {count}" for reason, count in why) or "-"
        able = [fault for fault in these if fault["decidable"]]
        asked = sum(fault["asked"] for fault in able)
        yield f"| {kind} | {len(these)} | {len(able)} | {asked} | {told} |"


def _false(faulty: Sequence[Row], clean: Sequence[Row]) -> Iterator[str]:
    yield ""
    yield "## Called falsely"
    yield ""
    yield "| where | fine | kinds | false | by another name | hours | per hour, at most (95 %) |"
    yield "|---|---|---|---|---|---|---|"
    for name, clips in (("clips with faults", faulty), ("clean", clean)):
        for fine in (8, 0):
            calls = [
                one for clip in clips for look in _of(clip, fine) for one in wrong_calls(clip, look)
            ]
            hours = sum(clip["seconds"] * len(_of(clip, fine)) for clip in clips) / 3600
            for told, kinds in (("dropouts", DROPOUTS), ("fine faults", FINE)):
                these = [one for one in calls if one.kind in kinds]
                if told == "dropouts" or fine:
                    yield _false_line(f"| {name} | {fine or 'off'} | {told} |", these, hours)
    calls = [
        one
        for clip in (*faulty, *clean)
        for look in _of(clip, 8)
        for one in wrong_calls(clip, look)
    ]
    yield from _worst([one for one in calls if not one.is_other])
    yield from _other_names([one for one in calls if one.is_other])


def _worst(every: Sequence[Called]) -> Iterator[str]:
    yield ""
    yield "| false call | content | times | clips (the first three) | over |"
    yield "|---|---|---|---|---|"
    for (kind, family), count in Counter((one.kind, one.family) for one in every).most_common(
        _WORST
    ):
        these = [one for one in every if (one.kind, one.family) == (kind, family)]
        seeds = ", ".join(list(dict.fromkeys(one.clip for one in these))[:3])
        over = Counter(one.over or "nothing" for one in these).most_common(1)[0][0]
        yield f"| {kind} | {family} | {count} | {seeds} | {over} |"


def _other_names(calls: Sequence[Called]) -> Iterator[str]:
    yield ""
    yield "| what was there | called | times |"
    yield "|---|---|---|"
    for (over, kind), count in Counter((one.over, one.kind) for one in calls).most_common(_WORST):
        yield f"| {over} | {kind} | {count} |"


def _false_line(start: str, these: Sequence[Called], hours: float) -> str:
    false = sum(not one.is_other for one in these)
    bound = rate_bound(false, hours)
    return f"{start} {false} | {len(these) - false} | {hours:.2f} | {bound:.2f} |"


def _cost(clips: Sequence[Row]) -> Iterator[str]:
    yield ""
    yield "## Cost, ms of processor time for a picture"
    yield ""
    yield "| size | coding | fine every 8, median | off, median |"
    yield "|---|---|---|---|"
    for size in SIZES:
        for yuyv in (False, True):
            told = "YUYV" if yuyv else "MJPEG"
            costs = [_costs(clips, list(size), yuyv, fine) for fine in (8, 0)]
            if costs[0] and costs[1]:
                fine, off = (median(one) for one in costs)
                yield f"| {size[0]}x{size[1]} | {told} | {fine:.2f} | {off:.2f} |"


def _costs(clips: Sequence[Row], size: list[int], yuyv: bool, fine: int) -> list[float]:
    return [
        1000 * look["cpu_s"] / clip["pictures"]
        for clip in clips
        if list(clip["setting"]["size"]) == size
        for look in _of(clip, fine)
        if (look["coding"] == "yuyv") == yuyv
    ]
