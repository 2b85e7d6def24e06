"""Journals of other families, each spoilt in one way: what a rule makes of little or odd evidence.

A way of spoiling takes the records of a journal as plain data and changes them. Everything it
makes could stand in a real journal: a cable pulled, a program killed, a limit set otherwise.
"""

import copy
import json
from collections.abc import Callable, Mapping
from typing import Any

import freeze
from stored import Job, dumped, jobs_of

Plain = dict[str, Any]
Way = Callable[[list[Plain]], None]

ALWAYS = ("cut off at half", "no reading", "one reading", "blind throughout", "blind in the middle")
"""Ways in which each check's journals are spoilt."""
READ_BY = {"": "", "stick": "transfer", "probe": "probe"}
"""How the quantities begin that a source reads; without a source all of them."""
BASES = {
    "made-up": ("judge/grade/clean_night_is_ready",),
    "short": ("good/short/6", "video_drops_when_hot/short/6"),
    "supply": ("good/supply/5",),
}
"""Journals that are spoilt in every way."""


def spoilt() -> Mapping[str, tuple[list[list[str]], Any]]:
    """Return each base spoilt in each way, by name."""
    found: dict[str, tuple[list[list[str]], Any]] = {}
    for family, names in BASES.items():
        for job in jobs_of(family):
            if job.name in names:
                found |= {f"{job.name}/{way}": spoilt_by(job, WAYS[way]) for way in WAYS}
    for job in _one_of_each_rule():
        found |= {f"{job.name}/{way}": spoilt_by(job, WAYS[way]) for way in ALWAYS}
    seen: set[str] = set()
    for job in jobs_of("checks"):
        header = _records(job)[-1][0]
        rules = " ".join(sorted(f"{one['id']} {one['rule']}" for one in header["requirements"]))
        if job.script is None and job.name.startswith("every/"):
            number = sum(rules in one for one in seen)
            if number < 2:
                seen.add(f"{rules} {number}")
                found |= {f"{job.name}/{way}": spoilt_by(job, WAYS[way]) for way in ALWAYS}
    return found


def _one_of_each_rule() -> list[Job]:
    """Return made-up jobs in which each rule is met, one each."""
    first: dict[str, str] = {}
    for (name, _), one in freeze.expected("made-up").items():
        if one.get("verdict") == "met":
            first.setdefault(one["rule"], name)
    return [job for job in jobs_of("made-up") if job.name in first.values()]


def _records(job: Job) -> list[list[Plain]]:
    return [[json.loads(line) for line in lines] for lines in job.journals.values()]


def spoilt_by(job: Job, way: Way) -> tuple[list[list[str]], Any]:
    """Return a job whose newest journal is spoilt."""
    *others, newest = _records(job)
    newest = copy.deepcopy(newest)
    way(newest)
    return [[dumped(one) for one in lines] for lines in [*others, newest]], job.script


def _end_s(records: list[Plain]) -> float:
    return max(one["t_s"] for one in records if isinstance(one.get("t_s"), int | float))


def _columns(records: list[Plain]) -> list[Plain]:
    return [one for one in records if one["kind"] == "readings"]


def middle(records: list[Plain]) -> tuple[float, float]:
    """Return a piece of the longest stretch: from a third to three fifths of it."""
    begins = [r for r in records if r.get("what") == "stretch begins"]
    ends = {r["stretch"]: r["t_s"] for r in records if r.get("what") == "stretch ends"}
    spans = [(one["t_s"], ends.get(one["stretch"], _end_s(records))) for one in begins]
    from_s, to_s = max(spans, key=lambda span: span[1] - span[0])
    return from_s + (to_s - from_s) / 3, from_s + (to_s - from_s) * 0.6


def _sources(records: list[Plain]) -> list[str]:
    return sorted({one["source"] for one in records if one["kind"] == "state"})


def cut_off(share: float) -> Way:
    """Let the program be gone from one moment to the next."""

    def spoil(records: list[Plain]) -> None:
        last_s = _end_s(records) * share
        for one in records:
            if one["kind"] == "told":
                one["ends_s"] = last_s
                for name, pieces in one["windows"].items():
                    there = [piece for piece in pieces if piece[0] < last_s]
                    one["windows"][name] = [[begin, min(end, last_s)] for begin, end in there]
        records[:] = [
            one
            for one in records
            if one["kind"] != "seal"
            and not (isinstance(one.get("t_s"), int | float) and one["t_s"] > last_s)
        ]
        _only(records, lambda t_s: t_s <= last_s)

    return spoil


