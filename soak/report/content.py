"""Gather the content of a report from a judgement, its journals and what the bench adds."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from soak.charts.words import shortened
from soak.derive.course import Course, course_of
from soak.evidence import Evidence
from soak.judge.explain.causes import no_idea, probable_causes, swap_decides
from soak.judge.explain.clues import Clues
from soak.records import Json, canonical_json
from soak.report.aftercare import at_home, no_picture, rechecks, shelf_life, wear_of_all
from soak.report.context import CLAIMS, EXPLAINED, ReportContext
from soak.report.drawing import Drawing, draw
from soak.report.frames import Picture, pictures
from soak.report.grouping import together
from soak.report.history import in_one_line, list_soaks
from soak.report.limits import (
    CAUTIONS,
    known_limits,
    not_tested,
    shown_functions,
    smallest_breaks,
)
from soak.report.model import (
    Claim,
    Grade,
    Instrument,
    Issuer,
    Method,
    Repair,
    Report,
    Safety,
    Soak,
    Unit,
)
from soak.report.telling import deviations, instruments, tell
from soak.report.wording import as_tested, counts_of
from soak.rules.core.verdict import Finding, Judgement, Verdict

_BLANK = "not recorded"
_SWAP = "A swap of cable, port and card decides whether it is the unit or the bench: soak swap."


@dataclass(frozen=True, slots=True)
class Sheet:
    """A report with the drawings and pictures that its pages show.

    Attributes
    ----------
    report : Report
        The content.
    drawings, pictures : mapping
        By the name of the chart or frame.
    """

    report: Report
    drawings: Mapping[str, Drawing]
    pictures: Mapping[str, Picture]


def gather(judgement: Judgement, soaks: Sequence[Evidence], context: ReportContext) -> Sheet:
    """Make the bench's report of one job.

    Parameters
    ----------
    judgement : Judgement
        The judgement of these soaks.
    soaks : sequence of Evidence
        All journals of the job that were judged, in order of time; at least one.

    Raises
    ------
    ValueError
        If there is no soak.
    """
    if not soaks:
        raise ValueError("a report needs at least one soak")
    drawings: dict[str, Drawing] = {}
    shown: dict[str, Picture] = {}
    told: list[Soak] = []
    courses = [course_of(evidence) for evidence in soaks]
    for number, evidence in enumerate(courses, start=1):
        drawn, frames = (
            draw(evidence, number),
            pictures(evidence, number, _pointed(judgement, evidence)),
        )
        drawings |= {one.chart.name: one for one in drawn}
        shown |= {one.frame.name: one for one in frames}
        told.append(tell(evidence, [one.chart for one in drawn], [one.frame for one in frames]))
    report = _report(judgement, courses, context, told)
    return Sheet(_identified(report, soaks[-1].header.job_id), drawings, shown)


def _pointed(judgement: Judgement, evidence: Evidence) -> list[tuple[float, float]]:
    """Return the spans in s of this soak that the judgement holds against the unit."""
    return sorted(
        {
            (one.from_s, one.to_s)
            for finding in judgement.findings
            if finding.verdict is Verdict.NOT_MET
            for one in finding.pointers
            if one.soak_id == evidence.header.soak_id
        }
    )


OF_AN_EDITION = frozenset({"edition", "issued_utc", "report_id", "end"})
"""Keys that differ between two editions which say the same."""


def renumbered(sheet: Sheet, edition: int, issued_utc: str) -> Sheet:
    """Return a sheet as another edition, with the id that belongs to it."""
    job_id = sheet.report.report_id.rsplit("/", 2)[0]
    report = sheet.report.model_copy(update={"edition": edition, "issued_utc": issued_utc})
    return replace(sheet, report=_identified(report, job_id))


def _identified(report: Report, job_id: str) -> Report:
    """Give the report its unique id: the job, the edition, and the beginning of its own SHA-256."""
    said = report.model_dump(mode="json", exclude={"report_id", "end"})
    digest = hashlib.sha256(canonical_json(said)).hexdigest()[:10]
    report_id = f"{shortened(job_id, 60)}/{report.edition}/{digest}"
    return report.model_copy(update={"report_id": report_id, "end": f"End of report {report_id}"})


def _report(
    judgement: Judgement, soaks: Sequence[Course], context: ReportContext, told: Sequence[Soak]
) -> Report:
    header = soaks[-1].header
    listed = list_soaks(judgement, soaks, context)
    return Report(
        audience="bench",
        title="Report of a soak test",
        report_id="",
        edition=context.edition,
        issued_utc=context.issued_utc,
        performed=_performed(told),
        simulated=any(evidence.header.simulated for evidence in soaks),
        grade=Grade(
            ready=judgement.ready,
            words=judgement.grade,
            reason=judgement.reason,
            open_points=tuple(judgement.open_points),
        ),
        no_picture=no_picture(told, judgement),
        claim=Claim(words=context.claim, means=CLAIMS[context.claim]),
        other_claims=tuple(
            Claim(words=words, means=CLAIMS[words]) for words in EXPLAINED if words != context.claim
        ),
        counts=counts_of(judgement.findings),
        issuer=_issuer(context),
        unit=_unit(header.unit, header.model_sheet, context),
        repairs=_repairs(header.unit, header.model_sheet, judgement.findings),
        summary=together(judgement.findings),
        tested=tuple(
            as_tested(one)
            for verdict in (Verdict.NOT_MET, Verdict.NOT_SHOWN, Verdict.MET)
            for one in judgement.findings
            if one.verdict is verdict
        ),
        shown=shown_functions(judgement.findings, header.model_sheet),
        not_tested=not_tested(judgement, soaks),
        known_limits=known_limits(judgement, soaks, context),
        smallest_breaks=smallest_breaks(soaks, context),
        causes=_causes(soaks),
        soaks_in_one_line=in_one_line(listed),
        soaks_listed=listed,
        soaks=tuple(told),
        wear=wear_of_all(told),
        shelf_life=shelf_life(told, context) if judgement.ready else "",
        rechecks=rechecks(told, judgement),
        at_home=at_home(judgement, soaks),
        safety=_safety(context),
        recall_checked=_recall(context),
        method=_method(judgement, soaks, context),
        deviations=deviations(soaks, context),
        from_others=_from_others(soaks, context),
        instruments=_all_instruments(soaks, context),
        cautions=CAUTIONS,
        relates_only="The results relate only to the item tested.",
        end="",
    )


def _causes(soaks: Sequence[Course]) -> tuple[str, ...]:
    """Say where the repairer might look first; nothing where no event speaks against the unit."""
    found = probable_causes(soaks)
    if not found and not any(Clues(course).events for course in soaks):
        return ()
    swap = (_SWAP,) if not found or swap_decides(found) else ()
    return (*([cause.text for cause in found] or [no_idea(soaks)]), *swap)


def _performed(told: Sequence[Soak]) -> str:
    days = sorted(utc[:10] for soak in told for utc in (soak.began_utc, *soak.resumed_utc) if utc)
    if not days:
        return _BLANK
    return days[0] if days[0] == days[-1] else f"{days[0]} to {days[-1]}"


def _issuer(context: ReportContext) -> Issuer:
    return Issuer(
        bench=context.bench,
        address=context.address or _BLANK,
        location=context.location or context.address or _BLANK,
        authorised_by=context.authorised_by or "nobody yet",
        customer=context.customer or "the bench's own stock",
    )


def _unit(unit: Json, sheet: Json, context: ReportContext) -> Unit:
    return Unit(
        model=str(sheet.get("model") or unit.get("model", "")),
        kind=str(sheet.get("kind", "")),
        year_made=context.year_made or sheet.get("year_made"),
        tag=str(unit.get("tag", "") or "none"),
        serial=str(unit.get("serial", "") or "none"),
        condition=context.condition or _BLANK,
        received_on=context.received_on or _BLANK,
        holds_data=bool(sheet.get("holds_data")),
        wiped=context.wiped or _wiped(unit.get("wiped"), bool(sheet.get("holds_data"))),
    )


def _wiped(wiped: Json | None, holds_data: bool) -> str:
    if not wiped:
        return "no record that data was removed" if holds_data else "this model holds no data"
    parts = [str(wiped.get("how", "")), f"verified: {wiped.get('verified', 'no')}"]
    parts += [f"by {wiped.get('by', '?')}", f"on {wiped.get('on', '?')}"]
    return ", ".join(parts)


def _repairs(unit: Json, sheet: Json, findings: Sequence[Finding]) -> tuple[Repair, ...]:
    functions = sheet.get("functions", {})
    told = []
    for repair in unit.get("repairs", []):
        name = str(repair.get("function", ""))
        about = [one for one in findings if name in one.requirement.shows_repair]
        failed = any(one.verdict is Verdict.NOT_MET for one in about)
        shown_by = [
            one.requirement.text or one.requirement.id
            for one in about
            if one.verdict is Verdict.MET and not failed
        ]
        told.append(
            Repair(
                what=str(repair.get("what", "")),
                function=str(functions.get(name, {}).get("text", name)),
                on=str(repair.get("on", "")),
                kind=str(repair.get("kind", "")),
                shown_by=tuple(dict.fromkeys(shown_by)),
            )
        )
    return tuple(told)


def _safety(context: ReportContext) -> Safety:
    test = context.safety_test
    if test is None:
        return Safety(done=False, words="Electrical safety test: NOT DONE")
    words = f"Electrical safety test: {test.result}, by {test.by} on {test.on}, {test.method}"
    return Safety(done=True, words=words)


def _recall(context: ReportContext) -> str:
    if not context.recall_checked_on:
        return "not checked"
    return f"checked on {context.recall_checked_on}: {context.recall_result or 'none found'}"


def _method(judgement: Judgement, soaks: Sequence[Evidence], context: ReportContext) -> Method:
    scripts = []
    for evidence in soaks:
        script = {key: one for key, one in evidence.header.script.items() if key != "file"}
        digest = hashlib.sha256(canonical_json(script)).hexdigest()
        scripts.append(f"script {script.get('name', '')}, SHA-256 {digest}")
    return Method(
        words="Soak under scripted checks by soak; judged by rules fixed before measuring.",
        scripts=tuple(dict.fromkeys(scripts)),
        rules=f"judging rules {judgement.rules}",
        program=f"soak {context.version}",
        sampling="no sampling: this unit itself was tested",
    )


def _from_others(soaks: Sequence[Evidence], context: ReportContext) -> tuple[str, ...]:
    told = []
    if context.safety_test:
        told.append(f"Electrical safety test: {context.safety_test.by}.")
    answers = sum(len(evidence.marks("answer")) for evidence in soaks)
    if answers:
        told.append(f"{answers} answer{'s' if answers > 1 else ''} given by hand by the operator.")
    by_hand = sorted(
        {
            one.name
            for evidence in soaks
            for one in instruments(evidence.header.fixture, context)
            if "hand" in one.driver
        }
    )
    told += [f"{name}: worked or read by hand." for name in by_hand]
    if any(evidence.header.simulated for evidence in soaks):
        told.append("All readings of simulated instruments come from a model, not from a unit.")
    return tuple(told) or ("nothing: all results are the bench's own measurements",)


def _all_instruments(soaks: Sequence[Evidence], context: ReportContext) -> tuple[Instrument, ...]:
    found = [one for evidence in soaks for one in instruments(evidence.header.fixture, context)]
    return tuple(dict.fromkeys(found))
