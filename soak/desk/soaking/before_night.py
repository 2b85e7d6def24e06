"""What stands open before a soak, with what closes each point; asked once whether to go on."""

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from soak.derive.course import course_of
from soak.desk.bench_folder import BenchFolder
from soak.desk.closing import closing, mend, outlive, put_back
from soak.desk.orders import Prepared
from soak.desk.paper.details import Details, read_details
from soak.desk.soaking.grading import as_restated, on_record, others_of, told_gone
from soak.errors import SoakError
from soak.frozen.fixture import Fixture
from soak.journal import JournalEvidence, MemoryJournal
from soak.journal.batches import BATCH_S
from soak.journal.reserve import RESERVE_BYTES
from soak.journal.rows import READING_BYTES
from soak.judge.before.words import to_outlive
from soak.judge.functions import functions_of
from soak.judge.grade import judge, shows_nothing
from soak.judge.open_points import open_ahead
from soak.ledger.ledger import Ledger
from soak.live.prompt import yes_or_no
from soak.measure.video.watcher_settings import WatcherSettings
from soak.records import Header, Session
from soak.room import free_bytes
from soak.rules.core.verdict import Exercised, Judgement, Verdict
from soak.run.plan import Plan
from soak.words import NOTHING_SAID, Amount, Message, Tell, msg


@dataclass(frozen=True, slots=True)
class Ahead:
    """A soak that is about to begin, and what its job came to so far.

    Attributes
    ----------
    header : Header
        As the soak would begin.
    functions : sequence of Exercised
        What it can show: judged while it is empty, beside what earlier soaks have shown.
    so_far : Judgement or None
        Of the job's earlier soaks; None if there are none.
    unread : sequence of Message
        Why earlier soaks of the job could not be judged.
    shows_nothing : bool
        Whether this soak can show nothing at all with what is wired.
    """

    prepared: Prepared
    header: Header
    functions: Sequence[Exercised]
    so_far: Judgement | None
    details: Details
    unread: Sequence[Message]
    shows_nothing: bool

    @property
    def tag(self) -> str:
        """The unit's code."""
        return self.header.unit.tag


@dataclass(frozen=True, slots=True)
class Standing:
    """One thing that stands open.

    Attributes
    ----------
    told, closes : Message
        What it is, and what closes it.
    asks : bool
        Whether it is worth the question: it would keep the unit from being ready, or harm somebody.
    """

    told: Message
    closes: Message
    asks: bool = True


def said_and_agreed(
    bench: BenchFolder,
    ledger: Ledger,
    prepared: Sequence[Prepared],
    say: Tell,
    *,
    as_it_is: bool,
) -> bool:
    """List what stands open; return whether to begin.

    It is asked once for all units, at a terminal only: a night that a program starts is not lost to
    a question that nobody hears. A script that goes with no listing is a first look with somebody
    beside it: listed, not asked. One beside the soaks proves nothing by itself: not even listed.
    """
    asks = False
    if short := short_of_room(prepared):
        say(msg("open: {short} To close it: make room there", short=short))
        asks = any(soak.script.head.listing for soak in prepared)
    for ready in prepared:
        if ready.script.head.beside:
            continue
        ahead = _ahead(bench, ledger, ready)
        for point in standing(ahead):
            say(
                msg(
                    "{tag}  open: {told} To close it: {closes}",
                    tag=ahead.tag,
                    told=point.told,
                    closes=point.closes,
                )
            )
            asks |= point.asks and ready.script.head.listing
    if not asks or as_it_is or not sys.stdin.isatty():
        return True
    return yes_or_no(msg("Go on as it is?"))


def standing(ahead: Ahead) -> list[Standing]:
    """Return everything that stands open before a soak."""
    return [point for tell in _TELLERS for point in tell(ahead)]


def _ahead(bench: BenchFolder, ledger: Ledger, one: Prepared) -> Ahead:
    header = one.plan(one.fixture).header
    now = datetime.now(UTC).isoformat()
    planned = MemoryJournal(
        header, Session(1, "", "", utc=now, begins_at_s=0.0, gap_s=0.0, gap_from="first start")
    ).evidence
    earlier: Sequence[JournalEvidence] = ()
    unread: list[Message] = []
    try:
        earlier, missing = others_of(bench, ledger, header)
        unread += [told_gone(bench.reports, soak_id) for soak_id in missing]
    except SoakError as fault:
        unread.append(fault.told)
    courses = [as_restated(ledger, evidence) for evidence in earlier]
    so_far = judge(courses, ledger=on_record(ledger, header)) if courses else None
    done = so_far.functions if so_far else ()
    findings = judge([planned]).findings
    functions = functions_of(
        course_of(planned),
        [*courses, course_of(planned)],
        findings,
        {function.name for function in done if function.verdict is Verdict.MET},
    )
    return Ahead(
        one,
        header,
        functions,
        so_far=so_far,
        details=read_details(bench, header.job_id),
        unread=unread,
        shows_nothing=shows_nothing(findings),
    )


