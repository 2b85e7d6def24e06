"""What the operator looks at in the morning: one line a unit, one soak, one moment of it."""

import json
from pathlib import Path

from soak.derive.course import course_of
from soak.derive.events.trips import cut, never_off
from soak.derive.said import state_words
from soak.derive.seeing.unguarded import unguarded
from soak.derive.seen import not_counted
from soak.desk.bench_folder import BenchFolder
from soak.desk.hands.moved import by_movement, by_movement_as_data
from soak.desk.morning.bench_told import bench_as_data, bench_lines, clock
from soak.desk.morning.judging import lacking_of
from soak.desk.morning.overview import overview
from soak.desk.soaking.left_on import left_on_s
from soak.desk.trust.belongings import minds, opened, soak_faults
from soak.errors import UsageError
from soak.journal import JournalEvidence
from soak.journal.ownership import is_owned
from soak.judge.explain.timeline import events
from soak.marks import Noted, facts, shown_by
from soak.names import named
from soak.quantities import parse_duration
from soak.run.guard.log import Entry, check_log, read_log
from soak.words import (
    NOTHING_SAID,
    Amount,
    Data,
    Message,
    Output,
    Said,
    joined,
    message_of,
    msg,
)

_AROUND_S = 30.0


def show(bench_path: Path, soak: str, time: str, *, as_json: bool) -> Output:
    """Return the overview, one soak, or one moment of it."""
    bench = BenchFolder(bench_path)
    if not soak:
        return overview(bench_path, as_json=as_json)
    folder = bench.find_soak(soak)
    evidence = opened(bench, folder)
    if time:
        return _moment(folder, evidence, _soak_time(time, evidence.ends_s))
    return _one(evidence, as_json=as_json)


def _one(evidence: JournalEvidence, *, as_json: bool) -> Output:
    header = evidence.header
    faults = events(evidence)
    if as_json:
        rows = [
            {"from_s": fault.from_s, "to_s": fault.to_s, "kind": fault.kind, "text": fault.text}
            for fault in faults
        ]
        moved = {"moved": moves} if (moves := by_movement_as_data(evidence)) else {}
        plain = {"soak": header.soak_id, "events": rows, **moved}
        return Data(json.dumps({**plain, **bench_as_data(course_of(evidence))}, indent=2))
    seal = evidence.seal
    ended = msg("not sealed: it runs, or was cut off (`soak resume`)")
    if seal:
        ended = named(seal.ended)
    script = msg("script {name}", name=named(header.script.name))
    lines: list[Said] = [
        joined("  ", [header.soak_id, header.unit.tag, script, ended]),
        msg(
            "{time} long, {count} session(s)",
            time=Amount(evidence.ends_s, "s"),
            count=len(evidence.sessions()),
        ),
    ]
    lines += [_at(fault.from_s, fault.text) for fault in faults] or [msg("no event of the unit")]
    lines += [*by_movement(evidence), *_not_the_units(evidence)]
    lines += bench_lines(course_of(evidence))
    lines += [
        _at(mark.t_s, msg("note: {text}", text=note.text)) for mark, note in facts(evidence, Noted)
    ]
    lines += [*_guard_alone(evidence), *lacking_of(evidence)]
    lines += minds("", soak_faults(evidence))
    return joined("\n", lines)


def _at(t_s: float, told: Said) -> Message:
    return joined("  ", [clock(t_s), told])


def _not_the_units(evidence: JournalEvidence) -> list[Message]:
    """Tell of trips that were not the unit's, and of readings that count for nothing."""
    course = course_of(evidence)
    others = [*cut(course), *not_counted(course), *unguarded(course)]
    others.sort(key=lambda one: one[0])
    lines = [_at(t_s, what) for t_s, what in others]
    mind = [what for what in (never_off(course), _left_on(evidence)) if what]
    return lines + [msg("MIND: {what}", what=what) for what in mind]


def _left_on(evidence: JournalEvidence) -> Message:
    """Tell of a unit that a soak which was cut off left on; nothing while it runs."""
    since_s = left_on_s(evidence)
    if since_s is None or is_owned(evidence.path.parent):
        return NOTHING_SAID
    return msg(
        "the power was on at {time}, where the records end, and nothing says that it was switched "
        "off: look at the unit",
        time=clock(since_s),
    )


def _guard_alone(evidence: JournalEvidence) -> list[Message]:
    """Tell what the guard did when no journal was kept any more."""
    folder = evidence.path.parent
    entries = read_log(folder)
    if evidence.seal is not None:
        check_log(folder, evidence.seal.guard_log)
    return [
        _at(
            entry.t_s,
            msg(
                "guard, after the journal's end: {what}: {why}",
                what=_done(entry),
                why=message_of(entry.detail["why"]),
            ),
        )
        for entry in entries
        if entry.t_s > evidence.ends_s and "why" in entry.detail
    ]


def _done(entry: Entry) -> Said:
    if entry.what != "power":
        return entry.what
    return msg("power on") if entry.detail["on"] else msg("power off")


def _moment(folder: Path, evidence: JournalEvidence, t_s: float) -> Message:
    """Return what every source was seen to be, the readings, and the frames near that time."""
    lines: list[Said] = [msg("at {time}", time=clock(t_s))]
    for source in evidence.header.fixture.wired:
        before = [state for state in evidence.states(source) if state.t_s <= t_s]
        if before:
            state = msg(
                "{state} (for {time})",
                state=state_words(before[-1].state),
                time=Amount(t_s - before[-1].t_s, "s"),
            )
            lines.append(joined(" ", [f"{source:<18}", state]))
    for quantity in evidence.header.quantities:
        times, values = evidence.series(quantity.name)
        index = int(times.searchsorted(t_s, side="right")) - 1
        if index >= 0:
            shown = msg(
                "{value} ({time} before)",
                value=Amount(float(values[index]), quantity.unit),
                time=Amount(t_s - times[index], "s"),
            )
            lines.append(joined(" ", [f"{quantity.name:<18}", shown]))
    near = [a for a in evidence.kept_files() if abs(a.t_s - t_s) <= _AROUND_S]
    lines += [
        msg(
            "{file} ({shows})",
            file=str(folder / "kept" / a.name),
            shows=named(shown_by(a).shows or a.of),
        )
        for a in near
    ]
    return joined("\n", lines)


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
        raise UsageError(
            msg("{text} is not a soak time; write it like 3:12:00 or 3.2 h", text=repr(text))
        ) from None
    if t_s > ends_s:
        raise UsageError(msg("{text}: the soak is {ends_s} long", text=text, ends_s=clock(ends_s)))
    return t_s
