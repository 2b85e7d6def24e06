"""One soak as the report tells it: stretches, wear, holes, notes, instruments."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from soak.derive.course import Course
from soak.derive.coverage import BY_PLAN
from soak.evidence import Evidence
from soak.instruments import wired
from soak.quantities import show_bytes, show_duration, show_value
from soak.records import Json
from soak.report.context import ReportContext
from soak.report.model import Chart, Frame, Instrument, Note, Soak, Stretch, Wear
from soak.report.seen import at, holes
from soak.report.stream import stream_words

_ENDED = {
    "complete": "complete",
    "stopped": "stopped by the operator",
    "bench fault": "ended by a fault of the bench",
}
_NOT_SCRIPT = frozenset({"requirements", "file"})
"""Keys of a resolved script that are told elsewhere, or say only where it lay."""
_NOT_IDENTITY = frozenset({"driver", "identity", "accuracy", "unit", "spot", "calibration"})


def tell(evidence: Course, charts: Sequence[Chart], frames: Sequence[Frame]) -> Soak:
    """Return one soak as the report tells it."""
    header, sessions, seal = evidence.header, evidence.sessions(), evidence.seal
    return Soak(
        soak_id=header.soak_id,
        script=str(header.script.get("name", "")),
        about=str(header.script.get("about", "")),
        began_utc=sessions[0].utc if sessions else "",
        resumed_utc=tuple(session.utc for session in sessions[1:]),
        lasted=show_duration(evidence.ends_s),
        ended=_ENDED[seal.ended] if seal else "cut off, not sealed",
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
        fit_for_listing=bool(header.script.get("listing", True)),
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
        powered=show_duration(powered_s),
        powered_s=float(powered_s),
        written=show_bytes(written),
        written_bytes=written,
    )


def script_lines(script: Json, at: str = "") -> tuple[str, ...]:
    """Write a resolved script a line a setting: `"stretch 2 warm starts: picture.rest_s = 2.0"`."""
    told: list[str] = []
    for key, value in script.items():
        if key == "stretches":
            for number, part in enumerate(value, start=1):
                told += script_lines(part, f"stretch {number} {part.get('name', '')}: ")
        elif isinstance(value, Mapping):
            told += script_lines(value, f"{at}{key}.") or [f"{at}{key}"]
        elif key not in _NOT_SCRIPT:
            told.append(f"{at}{key} = {json.dumps(value, ensure_ascii=False)}")
    return tuple(told)


def _stretches(evidence: Evidence) -> tuple[Stretch, ...]:
    ended = {mark.stretch: mark for mark in evidence.marks("stretch ends")}
    told = []
    for part in evidence.header.script.get("stretches", []):
        name = str(part.get("name", ""))
        end = ended.get(name)
        observed = end.detail.get("observed_s") if end else None
        told.append(
            Stretch(
                name=name,
                attended=bool(part.get("attended")),
                planned=_planned(part),
                observed=show_duration(float(observed)) if observed is not None else "–",
                ended=str(end.detail.get("because", "done")) if end else "did not run to its end",
            )
        )
    return tuple(told)


def _planned(part: Json) -> str:
    plan = part.get("plan")
    if plan and "accept_at_s" in plan:
        shortest, longest = plan["shortest_s"], plan["accept_at_s"][-1]
        return f"by its plan, {show_duration(shortest)} to {show_duration(longest)}"
    if plan:
        return f"by its plan, {plan['accept_from'][0]} to {plan['longest']} starts"
    lasts_s = part.get("lasts_s")
    return show_duration(float(lasts_s)) if lasts_s else "until its checks are done"


def _notes(evidence: Evidence) -> tuple[Note, ...]:
    told = []
    for mark in evidence.marks("note"):
        mine = " (the operator's doing, counted as a hole)" if mark.detail.get("was_me") else ""
        words = f"{mark.detail.get('text', '')}{mine}"
        told.append(Note(at=at(mark.t_s), text=words, by=str(mark.detail.get("by", "") or "")))
    return tuple(told)


def _answers(evidence: Evidence) -> tuple[Note, ...]:
    asked = {
        mark.detail.get("id"): mark.detail.get("text", "") for mark in evidence.marks("question")
    }
    told = []
    for mark in evidence.marks("answer"):
        answer = mark.detail.get("answer")
        shown = "nobody answered in time" if answer is None else str(answer)
        text = f"{asked.get(mark.detail.get('id'), mark.detail.get('id', ''))} — {shown}"
        told.append(Note(at=at(mark.t_s), text=text, by=str(mark.detail.get("by", "") or "")))
    return tuple(told)


def deviations(soaks: Sequence[Evidence], context: ReportContext) -> tuple[str, ...]:
    """List what departed from the script as written, and what was added by hand."""
    told = list(context.deviations)
    for evidence in soaks:
        told += [f"{evidence.header.soak_id}: {words}" for words in _departed(evidence)]
    return tuple(told) or ("none",)


def _departed(evidence: Evidence) -> list[str]:
    seal, told = evidence.seal, []
    if seal is None or seal.ended != "complete":
        told.append(_ENDED[seal.ended] if seal else "cut off, its journal is not sealed")
    resumed = len(evidence.sessions()) - 1
    if resumed > 0:
        told.append(f"interrupted and resumed {resumed} time{'s' if resumed > 1 else ''}")
    for mark in evidence.marks("stretch ends"):
        if mark.detail.get("because", "done") not in ("done", *BY_PLAN):
            told.append(f"stretch {mark.stretch} ended because {mark.detail.get('because')}")
    mine = sum(bool(mark.detail.get("was_me")) for mark in evidence.marks("note"))
    if mine:
        told.append(f"{mine} time{'s' if mine > 1 else ''} set aside as the operator's own doing")
    stepped = len(evidence.marks("clock stepped"))
    if stepped:
        told.append(f"the wall clock was set {stepped} time{'s' if stepped > 1 else ''}")
    return told


def instruments(fixture: Json, context: ReportContext) -> tuple[Instrument, ...]:
    """List the instruments of a fixture with what identifies them."""
    return tuple(_instrument(source, told, context) for source, told in wired(fixture).items())


def _instrument(name: str, entry: Mapping[str, Any], context: ReportContext) -> Instrument:
    accuracy = entry.get("accuracy")
    unit = str(entry.get("unit", "1"))
    shown = "" if accuracy is None else f"± {show_value(float(accuracy), unit)}"
    identity = entry.get("identity") or {}
    notes = [
        f"{key}: {value}"
        for key, value in sorted(entry.items())
        if key not in _NOT_IDENTITY and isinstance(value, str | int | float) and value != ""
    ]
    return Instrument(
        name=name,
        driver=str(entry.get("driver", "")),
        accuracy=shown,
        calibration=str(context.calibrations.get(name, entry.get("calibration", ""))),
        identity=tuple(f"{key}: {value}" for key, value in sorted(identity.items())),
        notes=tuple(notes),
    )