def _shows_nothing(ahead: Ahead) -> list[Standing]:
    if not ahead.shows_nothing:
        return []
    told = msg("This soak will show nothing: no check of its script can use what is wired.")
    closes = msg(
        "wire what a check of it can use, or take another script; soak script explain SCRIPT "
        "--fixture FIXTURE says what each will show"
    )
    return [Standing(told, closes)]


def _by_the_judge(ahead: Ahead) -> list[Standing]:
    points = open_ahead(ahead.header, ahead.functions)
    return [
        Standing(point.told, closing(point, ahead.tag, ahead.prepared.sheet)) for point in points
    ]


def _failed_before(ahead: Ahead) -> list[Standing]:
    if ahead.so_far is None or ahead.so_far.because != "failed":
        return []
    sentence = msg(
        "The job has failed, and another soak does not undo that. {reason}",
        reason=ahead.so_far.reason,
    )
    return [Standing(sentence, mend(ahead.tag))]


def _not_judged(ahead: Ahead) -> list[Standing]:
    closes = put_back(ahead.tag)
    return [
        Standing(msg("An earlier soak of this job cannot be judged: {why}.", why=why), closes)
        for why in ahead.unread
    ]


def _not_outlived(ahead: Ahead) -> list[Standing]:
    closes = outlive(ahead.tag)
    return [Standing(sentence, closes, asks=False) for sentence in to_outlive(ahead.header)]


def _safety(ahead: Ahead) -> list[Standing]:
    if ahead.details.safety_test is not None:
        return []
    closes = msg("soak unit details {tag}, then [safety_test]", tag=ahead.tag)
    mains = ahead.prepared.sheet.mains is not False
    return [Standing(msg("No electrical safety test is on record."), closes, asks=mains)]


_TELLERS: Sequence[Callable[[Ahead], Sequence[Standing]]] = (
    _shows_nothing,
    _failed_before,
    _not_judged,
    _not_outlived,
    _by_the_judge,
    _safety,
)
"""Who says what stands open; whoever knows of more adds a function here."""


BATCH_BYTES = 150
"""A batch of readings beside its values: number, kind, link of 32 B, and SQLite's own share; a
state or a mark takes about as much."""
BATCHES_PER_S = 1 / BATCH_S
READINGS_PER_S = 1.0
"""What a probe gives unless its fixture says more; a transfer gives fewer."""
FRAME_BYTES = 305_000
"""A 1080p picture of film as capture cards send it, measured; a menu takes less."""


def needed_bytes(plan: Plan, fixture: Fixture) -> int:
    """Return what one soak may write by its script's latest end, its report included, B."""
    every_s = [_every_s(fixture, each.source) for each in plan.header.quantities]
    rates = [max(READINGS_PER_S, 1 / each_s) for each_s in every_s]
    per_s = BATCHES_PER_S * BATCH_BYTES + READING_BYTES * sum(rates)
    frames = 0 if fixture.capture is None else WatcherSettings().frames_in_all
    return int(plan.not_after_s * per_s) + frames * FRAME_BYTES + RESERVE_BYTES


def _every_s(fixture: Fixture, source: str) -> float:
    probe = fixture.probes.get(source.removeprefix("probe."))
    return float(getattr(probe, "every_s", 1 / READINGS_PER_S))


def short_of_room(prepared: Sequence[Prepared]) -> Message:
    """Say how much room lacks for soaks that run side by side; empty where there is enough."""
    needed = sum(needed_bytes(one.plan(one.fixture), one.fixture) for one in prepared)
    return less_room_than(needed, prepared[0].folder.parent)


def less_room_than(needed: int, reports: Path) -> Message:
    """Say how much less room there is for soaks than so many bytes; empty where it suffices."""
    there = next(path for path in (reports, *reports.parents) if path.is_dir())
    free = free_bytes(there)
    if free is None or free >= needed:
        return NOTHING_SAID
    return msg(
        "The disk of {there} has {free} free, and by its latest end this may write "
        "{needed}: a disk that gets full ends it.",
        there=str(there.resolve()),
        free=Amount(free, "B"),
        needed=Amount(needed, "B"),
    )
