"""Two soaks side by side, and the whole history judged again."""

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from soak.derive.course import course_of
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.desk.soaking.grading import as_restated, on_record
from soak.desk.units import open_ledger
from soak.errors import SoakError, UsageError
from soak.journal import open_evidence
from soak.journal.cleared import cleared
from soak.judge.explain.causes import no_idea, probable_causes
from soak.judge.explain.comparison import Line, compare
from soak.judge.explain.swapping import swap_told, worth_swapping
from soak.judge.grade import judge
from soak.ledger.ledger import Ledger
from soak.names import named
from soak.rules.core.rule import RULES
from soak.rules.core.verdict import is_ready
from soak.words import NOTHING_SAID, Data, Message, Output, joined, just, msg, table

Mapper = Callable[[Callable[[Any], Any], Iterable[Any]], Iterator[Any]]
"""`map` or something like it: a process pool's, a cluster scheduler's."""


def compare_soaks(bench_path: Path, one: str, other: str, *, as_json: bool) -> Output:
    """Compare two soaks of this bench."""
    bench = BenchFolder(bench_path)
    folders = [bench.find_soak(text) for text in (one, other)]
    if folders[0] == folders[1]:
        raise UsageError(msg("{one} and {other} are the same soak; name two", one=one, other=other))
    left, right = (open_evidence(folder) for folder in folders)
    compared = compare(left, right)
    if as_json:
        return Data(json.dumps([asdict(line) for line in compared], indent=2))
    head = Line(NOTHING_SAID, just(folders[0].name), just(folders[1].name))
    return table([(line.what, line.one, line.other, _says(line)) for line in (head, *compared)])


def _says(line: Line) -> Message:
    if line.differs is None:
        return NOTHING_SAID
    if line.differs:
        return msg("differs ({method})", method=line.method)
    return msg("no difference shown ({method})", method=line.method)


def causes_of(bench_path: Path, soak: str, *, as_json: bool) -> Output:
    """Return the probable causes of what a job's newest soak found; for the repairer only."""
    evidence = course_of(open_evidence(BenchFolder(bench_path).find_soak(soak)))
    causes = probable_causes([evidence])
    if as_json:
        return Data(json.dumps([asdict(cause) for cause in causes], indent=2))
    swaps = [swap_told(of) for of in worth_swapping([evidence], causes)]
    if not causes:
        return joined("\n", [no_idea([evidence]), *swaps])
    lines = [joined("  ", [f"{cause.explains:>4}", cause.text]) for cause in causes]
    head = msg("Pointers for the repairer, not findings; the likeliest first.")
    return joined("\n", [head, *lines, *swaps])


@dataclass(frozen=True, slots=True)
class Again:
    """One job judged again.

    Attributes
    ----------
    folders : sequence of str
        Its soaks' folders.
    before, now : str
        The grade in the ledger, and by today's rules.
    fault : str
        Why it could not be judged; empty if it could.
    missing : sequence of str
        Its soaks whose journals are gone; the new grade does not know what they held.
    ledger : str
        The ledger, which knows what was corrected and withdrawn since.
    """

    job_id: str
    folders: Sequence[str]
    before: str
    now: str = ""
    fault: str = ""
    missing: Sequence[str] = ()
    ledger: str = ""

    @property
    def changed(self) -> bool:
        """Whether today's rules give another grade."""
        return bool(self.now and self.before) and self.now != self.before


@dataclass(frozen=True, slots=True)
class CameBack:
    """A unit that came back, and what today's rules say of the job it was sold after.

    Attributes
    ----------
    before, now : str
        The grade when it was sold, and by today's rules.
    """

    unit: str
    complaint: str
    job_id: str
    before: str
    now: str

    @property
    def words(self) -> Message:
        """Whether today's rules would have caught it."""
        if self.before and not is_ready(self.before):
            verdict = msg("it was not ready when it was sold")
            if is_ready(self.now):
                verdict = msg("it was not ready when it was sold; today's rules would let it pass")
        elif is_ready(self.now):
            verdict = msg("would NOT have been caught by today's rules")
        else:
            verdict = msg("would be caught by today's rules")
        return msg(
            "{unit} came back ({complaint}): {verdict}",
            unit=self.unit,
            complaint=self.complaint,
            verdict=verdict,
        )


