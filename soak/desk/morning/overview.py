"""The whole bench at a glance: where each unit stands, why, and what to do next."""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Any

from soak.derive.course import course_of
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.desk.closing import closing, mend
from soak.desk.morning.bench_told import clock
from soak.desk.soaking.grading import as_restated, on_record, others_of
from soak.desk.soaking.left_on import left_on_s
from soak.desk.units import open_ledger
from soak.desk.wrapped import window_width, wrapped
from soak.errors import SoakError
from soak.journal import JournalEvidence, open_evidence
from soak.journal.ownership import is_owned
from soak.judge import lacking
from soak.judge.grade import judge
from soak.ledger.entries import SoakLine, Unit
from soak.ledger.ledger import Ledger
from soak.marks import Answered, QuestionAsked, facts
from soak.names import named
from soak.reader import spoken
from soak.report.output.files import BUYER_PAGE
from soak.rules.core.verdict import Judgement
from soak.run.asking import ASKED, open_question
from soak.run.left import left_s
from soak.words import NOTHING_SAID, Amount, Data, Message, Output, counted, joined, just, msg


class Stage(StrEnum):
    """Where a unit stands, in the order in which somebody is wanted."""

    ASKS = "asks"
    CUT_OFF = "cut off"
    FAILED = "failed"
    BACK = "came back"
    INCOMPLETE = "incomplete"
    UNREAD = "cannot be read"
    NOT_SOAKED = "not soaked"
    READY = "ready"
    RUNS = "runs"
    REPORTED = "reported"
    SOLD = "sold"


_IN_WORDS: Mapping[Stage, Message] = {
    Stage.ASKS: msg("waits for an answer"),
    Stage.CUT_OFF: msg("was cut off"),
    Stage.FAILED: msg("not ready: failed"),
    Stage.BACK: msg("came back"),
    Stage.INCOMPLETE: msg("not ready: incomplete"),
    Stage.UNREAD: msg("cannot be read"),
    Stage.NOT_SOAKED: msg("not soaked yet"),
    Stage.READY: msg("no report yet"),
    Stage.RUNS: msg("runs"),
    Stage.REPORTED: msg("report made"),
    Stage.SOLD: msg("sold"),
}
_NOBODY_WANTED = frozenset({Stage.RUNS, Stage.REPORTED, Stage.SOLD})


@dataclass(frozen=True, slots=True)
class Standing:
    """One unit.

    Attributes
    ----------
    since : Message
        What stands beside the stage; empty for nothing.
    reason : Message
        Why, in whole sentences.
    open_ : sequence of Message
        What is open, a line each.
    next_ : sequence of Message
        What to do, a line each: mostly commands.
    soak_id, grade : str
        Of the newest soak; empty if there is none.
    worst : int
        Of one that failed: so many demands are not met.
    """

    tag: str
    model: str
    stage: Stage
    since: Message = NOTHING_SAID
    reason: Message = NOTHING_SAID
    open_: Sequence[Message] = ()
    next_: Sequence[Message] = ()
    soak_id: str = ""
    grade: str = ""
    worst: int = 0


def overview(bench_path: Path, *, as_json: bool) -> Output:
    """Return how the bench stands, a paragraph a unit; who is wanted first comes first."""
    bench = BenchFolder(bench_path)
    ledger = open_ledger(bench_path)
    units = ledger.list_units()
    fresh = _not_ended(bench, ledger)
    standings = wanted_first(
        _Unit(bench, ledger, unit, fresh.get(unit.tag, ())).standing() for unit in units
    )
    if as_json:
        return Data(json.dumps([_as_data(standing) for standing in standings], indent=2))
    if not standings:
        return msg("no unit yet; add one with `soak unit add SERIAL --model MODEL`")
    width = window_width()
    shown = [at for at in standings if at.stage is not Stage.SOLD]
    parts = ["\n".join(_lines(standing, width)) for standing in shown]
    return Data("\n\n".join([wrapped(_in_short(standings), width, ""), *parts]))


def wanted_first(standings: Iterable[Standing]) -> list[Standing]:
    """Return units in the order in which somebody is wanted; the worst failure first."""
    order = list(Stage)
    return sorted(standings, key=lambda at: (order.index(at.stage), -at.worst))


def _in_short(standings: Sequence[Standing]) -> Message:
    here = [at for at in standings if at.stage is not Stage.SOLD]
    wanted = [at for at in here if at.stage not in _NOBODY_WANTED]
    sold = [at.tag for at in standings if at.stage is Stage.SOLD]
    parts = [
        counted(len(here), "1 unit on the bench", "{count} units on the bench"),
        counted(
            len(wanted),
            "1 wants something",
            "{count} want something",
            none=msg("none wants anything"),
        ),
    ]
    runs = sum(at.stage in (Stage.RUNS, Stage.ASKS) for at in here)
    parts += [counted(runs, "1 runs", "{count} run")] if runs else []
    parts += [msg("sold: {tags}", tags=", ".join(sold))] if sold else []
    return joined("; ", parts)


