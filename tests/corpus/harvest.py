"""A pytest plugin that keeps every job which a test judges, named after the test's claim.

The tests of the judge have made up, over time, a journal for nearly everything that can happen; so
they are the first source of the corpus. Only `make.py` uses this.
"""

import functools
import json
import os
import sys
from pathlib import Path
from typing import Any

import soak.journal.memory
import soak.judge.grade
import soak.judge.judging
from soak.errors import SoakError

MOST_OF_A_TEST = 4
"""So many jobs of one test are kept: a test that draws its own cases would give hundreds."""

_inside = False
_test = ""
_written: list[Any] = []
_unlike: list[str] = []
_found: dict[str, list[tuple[list[list[str]], Any]]] = {}


def pytest_configure() -> None:
    """Put the keeping between tests and judgement, before any test is imported."""
    begin = soak.journal.memory.MemoryJournal.__init__

    def beginning(self: Any, *given: Any, **named: Any) -> None:
        begin(self, *given, **named)
        _written.append(self)

    soak.journal.memory.MemoryJournal.__init__ = functools.wraps(begin)(beginning)
    judge, one = soak.judge.grade.judge, soak.judge.judging.judge_requirement

    def keeping(soaks: Any, script: Any = None) -> Any:
        return _kept(judge, list(soaks), script, soaks, script)

    def keeping_one(requirement: Any, soaks: Any) -> Any:
        from soak.records import to_json

        script = {"requirements": [to_json(requirement)]}
        return _kept(one, list(soaks), script, requirement, soaks)

    soak.judge.grade.judge = functools.wraps(judge)(keeping)
    soak.judge.judging.judge_requirement = functools.wraps(one)(keeping_one)


def pytest_runtest_setup(item: Any) -> None:
    """Remember whose jobs are kept."""
    global _test
    file = Path(str(item.fspath))
    _test = (
        f"{file.parent.name}/{file.stem.removeprefix('test_')}/{item.name.removeprefix('test_')}"
    )

    _written.clear()


def pytest_runtest_teardown() -> None:
    """Keep the journals in memory that the test wrote and nobody judged."""
    for journal in _written:
        if journal.evidence.header.requirements and journal.evidence.sessions():
            _keep([journal.evidence], None)


def pytest_sessionfinish(session: Any) -> None:
    """Keep the journals on disk, job by job; write all that was found for `make.py`."""
    global _test
    from soak.journal import open_evidence

    files = session.config._tmp_path_factory.getbasetemp()
    grouped: dict[tuple[str, str], list[Any]] = {}
    for file in sorted(files.rglob("journal.sqlite")):
        place = file.relative_to(files).parts[0]
        try:
            evidence = open_evidence(file)
            grouped.setdefault((place, evidence.header.job_id), []).append(evidence)
        except SoakError:
            continue  # a journal that the test broke
    for (place, _), soaks in grouped.items():
        _test = f"disk/{place.removeprefix('test_')}"
        _keep(soaks, None)
    if _unlike:
        sys.stderr.write("\n".join(["judged otherwise once stored:", *_unlike, ""]))
    Path(os.environ["HARVEST"]).write_text(json.dumps(_found), encoding="utf-8")


def _kept(judging: Any, soaks: list[Any], script: Any, *given: Any) -> Any:
    global _inside
    before, _inside = _inside, True
    try:
        if not before:
            _keep(soaks, script)
        return judging(*given)
    finally:
        _inside = before


def _keep(soaks: list[Any], script: Any) -> None:
    jobs = _found.setdefault(_test, [])
    if not soaks:
        return
    lines = [_lines(one) for one in soaks]
    if script is not None and any(_joined(job, lines, script) for job in jobs):
        return
    if len(jobs) < MOST_OF_A_TEST:
        _check(soaks, lines, script)
        jobs.append((lines, script))


def _lines(evidence: Any) -> list[str]:
    """Return the lines of a journal: made-up ones as they are, the others thinned."""
    from keeping import kept

    evidence = getattr(evidence, "_evidence", evidence)
    if hasattr(evidence, "state_list"):
        return kept(evidence, digits=17)
    return kept(evidence, thin_s=10.0)


def _check(soaks: list[Any], lines: list[list[str]], script: Any) -> None:
    """Make sure that what is stored is judged as what was made up."""
    from adapter import judged
    from freeze import differences
    from stored import read

    def results(of: list[Any]) -> dict[tuple[str, str], Any]:
        grade, findings = judged(of, script)
        return {(_test, ""): grade} | {(_test, one["id"]): one for one in findings}

    for one in differences(results(soaks), results([read(each) for each in lines])):
        _unlike.append(str(one))


def _joined(job: tuple[Any, Any], lines: list[list[str]], script: Any) -> bool:
    """Add what is demanded to a job of the same journals, unless it contradicts it."""
    before, other = job
    if before != lines or other is None or set(script) | set(other) != {"requirements"}:
        return False
    there = {one["id"]: one for one in other["requirements"]}
    if any(there.get(one["id"], one) != one for one in script["requirements"]):
        return False
    there |= {one["id"]: one for one in script["requirements"]}
    other["requirements"] = list(there.values())
    return True
