"""Gather the content of a report from a judgement, its journals and what the bench adds."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from soak.charts.words import shortened
from soak.derive.course import Course, course_of
from soak.derive.electric.power import switched_by_hand
from soak.derive.events.trips import never_off
from soak.evidence import Evidence
from soak.frozen.shape import as_json
from soak.frozen.sheet import ModelSheet
from soak.frozen.unit import UnitStated, WipedStated
from soak.judge.before.outlived import of_job
from soak.judge.believed import doubted
from soak.judge.explain.causes import no_idea, probable_causes
from soak.judge.explain.clues import Clues
from soak.judge.explain.swapping import swap_told, worth_swapping
from soak.judge.functions import about
from soak.judge.grade import by_persons_only
from soak.judge.judging import demanded
from soak.judge.worst import in_short, kinds_of
from soak.marks import Answered, fact_as
from soak.names import named
from soak.records import canonical_json
from soak.report.contents import before
from soak.report.contents.aftercare import at_home, no_picture, rechecks, shelf_life, wear_of_all
from soak.report.contents.context import CLAIMS, EXPLAINED, ReportContext
from soak.report.contents.corrections import corrected, said_as_limits
from soak.report.contents.frames import Picture, pictures
from soak.report.contents.given import NOBODY_YET, NONE, NOT_RECORDED, UNNAMED, day, given
from soak.report.contents.grouping import together
from soak.report.contents.history import in_one_line, list_soaks
from soak.report.contents.limits import (
    CAUTIONS,
    known_limits,
    narrowed_late,
    not_tested,
    shown_functions,
    smallest_breaks,
)
from soak.report.contents.photographs import as_pictures, photographs
from soak.report.contents.telling import deviations, instruments, tell
from soak.report.contents.wording import as_tested, beside_judge, counts_of
from soak.report.model import (
    Grade,
    Issuer,
    Method,
    Repair,
    Report,
    Safety,
    Soak,
    Unit,
)
from soak.report.output.drawing import Drawing, draw
from soak.rules.core.verdict import Finding, Judgement, Verdict
from soak.words import NOTHING_SAID, Message, counted, msg, paragraph, sentence


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
    soaks_: list[Soak] = []
    courses = [course_of(evidence) for evidence in soaks]
    for number, evidence in enumerate(courses, start=1):
        drawn = draw(evidence, number)
        frames = pictures(evidence, number, _pointed(judgement, evidence))
        drawings |= {drawing.chart.name: drawing for drawing in drawn}
        shown |= {frame.name: picture for frame, picture in frames}
        soaks_.append(
            tell(evidence, [figure.chart for figure in drawn], [frame for frame, _ in frames])
        )
    shown |= as_pictures(context.photographs)
    report = _report(judgement, courses, context, soaks_)
    return Sheet(_identified(report, soaks[-1].header.job_id), drawings, shown)


def _pointed(judgement: Judgement, evidence: Evidence) -> list[tuple[float, float]]:
    """Return the spans in s of this soak that the judgement holds against the unit."""
    return sorted(
        {
            (pointer.from_s, pointer.to_s)
            for finding in judgement.findings
            if finding.verdict is Verdict.NOT_MET
            for pointer in finding.pointers
            if pointer.soak_id == evidence.header.soak_id
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
    end = msg("End of report {report}", report=report_id)
    return report.model_copy(update={"report_id": report_id, "end": end})


def _report(
    judgement: Judgement, soaks: Sequence[Course], context: ReportContext, told: Sequence[Soak]
) -> Report:
    header = soaks[-1].header
    listed = list_soaks(judgement, soaks, context)
    earlier = of_job(soaks)
    return Report(
        audience="bench",
        title=msg("Report of a soak test"),
        report_id="",
        edition=context.edition,
        issued_utc=context.issued_utc,
        signed_by=context.signed_by,
        performed=_performed(told),
        simulated=any(evidence.header.simulated for evidence in soaks),
        doubted=(*context.not_as_recorded, *_doubted(soaks)),
        grade=_grade(judgement, context),
        no_picture=no_picture(told, judgement, context),
        claim=CLAIMS[context.claim],
        other_claims=tuple(CLAIMS[words] for words in EXPLAINED if words != context.claim),
        counts=counts_of(judgement.counted or judgement.findings),
        issuer=_issuer(context),
        unit=_unit(header.unit, header.model_sheet, context),
        repairs=_repairs(header.unit, header.model_sheet, judgement.findings),
        corrections=corrected(context),
        failed=(*filter(None, map(never_off, soaks)), *_failed(judgement)),
        summary=together(judgement.findings),
        tested=tuple(
            as_tested(finding)
            for verdict in (Verdict.NOT_MET, Verdict.NOT_SHOWN, Verdict.MET)
            for finding in judgement.findings
            if finding.verdict is verdict
        ),
        shown=shown_functions(judgement),
        not_tested=not_tested(judgement, soaks),
        known_limits=(*said_as_limits(context), *known_limits(judgement, soaks, context)),
        smallest_breaks=smallest_breaks(soaks, context),
        causes=_causes(soaks),
        soaks_in_one_line=paragraph(in_one_line(listed), before.in_one_line(earlier)),
        soaks_listed=listed,
        photographs=photographs(context.photographs),
        jobs_before=before.list_jobs(earlier, header.model_sheet),
        soaks=tuple(told),
        wear=wear_of_all(told),
        shelf_life=shelf_life(told, context) if judgement.ready else NOTHING_SAID,
        rechecks=rechecks(told, judgement),
        at_home=at_home(judgement, soaks),
        safety=_safety(context),
        recall_checked=_recall(context),
        method=_method(judgement, soaks, context),
        deviations=deviations(soaks, context),
        from_others=_from_others(soaks, context),
        instruments=instruments(soaks, context),
        cautions=CAUTIONS,
        relates_only=msg("The results relate only to the item tested."),
        end=NOTHING_SAID,
    )


def _grade(judgement: Judgement, context: ReportContext) -> Grade:
    return Grade(
        ready=judgement.ready,
        words=named(judgement.grade),
        reason=paragraph(judgement.reason, judgement.aside),
        reason_for_buyers=judgement.reason,
        as_far_as=judgement.as_far_as,
        open_points=(*judgement.open_points, *narrowed_late(judgement, context)),
        judged_by=by_persons_only(judgement.findings),
    )


def _causes(soaks: Sequence[Course]) -> tuple[Message, ...]:
    """Say where the repairer might look first; nothing where no event speaks against the unit."""
    causes = probable_causes(soaks)
    if not causes and not any(Clues(course).events for course in soaks):
        return ()
    swaps = [swap_told(of) for of in worth_swapping(soaks, causes)]
    return (*([cause.text for cause in causes] or [no_idea(soaks)]), *swaps)


def _performed(told: Sequence[Soak]) -> Message:
    days = sorted(utc[:10] for soak in told for utc in (soak.began_utc, *soak.resumed_utc) if utc)
    if not days:
        return NOT_RECORDED
    if days[0] == days[-1]:
        return day(days[0])
    return msg("{first} to {last}", first=day(days[0]), last=day(days[-1]))


def _issuer(context: ReportContext) -> Issuer:
    return Issuer(
        bench=given(context.bench, UNNAMED),
        address=given(context.address),
        location=given(context.location or context.address),
        authorised_by=given(context.authorised_by, NOBODY_YET),
        customer=named(context.customer) if context.customer else NOT_RECORDED,
    )


def _unit(unit: UnitStated, sheet: ModelSheet, context: ReportContext) -> Unit:
    return Unit(
        model=str(sheet.model or unit.model),
        kind=sheet.kind,
        year_made=context.year_made or sheet.year_made,
        tag=given(unit.tag, NONE),
        serial=given(unit.serial, NONE),
        condition=given(context.condition),
        received_on=day(context.received_on),
        holds_data=sheet.holds_data,
        wiped=given(context.wiped, _wiped(unit.wiped, sheet.holds_data)),
    )


def _wiped(wiped: WipedStated | None, holds_data: bool | None) -> Message:
    if wiped is None:
        if holds_data is None:
            return msg(
                "not stated whether this model holds data, and no record that any was removed"
            )
        if holds_data:
            return msg("no record that data was removed")
        return msg("this model holds no data")
    return msg(
        "{how}, verified: {verified}, by {by}, on {on}",
        how=wiped.how,
        verified=given(wiped.verified, msg("no")),
        by=wiped.by,
        on=day(wiped.on),
    )


def _repairs(
    unit: UnitStated, sheet: ModelSheet, findings: Sequence[Finding]
) -> tuple[Repair, ...]:
    repairs = []
    for repair in unit.repairs:
        name = repair.function
        exercising = about(name, findings)
        failed = any(finding.verdict is Verdict.NOT_MET for finding in exercising)
        met = [finding for finding in exercising if finding.verdict is Verdict.MET and not failed]
        shown_by = [beside_judge(demanded(finding.requirement), [finding]) for finding in met]
        repairs.append(
            Repair(
                what=repair.what,
                function=sheet.function_text(name),
                on=day(repair.on, NOTHING_SAID),
                kind=repair.kind,
                shown_by=tuple(dict.fromkeys(shown_by)),
            )
        )
    return tuple(repairs)


def _safety(context: ReportContext) -> Safety:
    test = context.safety_test
    if test is None:
        words = msg("Electrical safety test: NOT DONE")
        return Safety(done=False, words=words, in_short=words)
    in_short = msg(
        "Electrical safety test: {result}, by {by} on {on}",
        result=named(test.result),
        by=test.by,
        on=day(test.on),
    )
    words = msg("{test}, {method}", test=in_short, method=test.method)
    return Safety(done=True, words=words, in_short=in_short)


def _recall(context: ReportContext) -> Message:
    if not context.recall_checked_on:
        return msg("not checked")
    return msg(
        "checked on {on}: {result}",
        on=day(context.recall_checked_on),
        result=named(context.recall_result)
        if context.recall_result
        else msg("result not recorded"),
    )


def _method(judgement: Judgement, soaks: Sequence[Evidence], context: ReportContext) -> Method:
    scripts = []
    for evidence in soaks:
        script = evidence.header.script
        plain = {key: one for key, one in as_json(script).items() if key != "file"}
        digest = hashlib.sha256(canonical_json(plain)).hexdigest()
        name = named(script.name)
        scripts.append(msg("script {name}, SHA-256 {digest}", name=name, digest=digest))
    return Method(
        words=msg("Soak under scripted checks by soak; judged by rules fixed before measuring."),
        scripts=tuple(dict.fromkeys(scripts)),
        rules=msg("judging rules {version}", version=judgement.rules),
        program=f"soak {context.version}",
        sampling=msg("no sampling: this unit itself was tested"),
    )


def _from_others(soaks: Sequence[Course], context: ReportContext) -> tuple[Message, ...]:
    sentences = []
    if context.safety_test:
        sentences.append(msg("Electrical safety test: {by}.", by=context.safety_test.by))
    marks = [mark for evidence in soaks for mark in evidence.marks(Answered.mark)]
    answers = sum(fact_as(mark, Answered).answer is not None for mark in marks)
    if answers:
        sentences.append(
            counted(
                answers,
                "1 answer given by hand by the operator.",
                "{count} answers given by hand by the operator.",
            )
        )
    if any(switched_by_hand(course.header.fixture) and course.power for course in soaks):
        sentences.append(
            msg("The unit was switched by hand: when it was on is the operator's word.")
        )
    sentences += [
        msg("{instrument}: worked or read by hand.", instrument=name)
        for name in dict.fromkeys(
            instrument.name
            for instrument in instruments(soaks, context)
            if "hand" in instrument.driver
        )
    ]
    if any(evidence.header.simulated for evidence in soaks):
        sentences.append(
            msg("All readings of simulated instruments come from a model, not from a unit.")
        )
    nothing = msg("nothing: all results are the bench's own measurements")
    return tuple(sentences) or _doubted(soaks) or (nothing,)


def _failed(judgement: Judgement) -> tuple[Message, ...]:
    """List what failed, the worst first; where only earlier soaks did, the grade's reason."""
    missed = [finding for finding in judgement.findings if finding.verdict is Verdict.NOT_MET]
    failed = tuple(map(in_short, kinds_of(missed)))
    return failed or ((judgement.reason,) if judgement.because == "failed" else ())


def _doubted(soaks: Sequence[Course]) -> tuple[Message, ...]:
    return tuple(
        sentence(msg("{what}: what it showed proves nothing", what=doubt))
        for doubt in doubted(soaks)
    )