def _lines(standing: Standing, width: int) -> Iterator[str]:
    head = joined(", ", [_IN_WORDS[standing.stage], standing.since])
    if standing.stage in (Stage.READY, Stage.REPORTED):  # it may be ready as far as tested
        head = joined(", ", [named(standing.grade), _IN_WORDS[standing.stage]])
    yield wrapped(joined("  ", [standing.tag, head]), width, "")
    for sentence in (standing.reason, *standing.open_):
        if sentence:
            yield wrapped(sentence, width, "    ")
    for step in standing.next_:
        follows = msg("next: {what}", what=step)
        yield f"    {spoken(follows)}"  # on one line, so that it can be copied


def _as_data(standing: Standing) -> dict[str, Any]:
    return {
        "tag": standing.tag,
        "model": standing.model,
        "stage": standing.stage.value,
        "soak": standing.soak_id,
        "grade": standing.grade,
        "reason": standing.reason,
        "open": list(standing.open_),
        "next": list(standing.next_),
    }


def _not_ended(bench: BenchFolder, ledger: Ledger) -> Mapping[str, Sequence[Path]]:
    """Return the folders of soaks that the ledger knows no end of, by the unit's tag."""
    ended = {line.soak_id for line in ledger.soaks() if line.seal and line.grade}
    folders = {file.parent for file in bench.reports.glob(f"*/{JOURNAL}")}
    folders |= {file.parent for file in bench.reports.glob(f"*/{ASKED}") if is_owned(file.parent)}
    by_tag: dict[str, list[Path]] = {}
    for folder in sorted(folders, key=lambda folder: folder.stat().st_mtime):
        if folder.name not in ended:
            by_tag.setdefault(_tag_of(folder), []).append(folder)
    return by_tag


def _tag_of(folder: Path) -> str:
    try:
        return open_evidence(folder).header.unit.tag
    except SoakError:
        return folder.name.partition("-")[0]  # an id begins with the tag


