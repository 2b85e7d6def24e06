"""One soak as the report tells it: stretches, wear, holes, notes, instruments."""

import json
from collections import Counter
from collections.abc import Mapping, Sequence

from soak.derive.course import Course
from soak.derive.events.trips import cut, trips
from soak.derive.seeing.coverage import BY_PLAN, ending_words
from soak.derive.seeing.unguarded import unguarded
from soak.derive.seen import not_counted
from soak.evidence import Evidence
from soak.frozen.fixture import Fixture
from soak.frozen.script import PlannedScript, PlannedStretch
from soak.frozen.shape import as_json
from soak.frozen.wiring import ProbeWired
from soak.judge.believed import how_proved, must_be_proved
from soak.marks import (
    COUNTED,
    Answered,
    ClockStepped,
    Noted,
    QuestionAsked,
    StretchEnds,
    facts,
    said_by,
)
from soak.measure.video.accounts import nominal_rate
from soak.names import named, source_named
from soak.natures import KINDS, nature_of
from soak.records import Json, State, canonical_json
from soak.report.contents.context import ReportContext
from soak.report.contents.seen import at, holes
from soak.report.model import Chart, Frame, Instrument, Note, Soak, Stretch, Wear
from soak.rules.answered import answer_words, question_words
from soak.words import NOTHING_SAID, Amount, Message, Number, counted, joined, just, msg

_ENDED = {
    "complete": msg("complete"),
    "stopped": msg("stopped by the operator"),
    "bench fault": msg("ended by a fault of the bench"),
}
_NOT_SCRIPT = frozenset({"requirements", "file"})
"""Keys of a resolved script that are told elsewhere, or say only where it lay."""
_NOT_SHOWN = frozenset({"driver", "accuracy", "unit", "spot", "calibration"})
"""Settings of an instrument that are told elsewhere."""
_KNOWN_AS = ("maker", "model", "name", "description", "serial", "serial_number")
"""What of an identity names an instrument to a stranger."""
_NEVER_PROVED = msg("never proved on this unit")


def _ended(course: Course) -> Message:
    assert course.seal is not None
    if course.seal.ended == "stopped" and trips(course):
        return msg("ended by the guard, which cut the power")
    return _ENDED[course.seal.ended]


def tell(evidence: Course, charts: Sequence[Chart], frames: Sequence[Frame]) -> Soak:
    """Return one soak as the report tells it."""
    header = evidence.header
    sessions = evidence.sessions()
    seal = evidence.seal
    return Soak(
        soak_id=header.soak_id,
        script=named(header.script.name),
        about=named(header.script.about),
        began_utc=sessions[0].utc if sessions else "",
        resumed_utc=tuple(session.utc for session in sessions[1:]),
        lasted=just(Amount(evidence.ends_s, "s")),
        ended=_ended(evidence) if seal else msg("cut off, not sealed"),
        seal_sha256=evidence.file_sha256,
        simulated=header.simulated,
        stretches=_stretches(evidence),
        script_in_full=script_lines(header.script),
        wear=wear(evidence),
        stream=stream_words(evidence),
        holes=tuple(holes(evidence)),
        notes=_notes(evidence),
        answers=_answers(evidence),
        charts=tuple(charts),
        frames=tuple(frames),
        fit_for_listing=bool(header.script.listing),
    )


def wear(evidence: Course) -> Wear:
    """Return what the soak itself cost the unit: starts, hours with power, bytes written."""
    spans = evidence.power
    powered_s = sum(end_s - begin_s for begin_s, end_s in spans)
    written = 0.0
    for quantity in evidence.header.quantities:
        if quantity.unit == "B" and quantity.name.endswith(".written"):
            written += float(evidence.series(quantity.name)[1].sum())
    return Wear(
        starts=len(spans),
        powered=just(Amount(float(powered_s), "s")),
        powered_s=float(powered_s),
        written=just(Amount(written, "B")),
        written_bytes=written,
    )