def _only(records: list[Plain], kept: Callable[[float], bool], named: str = "") -> None:
    """Keep the readings of some times, of quantities whose name begins so."""
    for one in _columns(records):
        if not one["quantity"].startswith(named):
            continue
        pairs = [(t, v) for t, v in zip(one["t_s"], one["value"], strict=True) if kept(t)]
        one["t_s"], one["value"] = [t for t, _ in pairs], [v for _, v in pairs]


def readings(number: int) -> Way:
    """Keep so many readings of each quantity, from its middle."""

    def spoil(records: list[Plain]) -> None:
        for one in _columns(records):
            first = len(one["t_s"]) // 2
            for key in ("t_s", "value"):
                one[key] = one[key][first : first + number]

    return spoil


def unseen(looks: str, only: str = "", throughout: bool = False) -> Way:
    """Let all sources, or those that begin so, be in another state."""

    def spoil(records: list[Plain]) -> None:
        from_s, to_s = (0.0, _end_s(records)) if throughout else middle(records)
        for source in [one for one in _sources(records) if one.startswith(only)]:
            mine = [one for one in records if one.get("source") == source]
            before = [one for one in mine if one["t_s"] <= to_s]
            after = before[-1]["state"] if before else mine[0]["state"]
            records[:] = [
                one
                for one in records
                if one.get("source") != source or not from_s <= one["t_s"] <= to_s
            ]
            records += [state(from_s, source, looks), state(to_s, source, after)]
        if only in READ_BY:
            _only(records, lambda t_s: not from_s <= t_s <= to_s, READ_BY[only])

    return spoil


def state(t_s: float, source: str, looks: str) -> Plain:
    return {
        "kind": "state",
        "t_s": t_s,
        "source": source,
        "state": looks,
        "within_s": 0.1,
        "detail": {},
    }


def mark(named: str, ends: str = "", **detail: Any) -> Way:
    """Add a mark in the middle, and another one that ends it."""

    def spoil(records: list[Plain]) -> None:
        from_s, to_s = middle(records)
        told = {
            key: {"from": from_s, "to": to_s}.get(value, value) for key, value in detail.items()
        }
        records.append(_mark(from_s, named, told))
        if ends:
            records.append(_mark(to_s, ends, told))

    return spoil


def _mark(t_s: float, what: str, detail: Plain) -> Plain:
    return {"kind": "mark", "t_s": t_s, "what": what, "stretch": "", "check": "", "detail": detail}


def renamed(old: str, new: str) -> Way:
    """Let each mark of one kind be one of another."""

    def spoil(records: list[Plain]) -> None:
        for one in records:
            if one.get("what") == old:
                one["what"] = new

    return spoil


def header(change: Callable[[Plain], None]) -> Way:
    """Change the header."""
    return lambda records: change(records[0])


def demanded(**changes: Callable[[Any], Any]) -> Way:
    """Change each requirement."""

    def spoil(records: list[Plain]) -> None:
        for one in records[0]["requirements"]:
            one |= {key: change(one[key]) for key, change in changes.items()}

    return spoil


def _lacks(role: str) -> Way:
    return header(lambda one: one["fixture"].pop(role, None))


def _probes(**changes: Any) -> Way:
    def change(one: Plain) -> None:
        for probe in one["fixture"].get("probe", {}).values():
            probe |= changes

    return header(change)


def _sheet(**changes: Any) -> Way:
    return header(lambda one: one["model_sheet"].update(changes))


def _promised_twice(one: Plain) -> None:
    for stretch in one["script"]["stretches"]:
        stretch["lasts_s"] = 2 * (stretch["lasts_s"] or 0.0)


def _repair_of_nothing_known(one: Plain) -> None:
    more = {"id": "R-9", "what": "part renewed", "function": "sound", "kind": "repair"}
    first = (one["unit"].get("repairs") or [{}])[0]
    one["unit"]["repairs"] = [*(one["unit"].get("repairs") or ()), {**first, **more}]


def unsealed(records: list[Plain]) -> None:
    """Take the seal away and leave the rest."""
    records[:] = [one for one in records if one["kind"] != "seal"]


def sealed_as(ended: str) -> Way:
    """Let the soak have ended otherwise."""

    def spoil(records: list[Plain]) -> None:
        for one in records:
            if one["kind"] == "seal":
                one["ended"] = ended

    return spoil


