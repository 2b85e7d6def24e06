"""What the operator looks at in the morning: one line a unit, one soak, one moment of it."""

import json
from pathlib import Path
from textwrap import shorten

from soak.derive.course import course_of
from soak.derive.events.trips import cut, never_off
from soak.derive.seeing.unguarded import unguarded
from soak.derive.seen import not_counted
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.desk.hands.moved import by_movement, by_movement_as_data
from soak.desk.morning.bench_told import bench_as_data, bench_lines, clock
from soak.desk.morning.judging import lacking_of
from soak.desk.soaking.left_on import left_on_s
from soak.desk.units import open_ledger
from soak.errors import UsageError
from soak.journal import JournalEvidence, open_evidence
from soak.journal.ownership import is_owned
from soak.judge.explain.timeline import events
from soak.marks import Noted, facts, shown_by
from soak.quantities import parse_duration, show_duration, show_value
from soak.run.guard.log import Entry, check_log, read_log

_COLUMNS = 60
_SAYS_SOMETHING = 16
"""A reason cut shorter than so many columns says nothing any more."""
_AROUND_S = 30.0


def show(bench_path: Path, soak: str, time: str, *, as_json: bool) -> str:
    """Return the overview, one soak, or one moment of it."""
    bench = BenchFolder(bench_path)
    if not soak:
        return _overview(bench_path, as_json=as_json)
    folder = bench.find_soak(soak)
    evidence = open_evidence(folder)
    if time:
        return _moment(folder, evidence, _soak_time(time, evidence.ends_s))
    return _one(evidence, as_json=as_json)


def _overview(bench_path: Path, *, as_json: bool) -> str:
    """One line a unit, at most 60 columns: tag, newest soak, grade."""
    bench = BenchFolder(bench_path)
    lines = {line.job_id.rpartition("-")[0]: line for line in open_ledger(bench_path).soaks()}
    if as_json:
        rows = [
            {"tag": tag, "soak": line.soak_id, "grade": line.grade, "reason": line.reason}
            for tag, line in lines.items()
        ]
        return json.dumps(rows, indent=2)
    if not lines:
        return "no soak yet; begin one with `soak run`"
    table = []
    for tag, line in lines.items():
        there = (bench.reports / line.soak_id / JOURNAL).is_file()
        grade = line.grade or ("runs or was cut off" if there else "journal gone")
        table.append((tag, line.script, grade, line.reason))
    widths = [max(len(row[at]) for row in table) for at in range(3)]
    shown = []
    for *head, reason in table:
        begins = "  ".join(f"{cell:<{width}}" for cell, width in zip(head, widths, strict=True))
        room = _COLUMNS - len(begins) - 2
        fits = shorten(reason, room, placeholder="…") if room > _SAYS_SOMETHING else ""
        shown.append(f"{begins}  {fits}".rstrip())
    return "\n".join(shown)


def _one(evidence: JournalEvidence, *, as_json: bool) -> str:
    header = evidence.header
    found = events(evidence)
    if as_json:
        rows = [
            {"from_s": one.from_s, "to_s": one.to_s, "kind": one.kind, "text": one.text}
            for one in found
        ]
        moved = {"moved": moves} if (moves := by_movement_as_data(evidence)) else {}
        told = {"soak": header.soak_id, "events": rows, **moved}
        return json.dumps({**told, **bench_as_data(course_of(evidence))}, indent=2)
    seal = evidence.seal
    ended = seal.ended if seal else "not sealed: it runs, or was cut off (`soak resume`)"
    lines = [
        f"{header.soak_id}  {header.unit.tag}  script {header.script.name}  {ended}",
        f"{show_duration(evidence.ends_s)} long, {len(evidence.sessions())} session(s)",
    ]
    lines += [f"{clock(one.from_s)}  {one.text}" for one in found] or ["no event of the unit"]
    lines += [*by_movement(evidence), *_not_the_units(evidence)]
    lines += bench_lines(course_of(evidence))
    lines += [f"{clock(mark.t_s)}  note: {note.text}" for mark, note in facts(evidence, Noted)]
    lines += [*_guard_alone(evidence), *lacking_of(evidence)]
    return "\n".join(lines)


def _not_the_units(evidence: JournalEvidence) -> list[str]:
    """Tell of trips that were not the unit's, and of readings that count for nothing."""
    course = course_of(evidence)
    told = [*cut(course), *not_counted(course), *unguarded(course)]
    told.sort(key=lambda one: one[0])
    lines = [f"{clock(t_s)}  {what}" for t_s, what in told]
    return lines + [f"MIND: {what}" for what in (never_off(course), _left_on(evidence)) if what]


def _left_on(evidence: JournalEvidence) -> str:
    """Tell of a unit that a soak which was cut off left on; nothing while it runs."""
    since_s = left_on_s(evidence)
    if since_s is None or is_owned(evidence.path.parent):
        return ""
    return (
        f"the power was on at {clock(since_s)}, where the records end, and nothing says that it "
        "was switched off: look at the unit"
    )


def _guard_alone(evidence: JournalEvidence) -> list[str]:
    """Tell what the guard did when no journal was kept any more."""
    folder = evidence.path.parent
    entries = read_log(folder)
    if evidence.seal is not None:
        check_log(folder, evidence.seal.guard_log)
    return [
        f"{clock(entry.t_s)}  guard, after the journal's end: {_done(entry)}: {entry.detail['why']}"
        for entry in entries
        if entry.t_s > evidence.ends_s and "why" in entry.detail
    ]


def _done(entry: Entry) -> str:
    if entry.what != "power":
        return entry.what
    return f"power {'on' if entry.detail['on'] else 'off'}"


def _moment(folder: Path, evidence: JournalEvidence, t_s: float) -> str:
    """Return what every source was seen to be, the readings, and the frames near that time."""
    lines = [f"at {clock(t_s)}"]
    for source in evidence.header.fixture.wired:
        before = [state for state in evidence.states(source) if state.t_s <= t_s]
        if before:
            since = show_duration(t_s - before[-1].t_s)
            lines.append(f"{source:<18} {before[-1].state} (for {since})")
    for quantity in evidence.header.quantities:
        times, values = evidence.series(quantity.name)
        index = int(times.searchsorted(t_s, side="right")) - 1
        if index >= 0:
            shown = show_value(float(values[index]), quantity.unit)
            lines.append(
                f"{quantity.name:<18} {shown} ({show_duration(t_s - times[index])} before)"
            )
    near = [a for a in evidence.kept_files() if abs(a.t_s - t_s) <= _AROUND_S]
    lines += [f"{folder / 'kept' / a.name} ({shown_by(a).shows or a.of})" for a in near]
    return "\n".join(lines)


def _soak_time(text: str, ends_s: float) -> float:
    """Read `3:12:00`, `3:12` (h:min) or `3.2 h`."""
    parts = text.split(":")
    try:
        if len(parts) > 1:
            numbers = [*map(int, parts), 0][:3]
            t_s = numbers[0] * 3600.0 + numbers[1] * 60 + numbers[2]
        else:
            t_s = parse_duration(text)
    except ValueError:
        raise UsageError(f"{text!r} is not a soak time; write it like 3:12:00 or 3.2 h") from None
    if t_s > ends_s:
        raise UsageError(f"{text}: the soak is {clock(ends_s)} long")
    return t_s