def script_lines(script: PlannedScript) -> tuple[str, ...]:
    """Write a resolved script a line a setting: `"stretch 2 warm starts: picture.rest_s = 2.0"`."""
    plain = json.loads(canonical_json(as_json(script)))  # so that 12.0 is written as 12
    parts = plain.pop("stretches")
    lines = _settings(plain, "")
    for number, part in enumerate(parts, start=1):
        lines += _settings(part, f"stretch {number} {part['name']}: ")
    return tuple(lines)


def _settings(told: Json, at: str) -> list[str]:
    lines: list[str] = []
    for key, value in told.items():
        if isinstance(value, Mapping):
            lines += _settings(value, f"{at}{key}.") or [f"{at}{key}"]
        elif key not in _NOT_SCRIPT:
            lines.append(f"{at}{key} = {json.dumps(value, ensure_ascii=False)}")
    return lines


def _stretches(evidence: Evidence) -> tuple[Stretch, ...]:
    ended = {mark.stretch: ends for mark, ends in facts(evidence, StretchEnds)}
    stretches = []
    for part in evidence.header.script.stretches:
        name = part.name
        end = ended.get(name)
        observed_s = end.observed_s if end else None
        stretches.append(
            Stretch(
                name=named(name),
                attended=part.attended,
                planned=_planned(part),
                observed=msg("–") if observed_s is None else just(Amount(observed_s, "s")),
                ended=just(ending_words(end.because)) if end else msg("did not run to its end"),
            )
        )
    return tuple(stretches)


def _planned(part: PlannedStretch) -> Message:
    plan = part.plan
    if plan and "accept_at_s" in plan:
        shortest = plan["shortest_s"]
        longest = plan["accept_at_s"][-1]
        return msg(
            "by its plan, {shortest} to {longest}",
            shortest=Amount(shortest, "s"),
            longest=Amount(longest, "s"),
        )
    if plan:
        return msg(
            "by its plan, {fewest} to {most} starts",
            fewest=plan["accept_from"][0],
            most=plan["longest"],
        )
    lasts_s = part.lasts_s
    return just(Amount(lasts_s, "s")) if lasts_s else msg("until its checks are done")


def _notes(evidence: Evidence) -> tuple[Note, ...]:
    notes = []
    for mark, note in facts(evidence, Noted):
        words = just(note.text)
        if note.was_me:
            words = msg("{note} (the operator's doing, counted as a hole)", note=words)
        notes.append(Note(at=at(mark.t_s), text=words, by=note.by))
    return tuple(notes)


def _answers(evidence: Evidence) -> tuple[Note, ...]:
    asked = {question.id: question.text for _, question in facts(evidence, QuestionAsked)}
    notes = []
    for mark, answered in facts(evidence, Answered):
        answer = answered.answer
        shown = msg("nobody answered in time") if answer is None else answer_words(answer)
        question = asked.get(answered.id, answered.id)
        text = msg("{question} — {answer}", question=question_words(question), answer=shown)
        by = answered.initials or answered.by
        notes.append(Note(at=at(mark.t_s), text=text, by=by))
    return tuple(notes)


def deviations(soaks: Sequence[Course], context: ReportContext) -> tuple[Message, ...]:
    """List what departed from the script as written, and what was added by hand."""
    sentences = [just(deviation) for deviation in context.deviations]
    for evidence in soaks:
        soak_id = evidence.header.soak_id
        sentences += [
            msg("{soak}: {what}", soak=soak_id, what=sentence) for sentence in _departed(evidence)
        ]
    return tuple(sentences) or (msg("none"),)


def _departed(evidence: Course) -> list[Message]:
    seal = evidence.seal
    sentences = list[Message]()
    if seal is None or seal.ended != "complete":
        sentences.append(_ended(evidence) if seal else msg("cut off, its journal is not sealed"))
    sentences += [
        what for _, what in (*cut(evidence), *not_counted(evidence), *unguarded(evidence))
    ]
    resumed = len(evidence.sessions()) - 1
    if resumed > 0:
        sentences.append(
            counted(
                resumed, "interrupted and resumed 1 time", "interrupted and resumed {count} times"
            )
        )
    for mark, ends in facts(evidence, StretchEnds):
        if ends.because not in ("done", *BY_PLAN):
            sentences.append(
                msg(
                    "stretch {stretch} ended because {why}",
                    stretch=named(mark.stretch),
                    why=ending_words(ends.because),
                )
            )
    mine = sum(note.was_me for _, note in facts(evidence, Noted))
    if mine:
        sentences.append(
            counted(
                mine,
                "1 time set aside as the operator's own doing",
                "{count} times set aside as the operator's own doing",
            )
        )
    stepped = len(facts(evidence, ClockStepped))
    if stepped:
        sentences.append(
            counted(
                stepped, "the wall clock was set 1 time", "the wall clock was set {count} times"
            )
        )
    return sentences