def second_session(gap_s: float | None) -> Way:
    """Let the program have gone down for a third of the longest stretch and come back."""

    def spoil(records: list[Plain]) -> None:
        from_s, to_s = middle(records)
        first = next(one for one in records if one["kind"] == "session")
        told = {"number": 2, "begins_at_s": to_s, "gap_s": gap_s}
        later = {**first, **told, "gap_from": "unknown" if gap_s is None else "wall clock"}
        timed = [one for one in records if isinstance(one.get("t_s"), int | float)]
        begun = [
            one for one in timed if one.get("what") == "stretch begins" and one["t_s"] < from_s
        ]
        again = {**begun[-1], "t_s": to_s} if begun else None
        columns = _columns(records)
        halves = [copy.deepcopy(columns), copy.deepcopy(columns)]
        _only(halves[0], lambda t_s: t_s <= from_s)
        _only(halves[1], lambda t_s: t_s >= to_s)
        records[:] = [
            records[0],
            first,
            *halves[0],
            *(one for one in timed if one["t_s"] <= from_s),
            later,
            *([again] if again else []),
            *halves[1],
            *(one for one in timed if one["t_s"] >= to_s),
        ]

    return spoil


WAYS: Mapping[str, Way] = {
    "cut off at a tenth": cut_off(0.1),
    "cut off at half": cut_off(0.5),
    "cut off near the end": cut_off(0.97),
    "no seal": unsealed,
    "sealed as stopped": sealed_as("stopped"),
    "sealed as bench fault": sealed_as("bench fault"),
    "no reading": readings(0),
    "one reading": readings(1),
    "two readings": readings(2),
    "blind throughout": unseen("blind", throughout=True),
    "blind in the middle": unseen("blind"),
    "capture blind in the middle": unseen("blind", "capture"),
    "stick blind in the middle": unseen("blind", "stick"),
    "probes blind in the middle": unseen("blind", "probe"),
    "protected in the middle": unseen("protected output", "capture"),
    "frozen in the middle": unseen("frozen", "capture"),
    "stalled in the middle": unseen("stalled", "capture"),
    "black in the middle": unseen("black", "capture"),
    "other size in the middle": unseen("other size", "capture"),
    "stick gone in the middle": unseen("gone", "stick"),
    "capture lacking": _lacks("capture"),
    "stick lacking": _lacks("stick"),
    "probes lacking": _lacks("probe"),
    "switch lacking": _lacks("switch"),
    "trip": mark("trip", "rearmed", source="probe.outside", value=95.0, limit=70.0, channel="1"),
    "silence": mark("silence", "rearmed", source="probe.outside", channel="1"),
    "host slept": mark("host slept", for_s=1800.0),
    "clock stepped": mark("clock stepped", by_s=-3600.0),
    "bench fault": mark("bench fault", "bench well", instrument="capture", what="is gone"),
    "that was me": mark("note", text="", by="KY", from_s="from", to_s="to", was_me=True),
    "hand needed": mark("hand needed", why="pull its plug"),
    "an alarm": mark("alarm", why="the unit is not off"),
    "power unanswered": mark("power unanswered", on=False, channel="1", why="end"),
    "off never proved": renamed("off proved", "off not proved"),
    "stretch without end": renamed("stretch ends", "goes on"),
    "rules of a later program": demanded(rule=lambda name: f"{name} anew"),
    "limits of zero": demanded(limit=lambda limit: None if limit is None else 0.0),
    "limits twice as wide": demanded(limit=lambda limit: None if limit is None else 2 * limit),
    "no limits": demanded(limit=lambda limit: None),
    "another confidence": demanded(confidence=lambda level: None if level is None else 0.6),
    "no confidence": demanded(confidence=lambda level: None),
    "guarded": demanded(guarded=lambda guarded: True),
    "unguarded": demanded(guarded=lambda guarded: False),
    "no blindness allowed": demanded(blind_allowed=lambda share: 0.0),
    "one second of blindness": demanded(longest_blind_s=lambda longest: 1.0),
    "shows no repair": demanded(shows_repair=lambda functions: []),
    "accuracy not stated": _probes(accuracy=None),
    "probes that are wide": _probes(accuracy=8.0),
    "promised twice as long": header(_promised_twice),
    "repair of nothing known": header(_repair_of_nothing_known),
    "a picture that may stand still": _sheet(picture_when_on="still"),
    "a picture that may go blank": _sheet(picture_when_on="may blank"),
    "said to start in a second": _sheet(start_s=1.0, start_limit_s=2.0),
    "not simulated": header(lambda one: one.update(simulated=False)),
    "no script": header(lambda one: one.update(script={"name": "none", "stretches": []})),
    "nothing demanded": header(lambda one: one.update(requirements=[])),
    "second session": second_session(900.0),
    "second session after an unknown gap": second_session(None),
}
