"""Judge and export a soak for the operator."""

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from soak.derive.course import Course, course_of
from soak.desk.bench_folder import BenchFolder
from soak.desk.morning.bench_told import clock
from soak.desk.soaking.grading import Graded, exit_code, grade_job, told_gone
from soak.desk.trust.belongings import minds
from soak.desk.units import open_ledger
from soak.errors import ScriptError, UsageError
from soak.evidence import Evidence
from soak.frozen.shape import as_json
from soak.journal import open_evidence
from soak.journal.export import export_csv, export_parquet
from soak.judge import lacking, overall
from soak.judge.contradiction import contradictions
from soak.judge.explain import pooled
from soak.judge.grade import judge
from soak.judge.judging import demanded as demand_said
from soak.names import named
from soak.reader import spoken
from soak.records import Json, to_json
from soak.report.contents.wording import VERDICTS
from soak.rules.core.verdict import Finding, Judgement, Verdict
from soak.run.script import all_requirements, find_script, read_script
from soak.words import Data, Message, Output, indented, joined, lines_of, msg, paragraph

_INDENT = " " * 14
_PLACES = 12
"""So many places are listed under what was not met."""

_FEW_LINES = 12
"""Grade, reason and findings take no more lines than so many, unless all are asked for."""
_WORST_FIRST = (Verdict.NOT_MET, Verdict.NOT_SHOWN, Verdict.NOT_TESTED, Verdict.MET)

_SIGNS = {"met": "+", "not met": "x", "not shown": "?", "not tested": "-"}


def judge_soak(
    bench_path: Path, soak: str, script: str, *, whole: bool, as_json: bool
) -> tuple[Output, int]:
    """Judge the job of a soak; return text and exit code.

    Parameters
    ----------
    whole : bool
        Say every finding; else what is worst, in a few lines.
    """
    bench = BenchFolder(bench_path)
    folder = bench.find_soak(soak)
    demanded, head = _by_other_script(bench, folder, script) if script else (None, [])
    graded = grade_job(bench, open_ledger(bench_path), folder, demanded)
    judgement = graded.judgement
    soaks = list(graded.soaks)
    head += _missing(graded, bench.reports)
    if as_json:
        return _as_json(judgement, beside_as_data(judgement, soaks)), int(exit_code(judgement))
    text = lines_of([*head, *_lines(judgement, whole=whole), *beside_grade(judgement, soaks)])
    return text, int(exit_code(judgement))


def export_soak(bench_path: Path, soak: str, folder: str, form: str) -> Message:
    """Export a soak's tables; return where they lie."""
    writers = {"csv": export_csv, "parquet": export_parquet}
    if form not in writers:
        raise UsageError(msg("--as {form}: there is csv and parquet", form=form))
    evidence = open_evidence(BenchFolder(bench_path).find_soak(soak))
    return lines_of(map(str, writers[form](evidence, Path(folder))))


def _by_other_script(bench: BenchFolder, folder: Path, name: str) -> tuple[Json, list[Message]]:
    header = open_evidence(folder).header
    script = read_script(find_script(name, bench.path))
    demanded = all_requirements(script, header.fixture, header.model_sheet)
    wrong = list(contradictions(demanded, script.head.not_after))
    if wrong:
        raise ScriptError.of(script.file, wrong)
    resolved = {
        **as_json(script.planned()),
        "requirements": [to_json(requirement) for requirement in demanded],
    }
    began = header.script.name
    return resolved, [
        msg(
            "judged under another script too: soaked by {began}, judged by {name} as well",
            began=repr(began),
            name=repr(name),
        )
    ]


def _missing(graded: Graded, reports: Path) -> list[Message]:
    sentences = []
    if graded.unkept:
        sentences = [msg("MIND: the grade was not recorded. {why}", why=graded.unkept)]
    sentences += [
        msg("MIND: {what}", what=told_gone(reports, soak_id)) for soak_id in graded.missing
    ]
    for soak_id, faults in graded.not_as_recorded.items():
        sentences += minds(soak_id, faults)
    return sentences