def judge_all(bench_path: Path, mapper: Mapper = map) -> Sequence[Again]:
    """Judge every job in the ledger by today's rules; what the ledger says stays as it is."""
    bench = BenchFolder(bench_path)
    ledger = open_ledger(bench_path)
    jobs: dict[str, Again] = {}
    for line in ledger.soaks():
        folder = bench.reports / line.soak_id
        known = jobs.get(line.job_id, Again(line.job_id, (), "", ledger=str(bench.ledger)))
        there = (folder / JOURNAL).is_file()
        jobs[line.job_id] = replace(
            known,
            before=line.grade or known.before,
            folders=[*known.folders, str(folder)] if there else known.folders,
            missing=known.missing if there else [*known.missing, line.soak_id],
        )
    return list(mapper(judged_again, jobs.values()))


def judged_again(job: Again) -> Again:
    """Judge one job by today's rules; for a worker."""
    if not job.folders:
        gone = [
            cleared(BenchFolder(Path(job.ledger).parent).reports / soak) for soak in job.missing
        ]
        first = next(filter(None, gone), None)
        return replace(job, fault=first.told if first else msg("its journals are gone"))
    try:
        ledger = Ledger(Path(job.ledger))
        soaks = [as_restated(ledger, open_evidence(Path(folder))) for folder in job.folders]
        judgement = judge(soaks, ledger=on_record(ledger, soaks[-1].header))
    except SoakError as fault:
        return replace(job, fault=fault.told)
    return replace(job, now=judgement.grade)


def history_again(bench_path: Path, mapper: Mapper = map, *, as_json: bool) -> Output:
    """Say which grades would change, and which come-returns would have been caught."""
    judged_again = judge_all(bench_path, mapper)
    returns = came_back(open_ledger(bench_path), judged_again)
    if as_json:
        jobs = [
            {key: one for key, one in asdict(job).items() if key != "ledger"}
            for job in judged_again
        ]
        data = {"rules": RULES, "jobs": jobs, "came_back": [*map(asdict, returns)]}
        return Data(json.dumps(data, indent=2))
    changed = [again for again in judged_again if again.changed]
    lines = [
        msg(
            "{count} jobs judged again by rules {rules}; {changed} grades would change",
            count=len(judged_again),
            rules=str(RULES),
            changed=len(changed),
        )
    ]
    lines += [
        msg(
            "{job}: {before} would be {now}",
            job=moved.job_id,
            before=named(moved.before),
            now=named(moved.now),
        )
        for moved in changed
    ]
    lines += [
        msg("{job}: could not be judged: {why}", job=rejudged.job_id, why=rejudged.fault)
        for rejudged in judged_again
        if rejudged.fault
    ]
    lines += [
        msg(
            "{job}: judged without {soaks}, whose journals are gone",
            job=rejudged.job_id,
            soaks=joined(", ", rejudged.missing),
        )
        for rejudged in judged_again
        if rejudged.missing and not rejudged.fault
    ]
    return joined("\n", [*lines, *(back.words for back in returns)])


def came_back(ledger: Ledger, found: Sequence[Again]) -> list[CameBack]:
    """Return the units that came back after a job that was judged again."""
    by_job = {job.job_id: job for job in found}
    returns = []
    for unit in ledger.list_units():
        stands = [line for line in ledger.unit_card(unit.tag).lines if not line.withdrawn]
        job_of = {line.entry: line.detail["job_id"] for line in stands if line.kind == "sold"}
        for back in (line for line in stands if line.kind == "came back"):
            job_id = job_of[back.detail["sale"]]
            again = by_job.get(job_id)
            if again is not None and again.now:
                returns.append(
                    CameBack(unit.tag, back.text, job_id, before=again.before, now=again.now)
                )
    return returns
