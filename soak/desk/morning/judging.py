"""Judge and export a soak for the operator."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from soak.derive.course import Course, course_of
from soak.desk.bench_folder import BenchFolder
from soak.desk.morning.bench_told import clock
from soak.desk.soaking.grading import Graded, exit_code, grade_job
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
from soak.records import Json, to_json
from soak.rules.core.verdict import Finding, Judgement, Verdict
from soak.run.script import all_requirements, find_script, read_script
from soak.words import paragraph

_INDENT = " " * 14
_PLACES = 12
"""So many places are listed under what was not met."""

_SIGNS = {"met": "+", "not met": "x", "not shown": "?", "not tested": "-"}


def judge_soak(bench_path: Path, soak: str, script: str, *, as_json: bool) -> tuple[str, int]:
    """Judge the job of a soak; return text and exit code."""
    bench = BenchFolder(bench_path)
    folder = bench.find_soak(soak)
    demanded, head = _by_other_script(bench, folder, script) if script else (None, [])
    graded = grade_job(bench, open_ledger(bench_path), folder, demanded)
    judgement = graded.judgement
    soaks = list(graded.soaks)
    head += _missing(graded)
    if as_json:
        text = _as_json(judgement, beside_as_data(judgement, soaks))
    else:
        text = "\n".join([*head, *_lines(judgement), *beside_grade(judgement, soaks)])
    return text, int(exit_code(judgement))


def export_soak(bench_path: Path, soak: str, folder: str, form: str) -> str:
    """Export a soak's tables; return where they lie."""
    writers = {"csv": export_csv, "parquet": export_parquet}
    if form not in writers:
        raise UsageError(f"--as {form}: there is csv and parquet")
    evidence = open_evidence(BenchFolder(bench_path).find_soak(soak))
    return "\n".join(map(str, writers[form](evidence, Path(folder))))


def _by_other_script(bench: BenchFolder, folder: Path, name: str) -> tuple[Json, list[str]]:
    header = open_evidence(folder).header
    script = read_script(find_script(name, bench.path))
    demanded = all_requirements(script, header.fixture, header.model_sheet)
    wrong = list(contradictions(demanded, script.head.not_after))
    if wrong:
        raise ScriptError.of(script.file, wrong)
    resolved = {**as_json(script.planned()), "requirements": [to_json(one) for one in demanded]}
    began = header.script.name
    return resolved, [
        f"judged under another script too: soaked by {began!r}, judged by {name!r} as well"
    ]


def _missing(graded: Graded) -> list[str]:
    told = [f"MIND: the grade was not recorded. {graded.unkept}"] if graded.unkept else []
    return told + [
        f"MIND: the journal of {soak_id} is gone; put its folder back" for soak_id in graded.missing
    ]


def _lines(judgement: Judgement) -> list[str]:
    lines = [f"{judgement.grade}: {judgement.reason}", f"by rules {judgement.rules}"]
    lines += [f"open: {point}" for point in judgement.open_points]
    return lines + [line for finding in judgement.findings for line in _of(finding)]


def _of(finding: Finding) -> list[str]:
    """Say a finding, and of one that is not met each place where it broke, if there are several."""
    sign = _SIGNS[finding.verdict.value]
    verdict = finding.verdict.value
    told = paragraph(finding.because, finding.aside)
    lines = [f"{sign} {verdict:<10}  {finding.requirement.text}", f"{_INDENT}{told}"]
    if finding.verdict is not Verdict.NOT_MET or len(finding.pointers) < 2:
        return lines
    places = [f"{clock(at.from_s)}  {at.what}  ({at.soak_id})" for at in finding.pointers]
    left = len(places) - _PLACES
    more = [f"and {left} more (--json lists all)"] if left > 0 else []
    return lines + [f"{_INDENT}{place}" for place in [*places[:_PLACES], *more]]


def _as_json(judgement: Judgement, beside: dict[str, Any]) -> str:
    def plain(value: object) -> Any:
        if isinstance(value, frozenset):
            return sorted(value)
        return str(value)

    data = {**asdict(judgement), "grade": judgement.grade, **beside}
    del data["counted"]  # what the counts on a page are made of
    return json.dumps(data, default=plain, indent=2)


def beside_grade(judgement: Judgement, soaks: Sequence[Evidence]) -> list[str]:
    """Return lines to print below the findings."""
    courses = _in_order(judgement, soaks)
    lines = _again(judgement, courses[-1])
    together = overall.overall_of(judgement.findings)
    if together is not None and together.bounds > 1:
        lines.append(overall.in_words(together))
    shown = pooled.beside(courses[-1].header.references.pool, courses)
    if shown:
        lines.append("beside it, and not graded:")
        lines += [f"  {pooled.in_words(one)}" for one in shown]
    return lines


def lacking_of(evidence: Evidence) -> list[str]:
    """Return what one soak by itself lacks; of one that still runs, what it lacks so far."""
    course = course_of(evidence)
    return _again(judge([course]), course)


def _again(judgement: Judgement, newest: Course) -> list[str]:
    resumable = newest.seal is None
    head = "lacking so far" if resumable else "run again"
    again = lacking.to_run_again(judgement.findings, newest)
    return [f"{head}: {lacking.in_words(one, resumable=resumable)}" for one in again]


def beside_as_data(judgement: Judgement, soaks: Sequence[Evidence]) -> dict[str, Any]:
    """Return the same for programs."""
    courses = _in_order(judgement, soaks)
    together = overall.overall_of(judgement.findings)
    shown = pooled.beside(courses[-1].header.references.pool, courses)
    again = lacking.to_run_again(judgement.findings, courses[-1])
    return {
        "run_again": [asdict(one) for one in again],
        "overall": asdict(together) if together is not None else None,
        "pooled": [asdict(one) for one in shown],
    }


def _in_order(judgement: Judgement, soaks: Sequence[Evidence]) -> list[Course]:
    courses = {course.header.soak_id: course for course in map(course_of, soaks)}
    return [courses[soak_id] for soak_id in judgement.soaks]