def instruments(soaks: Sequence[Course], context: ReportContext) -> tuple[Instrument, ...]:
    """List the instruments of all soaks with what they are, and how the latest soak proved them."""
    instruments: dict[Instrument, Message] = {}
    for course in soaks:
        fixture = course.header.fixture
        for source in fixture.wired:
            instrument = _instrument(fixture, source, context)
            if must_be_proved(fixture, source):
                earlier = instruments.get(instrument, _NEVER_PROVED)
                instruments[instrument] = how_proved(source, course) or earlier
            else:
                instruments.setdefault(instrument, NOTHING_SAID)
    return tuple(one.model_copy(update={"proved": how}) for one, how in instruments.items())


def _instrument(fixture: Fixture, source: str, context: ReportContext) -> Instrument:
    wired = fixture.wired[source]
    shown = NOTHING_SAID
    if isinstance(wired, ProbeWired) and wired.accuracy is not None:
        shown = msg("± {value}", value=Amount(wired.accuracy, wired.unit))
    identity = fixture.identity(source).told
    notes = [
        f"{key}: {value}"
        for key, value in sorted(fixture.settings(source).items())
        if key not in _NOT_SHOWN and isinstance(value, str | int | float) and value != ""
    ]
    return Instrument(
        name=source_named(source),
        driver=wired.driver,
        kind=KINDS[nature_of(fixture, source)],
        known_as=" ".join(str(identity[key]) for key in _KNOWN_AS if identity.get(key)),
        accuracy=shown,
        calibration=context.calibrations.get(source, fixture.own(source).calibration),
        identity=tuple(f"{key}: {value}" for key, value in sorted(identity.items())),
        notes=tuple(notes),
    )


_COUNTED = ("pictures", "lost", "repeated", "damaged")


def stream_words(course: Course) -> Message:
    """Return the frame accounts as the last of each minute tells them; empty without a stream."""
    states = [state for state in course.states("capture.stream") if state.state == COUNTED]
    parts = [_rate(states[-1]), *_counted(states)] if states else []
    stood_s = course.series("capture.unchanged")[1]
    if len(stood_s):
        stood = Amount(float(max(stood_s)), "s")
        parts.append(msg("unchanged for up to {time}", time=stood))
    return joined(", ", parts)


def _rate(told: State) -> Message:
    period_s = said_by(told).period_s
    if period_s <= 0:
        return NOTHING_SAID
    rate = Number(1 / period_s, ".3f")
    nominal = nominal_rate(1 / period_s)
    if nominal is None or nominal.denominator == 1:
        return msg("{rate} pictures a second", rate=rate)
    return msg("{rate} ({exact}) pictures a second", rate=rate, exact=str(nominal))


def _counted(told: Sequence[State]) -> list[Message]:
    """Add up over the runs of the watcher: one that began anew counts from 0."""
    total: Counter[str] = Counter()
    before: Counter[str] = Counter()
    for state in told:
        said = said_by(state)
        now = Counter({name: getattr(said, name) for name in _COUNTED})
        if now["pictures"] < before["pictures"]:
            before = Counter()
        total.update({name: now[name] - before[name] for name in _COUNTED})
        before = now
    lost, repeated, damaged = (total[name] for name in _COUNTED[1:])
    return [
        msg("{lost} lost of {all}", lost=lost, all=total["pictures"] + lost),
        msg("{number} repeated exactly", number=repeated),
        msg("{number} damaged", number=damaged),
    ]