def _lines(judgement: Judgement, *, whole: bool) -> list[Message]:
    lines = [
        joined(": ", [named(judgement.grade), judgement.reason]),
        msg("by rules {rules}", rules=str(judgement.rules)),
    ]
    lines += [msg("open: {point}", point=point) for point in judgement.open_points]
    if whole:
        return lines + [line for finding in judgement.findings for line in _of(finding)]
    ranked = sorted(judgement.findings, key=lambda finding: _WORST_FIRST.index(finding.verdict))
    bad = [finding for finding in ranked if finding.verdict is not Verdict.MET]
    shown = bad[: max(1, (_FEW_LINES - len(lines)) // 2)]
    lines += [line for finding in shown for line in _of(finding)[:2]]  # where it broke: --whole
    return [*lines, *_left(ranked[len(shown) :])]


def _left(findings: Sequence[Finding]) -> list[Message]:
    """Count what was not said; nothing where all was."""
    if not findings:
        return []
    number = Counter(finding.verdict for finding in findings)
    kinds = [
        msg("{count} {verdict}", count=number[verdict], verdict=VERDICTS[verdict.value])
        for verdict in _WORST_FIRST
        if number[verdict]
    ]
    return [msg("and {kinds}; --whole says each", kinds=joined(", ", kinds))]


def _of(finding: Finding) -> list[Message]:
    """Say a finding, and of one that is not met each place where it broke, if there are several."""
    sign = _SIGNS[finding.verdict.value]
    verdict = spoken(VERDICTS[finding.verdict.value])
    sentence = paragraph(finding.because, finding.aside)
    demand = joined(": ", [named(finding.requirement.stretch), demand_said(finding.requirement)])
    lines = [
        joined("  ", [f"{sign} {verdict:<10}", demand]),
        indented(sentence, _INDENT),
    ]
    if finding.verdict is not Verdict.NOT_MET or len(finding.pointers) < 2:
        return lines
    places = [
        joined("  ", [clock(at.from_s), at.what, f"({at.soak_id})"]) for at in finding.pointers
    ]
    left = len(places) - _PLACES
    more = [msg("and {count} more (--json lists all)", count=left)] if left > 0 else []
    return lines + [indented(place, _INDENT) for place in [*places[:_PLACES], *more]]


def _as_json(judgement: Judgement, beside: dict[str, Any]) -> Data:
    def plain(value: object) -> Any:
        if isinstance(value, frozenset):
            return sorted(value)
        return str(value)

    data = {**asdict(judgement), "grade": judgement.grade, **beside}
    data["open_points"] = judgement.open_points
    for key in ("counted", "points"):  # counts on a page and next commands are made of them
        del data[key]
    return Data(json.dumps(data, default=plain, indent=2))


def beside_grade(judgement: Judgement, soaks: Sequence[Evidence]) -> list[Message]:
    """Return lines to print below the findings."""
    courses = _in_order(judgement, soaks)
    lines = _again(judgement, courses[-1])
    together = overall.overall_of(judgement.findings)
    if together is not None and together.bounds > 1:
        lines.append(overall.in_words(together))
    shown = pooled.beside(courses[-1].header.references.pool, courses)
    if shown:
        lines.append(msg("beside it, and not graded:"))
        lines += [indented(pooled.in_words(pool)) for pool in shown]
    return lines


def lacking_of(evidence: Evidence) -> list[Message]:
    """Return what one soak by itself lacks; of one that still runs, what it lacks so far."""
    course = course_of(evidence)
    return _again(judge([course]), course)


def _again(judgement: Judgement, newest: Course) -> list[Message]:
    resumable = newest.seal is None
    head = msg("lacking so far") if resumable else msg("run again")
    again = lacking.to_run_again(judgement.findings, newest)
    return [joined(": ", [head, lacking.in_words(lack, resumable=resumable)]) for lack in again]


def beside_as_data(judgement: Judgement, soaks: Sequence[Evidence]) -> dict[str, Any]:
    """Return the same for programs."""
    courses = _in_order(judgement, soaks)
    together = overall.overall_of(judgement.findings)
    shown = pooled.beside(courses[-1].header.references.pool, courses)
    again = lacking.to_run_again(judgement.findings, courses[-1])
    return {
        "run_again": [asdict(lack) for lack in again],
        "overall": asdict(together) if together is not None else None,
        "pooled": [asdict(pool) for pool in shown],
    }


def _in_order(judgement: Judgement, soaks: Sequence[Evidence]) -> list[Course]:
    courses = {course.header.soak_id: course for course in map(course_of, soaks)}
    return [courses[soak_id] for soak_id in judgement.soaks]
