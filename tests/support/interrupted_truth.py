"""What an interrupted soak recorded, held to what was done to it."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from as_recorded import AsRecorded
from interrupted_bench import InterruptedBench
from interrupted_soak import Outcome, Played, Row

from soak.derive.course import Course
from soak.derive.events.faults import lost_by, unit_faults
from soak.derive.spans import Span, common, minus, total_s
from soak.journal import open_evidence
from soak.judge.grade import judge
from soak.records import Header
from soak.rules.core.verdict import Judgement, Verdict
from soak.states import STALLED

NEAR_S = 0.6
"""Holes and losses are where they were to so much, s: one reading of the probe and a little."""
STICK_S = 1.2
"""The same for the stick, whose readings come once a second."""
BATCH_S = 0.5
"""What was recorded so shortly before a kill may not have been written yet, s."""
KINDS = {"picture lost": ("dropout", "restart", "hang")}
"""Kinds of fault that a unit which starts within a second does not let anybody tell apart."""
TOO_SHORT_FOR = ("no slow drift",)
SOURCES = ("capture", "stick", "probe.outside")
EVERYTHING = "all"


def played(row: Row, folder: Path) -> Outcome:
    """Play a row and hold its records to it."""
    with InterruptedBench(folder, blind_allowed=row.blind_allowed, tail_s=row.tail_s) as bench:
        run = Played(row, bench)
        run.play()
        outcome = Outcome(row, list(run.failed), told=bench.said())
        if not run.failed:
            held_to(run, outcome)
        outcome.slow |= bool(bench.unit.late_s)
        return outcome


def held_to(run: Played, outcome: Outcome) -> None:
    """Judge the records of a row and put into its outcome what is not as stated."""
    evidence = open_evidence(run.bench.soak_folder)
    course = Course(_Short(evidence))
    judgement = judge([course])
    outcome.grade, outcome.reason = judgement.because, str(judgement.reason)
    zeros = Zeros(run, course)
    # Unit and bench are played by one computer: pictures that only came late are that computer's.
    outcome.slow = any(
        one.state == STALLED and one.to_s - one.from_s <= NEAR_S for one in unit_faults(course)
    ) or any(
        one.state == STALLED and one.to_s - one.from_s <= NEAR_S
        for one in course.periods("capture")
    )
    outcome.slow |= any(one.detail.get("doubtful") for one in judgement.findings)
    outcome.wrong += zeros.wrong()
    outcome.wrong += _grade(run.row, judgement)
    if run.row.charged is not None:
        outcome.wrong += _charged(run, course, zeros, run.row.charged)
    outcome.not_shown += [
        one.requirement.rule for one in judgement.findings if one.verdict is Verdict.NOT_SHOWN
    ]
    outcome.wrong += _said_seen(run, course, zeros)
    outcome.unseen += _said_unseen(run, course, zeros)


class _Short(AsRecorded):
    """Evidence as it was recorded, without what a soak of 20 s has too few readings for."""

    @property
    def header(self) -> Header:
        header = super().header
        kept = [one for one in header.requirements if one.rule not in TOO_SHORT_FOR]
        return replace(header, requirements=tuple(kept))


class Zeros:
    """Where soak time 0 lies on the boot clock in each session, by what the relay heard."""

    def __init__(self, run: Played, course: Course) -> None:
        sessions = course.sessions()
        begins = [*(one.begins_at_s for one in sessions), float("inf")]
        launched = [*run.resumed_s, float("inf")]
        self._since_s: list[float] = []
        self._zeros_s: list[float] = []
        self._heard: list[bool] = []
        for session, until_s in zip(sessions, begins[1:], strict=True):
            boot_s = float(session.boot_s or 0.0)
            since_s = max((at_s for at_s in run.resumed_s if at_s <= boot_s), default=0.0)
            before_s = min(at_s for at_s in launched if at_s > since_s)
            ons = [mark.t_s for mark in course.marks("power") if mark.detail["on"]]
            said = next((t_s for t_s in ons if session.begins_at_s <= t_s < until_s), None)
            told = list(run.bench.board.told)
            heard = next((at_s for at_s, on in told if on and since_s < at_s < before_s), None)
            self._since_s.append(since_s)
            self._heard.append(said is not None and heard is not None)
            # What no power came on in is known by the session's own word alone.
            own_s = boot_s - session.begins_at_s
            self._zeros_s.append(own_s if said is None or heard is None else heard - said)

    def soak_s(self, boot_s: float) -> float:
        """Return the soak time that a session says of a time of the boot clock, s."""
        since = [n for n, s in enumerate(self._since_s) if s <= boot_s]
        return boot_s - self._zeros_s[since[-1]]

    def wrong(self) -> Iterator[str]:
        """Yield where time was lost or won between two sessions."""
        for number, zero_s in enumerate(self._zeros_s[1:], 2):
            short_s = zero_s - self._zeros_s[0]
            if abs(short_s) > NEAR_S and self._heard[0] and self._heard[number - 1]:
                yield f"the gap before session {number} is stated {short_s:.2f} s too short"


_GRADES = {"all met": "ready"}


def _grade(row: Row, judgement: Judgement) -> Iterator[str]:
    grade = _GRADES.get(judgement.because, judgement.because)
    if grade not in row.grades:
        against = [
            f"{one.requirement.rule}: {one.because}"
            for one in judgement.findings
            if one.verdict in (Verdict.NOT_MET, Verdict.NOT_SHOWN)
        ]
        points = [str(point) for point in judgement.open_points]
        yield f"{grade}, not {' or '.join(row.grades)}: {'; '.join([*against, *points])}"
    elif not re.search(row.reason, str(judgement.reason), re.IGNORECASE):
        yield f"the reason does not hold {row.reason!r}: {judgement.reason}"


def _charged(
    run: Played, course: Course, zeros: Zeros, stated: Sequence[tuple[str, int]]
) -> Iterator[str]:
    """Yield which losses are charged and were none, and the other way about."""
    left = unit_faults(course)
    lost = [("picture lost", number) for number in run.row.either]
    for kind, number in (*stated, *lost):
        begin_s, end_s = map(zeros.soak_s, run.spans[number])
        near = [one for one in left if begin_s - NEAR_S <= one.from_s <= end_s + NEAR_S]
        fits = [one for one in near if one.kind in KINDS.get(kind, (kind,))]
        # A loss that a hole lies in may be charged in pieces.
        left = [one for one in left if one not in fits]
        if not fits and number not in run.row.either:
            yield f"not charged: {kind} from {begin_s:.2f} to {end_s:.2f} s"
    for one in left:
        yield f"charged: {one.kind} from {one.from_s:.2f} to {one.to_s:.2f} s ({one.text})"
    bad = lost_by(course.header)
    losses = [loss for source in bad for loss in course.losses(source, bad[source])]
    for number in run.row.listed:
        begin_s, end_s = map(zeros.soak_s, run.spans[number])
        if not any(one.from_s < end_s and one.to_s > begin_s for one in losses):
            yield f"listed nowhere: the loss from {begin_s:.2f} to {end_s:.2f} s"


def _said_seen(run: Played, course: Course, zeros: Zeros) -> Iterator[str]:
    """Yield where a source is said to be seen within a hole."""
    on = _seen_on(course)
    for source in _sources(course):
        found = course.blind(source)
        for begin_s, end_s in _stated(run, run.row.holes, zeros, source):
            inner = (begin_s + _near_s(source), end_s - _near_s(source))
            lacks = minus(common([inner], on), found) if inner[1] > inner[0] else []
            if total_s(lacks) > 1e-3:
                yield f"seen, it is said: {source} from {_words(lacks)} in {_words([inner])}"


def _said_unseen(run: Played, course: Course, zeros: Zeros) -> Iterator[str]:
    """Yield where a source is said to be unseen, or for longer, than is stated."""
    on = _seen_on(course)
    for source in _sources(course):
        found = course.blind(source)
        must = _stated(run, run.row.holes, zeros, source)
        may = [(a - BATCH_S, b) for a, b in _stated(run, run.row.may, zeros, source)]
        near_s = _near_s(source)
        wide = [(begin_s - near_s, end_s + near_s) for begin_s, end_s in (*must, *may)]
        over = [(a, b) for a, b in minus(common(found, on), wide) if b - a > 1e-3]
        long = [span for span in over if not _short(span, wide)]
        if long:
            yield f"not seen, it is said: {source} from {_words(long)}"


def _near_s(source: str) -> float:
    return STICK_S if source == "stick" else NEAR_S


def _sources(course: Course) -> list[str]:
    return [source for source in SOURCES if source in course.sources]


def _short(span: Span, wide: Sequence[Span]) -> bool:
    """Tell a hole of its own that is too short to be one; what prolongs a stated one is none."""
    touches = any(a <= span[1] and b >= span[0] for a, b in wide)
    return not touches and span[1] - span[0] <= NEAR_S


def _seen_on(course: Course) -> list[Span]:
    """Return when the stretches ran, from the first on: before that all is being opened."""
    first = min((begin_s for begin_s, _ in course.power), default=0.0)
    whole = [span for name in ("starts", "run") for span in course.windows(name)]
    return common([(first, course.ends_s)], _joined(whole))


def _joined(whole: Sequence[Span]) -> list[Span]:
    return [(min(a for a, _ in whole), max(b for _, b in whole))] if whole else []


def _stated(
    run: Played, holes: Sequence[tuple[str, str, str]], zeros: Zeros, source: str
) -> list[Span]:
    """Return holes as a row states them, in soak time, s."""
    return [
        (zeros.soak_s(run.moment(begins)), zeros.soak_s(run.moment(ends)))
        for of, begins, ends in holes
        if of in (EVERYTHING, source)
    ]


def _words(spans: Sequence[Span]) -> str:
    return ", ".join(f"{begin_s:.2f} to {end_s:.2f} s" for begin_s, end_s in spans)