@dataclass(frozen=True, slots=True)
class _Unit:
    """One unit of the ledger, its newest soak and where it lies.

    Attributes
    ----------
    fresh : sequence of Path
        Folders of soaks without an end, the newest last.
    """

    bench: BenchFolder
    ledger: Ledger
    unit: Unit
    fresh: Sequence[Path]
    lines: Sequence[SoakLine] = field(default=(), init=False)

    def __post_init__(self) -> None:
        job = self.ledger.current_job(self.unit.tag)
        lines = [line for line in self.ledger.soaks(self.unit.tag) if line.job_id == job.job_id]
        object.__setattr__(self, "lines", lines)

    def standing(self) -> Standing:
        """Return where it stands."""
        for folder in reversed(self.fresh):
            if is_owned(folder):
                return self._runs(folder)
        if self.fresh and self._is_newest(self.fresh[-1]):
            return self._cut_off(self.fresh[-1])
        if self.unit.state == "sold":
            return self._at(Stage.SOLD)
        if not self.lines:
            return self._back() if self.unit.state == "came back" else self._not_soaked()
        return self._graded(self.lines[-1])

    def _at(self, stage: Stage, **said: Any) -> Standing:
        return Standing(self.unit.tag, self.unit.model, stage, **said)

    def _is_newest(self, folder: Path) -> bool:
        """Tell whether no soak of the unit was begun after the one that has no end."""
        try:
            began_utc = open_evidence(folder).sessions()[0].utc
        except (SoakError, IndexError):
            return True  # whatever it is, somebody must look at it
        return not any(line.began_utc > began_utc for line in self.lines)

    def _runs(self, folder: Path) -> Standing:
        asked, evidence = _question(folder)
        name = folder.name
        since = NOTHING_SAID if evidence is None else _since(evidence)
        if asked is None:
            follow = [just(f"soak join {name}")]
            return self._at(Stage.RUNS, since=since, soak_id=name, next_=follow)
        answer = {"yes/no": msg("yes|no"), "number": msg("NUMBER")}.get(asked.expects, msg("done"))
        reply = just(f"soak answer {name} {asked.id} {spoken(answer)}")
        return self._at(Stage.ASKS, since=since, reason=asked.text, soak_id=name, next_=[reply])

    def _cut_off(self, folder: Path) -> Standing:
        name = folder.name
        resume = [just(f"soak resume {name}")]
        try:
            evidence = open_evidence(folder)
            if evidence.seal is not None:
                told = msg("It came to its end, and was cut off before grade and report.")
                return self._at(Stage.CUT_OFF, reason=told, soak_id=name, next_=resume)
            since = msg("at {time}", time=clock(evidence.ends_s))
            on_s = left_on_s(evidence)
        except SoakError as fault:
            look = [just(f"soak verify {folder / JOURNAL}")]
            return self._at(Stage.UNREAD, reason=fault.told, soak_id=name, next_=look)
        left_on = NOTHING_SAID
        if on_s is not None:
            left_on = msg(
                "The power was on where the records end, and nothing says that it was switched "
                "off: look at the unit."
            )
        return self._at(Stage.CUT_OFF, since=since, reason=left_on, soak_id=name, next_=resume)

    def _back(self) -> Standing:
        hazards = [hazard for hazard in self.ledger.own_hazards(self.unit.tag) if not hazard.found]
        steps = [msg("soak intake {tag}@FIXTURE --complaint WHAT", tag=self.unit.tag)]
        if hazards:
            steps = [
                msg("soak unit settle {tag} --found WHAT --done WHAT --by WHO", tag=self.unit.tag)
            ]
        card = just(f"soak unit show {self.unit.tag}")
        return self._at(Stage.BACK, open_=[hazard.text for hazard in hazards], next_=[card, *steps])

    def _not_soaked(self) -> Standing:
        steps = [
            msg("soak unit repair {tag} WHAT --function F", tag=self.unit.tag),
            msg("soak run SCRIPT --unit {tag}@FIXTURE", tag=self.unit.tag),
        ]
        return self._at(Stage.NOT_SOAKED, next_=steps)

    def _graded(self, line: SoakLine) -> Standing:
        name = line.soak_id
        folder = self.bench.reports / name
        if line.grade.partition(",")[0] == "ready":
            made = (folder / BUYER_PAGE).is_file()
            step = just(f"soak report {name}")
            if made:
                step = msg("soak unit sold {tag} --where WHERE", tag=self.unit.tag)
            stage = Stage.REPORTED if made else Stage.READY
            return self._of(line, stage, next_=[step])
        try:
            judgement, newest = _judged(self.bench, self.ledger, folder)
        except SoakError as fault:
            return self._of(line, Stage.UNREAD, reason=fault.told)
        if judgement.because == "failed":
            steps = [just(f"soak judge {name}"), mend(self.unit.tag)]
            bad = sum(finding.verdict.value == "not met" for finding in judgement.findings)
            return self._of(line, Stage.FAILED, reason=judgement.reason, next_=steps, worst=bad)
        open_ = self._open(judgement, newest)
        return self._of(line, Stage.INCOMPLETE, reason=judgement.reason, **open_)

    def _of(self, line: SoakLine, stage: Stage, **said: Any) -> Standing:
        given = {"reason": line.reason, "soak_id": line.soak_id, "grade": line.grade, **said}
        return self._at(stage, **given)

    def _open(self, judgement: Judgement, newest: JournalEvidence) -> dict[str, Any]:
        """Return what is open, and what closes it, each command once."""
        header = newest.header
        again = lacking.to_run_again(judgement.findings, course_of(newest))
        points = [point for point in judgement.points if point.told != judgement.reason]
        told = [
            msg("run again: {what}", what=lacking.in_words(lack, resumable=False)) for lack in again
        ]
        fixture = header.fixture.file or "FIXTURE"
        run = just(f"soak run {header.script.name} --unit {self.unit.tag}@{fixture}")
        closes = [
            run if point.kind == "end" else closing(point, self.unit.tag, header.model_sheet)
            for point in judgement.points
        ]
        steps = dict.fromkeys([*closes, *([run] if again else [])])
        return {
            "open_": [*told, *(point.told for point in points)],
            "next_": list(steps) or [just(f"soak judge {header.soak_id}")],
        }


def _judged(bench: BenchFolder, ledger: Ledger, folder: Path) -> tuple[Judgement, JournalEvidence]:
    """Judge a job anew, and write nothing."""
    newest = open_evidence(folder)
    earlier, _ = others_of(bench, ledger, newest.header)
    soaks = [as_restated(ledger, evidence) for evidence in (*earlier, newest)]
    return judge(soaks, ledger=on_record(ledger, newest.header)), newest


def _question(folder: Path) -> tuple[QuestionAsked | None, JournalEvidence | None]:
    """Return what a soak that runs waits for, if anything, and its journal if it has one yet."""
    asked = open_question(folder)
    try:
        evidence = open_evidence(folder)
        answered = {answer.id for _, answer in facts(evidence, Answered)}
        asks = [asks for _, asks in facts(evidence, QuestionAsked) if asks.id not in answered]
    except SoakError:
        return asked, None
    return asked or next(iter(reversed(asks)), None), evidence


def _since(evidence: JournalEvidence) -> Message:
    """Tell since when a soak runs and until about when, by this computer's clock."""
    try:
        began = datetime.fromisoformat(evidence.sessions()[0].utc).astimezone()
        last = evidence.sessions()[-1]
        now_s = evidence.ends_s - last.begins_at_s
        ends = datetime.fromisoformat(last.utc) + timedelta(seconds=now_s + left_s(evidence))
    except (SoakError, IndexError, ValueError):
        return NOTHING_SAID
    at, until = (f"{when:%H:%M}" for when in (began, ends.astimezone()))
    return msg(
        "since {began}, {time} so far, until about {ends}",
        began=at,
        time=Amount(evidence.ends_s, "s"),
        ends=until,
    )
