"""One interrupted soak played in real time, and its records held to what was done.

A row is data: what is done when, and what is to be found. Times of what was done are those of the
boot clock, which the records keep too: soak time 0 is where the relay heard the first on.
"""

import errno
import itertools
import re
import signal
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from as_recorded import AsRecorded
from interrupted_bench import COOL_DEGC, InterruptedBench
from patience import LIMIT_S

from soak.clock import boot_time_s
from soak.derive.course import Course
from soak.derive.faults import lost_by, unit_faults
from soak.derive.spans import Span, common, minus, total_s
from soak.journal import open_evidence
from soak.judge.grade import judge
from soak.rules.core.verdict import Judgement, Verdict

NEAR_S = 0.6
"""Holes and losses are where they were to so much, s: one reading of the probe and a little."""
SHOWN_WITHIN_S = 1.5
"""A unit that got power shows its picture so soon, s: what is hidden until then is its start."""
BATCH_S = 0.5
"""What was recorded so shortly before a kill may not have been written yet, s."""
KINDS = {"picture lost": ("dropout", "restart", "hang")}
"""Kinds of fault that a unit which starts within a second does not let anybody tell apart."""
ROOM_BYTES = 1 << 40
SOURCES = ("capture", "stick", "probe.outside")
EVERYTHING = "all"


@dataclass(frozen=True, slots=True)
class Step:
    """Something that is done.

    Attributes
    ----------
    what : str
        A verb of `VERBS`, and to whom: `"stop all"`, `"kill runner"`, `"show black"`.
    after : str
        From when `at_s` counts: `"start"` and `"run"`, when the relay hears the first and the
        second on; `"off again"`, `"on again"`, when it hears the first off and on after a resume;
        `"opened"`, when the capture is; or a number, when that step is over.
    at_s, for_s : float
        When it begins, and how long it is kept up, s.
    """

    what: str
    after: str
    at_s: float
    for_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Row:
    """An interruption, and what is to be found in the records.

    Attributes
    ----------
    grades : sequence of str
        `ready`, `failed`, `incomplete`: what may come of it.
    reason : str
        A regular expression that the grade's reason holds.
    charged : sequence of (str, int)
        Losses of the unit: the kind (`"picture lost"` or one of the judge's), and the step that was
        one.
    listed : sequence of int
        Steps that were losses and must be listed, charged or in doubt.
    holes : sequence of (str, str, str)
        A source (or `all`), and between which moments it was not seen: `"1<"` and `"1>"` are begin
        and end of step 1, `"off"` and `"on"` when the relay was told so after the first resume,
        `"opened again"` when the capture was, `"end"` the end of all; `"1> + 2"` is 2 s later.
    may : sequence of (str, str, str)
        Holes that may be told, too: where it is open whether somebody saw it.
    quick : bool
        Whether what is true hangs on a host that keeps up.
    blind_allowed : float
        As the script says.
    """

    name: str
    steps: tuple[Step, ...]
    grades: tuple[str, ...]
    reason: str = ""
    charged: tuple[tuple[str, int], ...] = ()
    listed: tuple[int, ...] = ()
    holes: tuple[tuple[str, str, str], ...] = ()
    may: tuple[tuple[str, str, str], ...] = ()
    quick: bool = False
    blind_allowed: float = 0.6


@dataclass
class Outcome:
    """What came of a row; `wrong` in words, empty if all is as stated."""

    row: Row
    wrong: list[str] = field(default_factory=list)
    grade: str = ""
    reason: str = ""
    told: str = ""


def _signal(how: signal.Signals) -> Callable[[InterruptedBench, str], None]:
    return lambda bench, who: bench.signal(who, how)


def _resume(bench: InterruptedBench, who: str) -> None:
    bench.until(lambda: bench.runners[-1].poll() is not None)
    bench.run("resume", "last", "--may-sleep")


def _heat(bench: InterruptedBench, degc: str) -> None:
    bench.thermometer.degc = float(degc)


def _once(bench: InterruptedBench, degc: str) -> None:
    bench.thermometer.once.append(float(degc))


def _show(bench: InterruptedBench, what: str) -> None:
    bench.unit.shows = what


def _say(bench: InterruptedBench, what: str) -> None:
    bench.thermometer.says = what


def _board(bench: InterruptedBench, how: str) -> None:
    board = bench.board
    board.deaf, board.stays_open = how == "deaf", how == "open"
    if how == "unplugged":
        board.peer.unplug()
    elif board.peer._master < 0:
        board.peer.plug()


def _stick(bench: InterruptedBench, how: str) -> None:
    kind, _, value = how.partition(" ")
    faults: Mapping[str, object] = {
        "gone": {"gone": errno.ENODEV},
        "stalls": {"stall_s": float(value or 0)},
    }.get(kind, {})
    bench.stick.be(**faults)


def _disk(bench: InterruptedBench, how: str) -> None:
    assert bench.disk is not None
    bench.disk.set_room(0 if how == "full" else ROOM_BYTES)


Do = Callable[[InterruptedBench, str], None]
VERBS: Mapping[str, tuple[Do, tuple[Do, str] | None]] = {
    "stop": (_signal(signal.SIGSTOP), (_signal(signal.SIGCONT), "")),
    "kill": (_signal(signal.SIGKILL), None),
    "resume": (_resume, None),
    "show": (_show, (_show, "clip")),
    "stick": (_stick, (_stick, "well")),
    "heat": (_heat, (_heat, str(COOL_DEGC))),
    "once": (_once, None),
    "say": (_say, (_say, "degrees")),
    "board": (_board, (_board, "well")),
    "disk": (_disk, (_disk, "room")),
}
"""What may be done, and how it is ended after its time; with an empty word to the same."""


class Played:
    """A row while it is played; `spans` is when each step was done, s of the boot clock."""

    def __init__(self, row: Row, bench: InterruptedBench) -> None:
        self.row, self.bench = row, bench
        self.spans: dict[int, Span] = {}
        self.resumed_s: list[float] = []
        self.failed: list[str] = []

    def play(self) -> None:
        """Run the soak with all that is done to it; return when the last runner has ended."""
        self.bench.run()
        threads = [
            threading.Thread(target=self._do, args=(number, step))
            for number, step in enumerate(self.row.steps)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        if not self.failed:
            self.bench.until(lambda: self.bench.runners[-1].poll() is not None)

    def _do(self, number: int, step: Step) -> None:
        verb, _, who = step.what.partition(" ")
        does, ends = VERBS[verb]
        try:
            self._wait_until(self._moment(step.after) + step.at_s)
            if verb == "resume":
                self.resumed_s.append(boot_time_s())
            began_s = boot_time_s()
            does(self.bench, who)
            if verb == "stick" and who.startswith("stalls"):
                self.spans[number] = (began_s, began_s + step.for_s)
                return
            self._wait_until(began_s + step.for_s)
            if ends is not None:
                ends[0](self.bench, ends[1] or who)
            self.spans[number] = (began_s, boot_time_s())
        except AssertionError as fault:
            self.failed.append(f"step {number} ({step.what}): {fault}")
            self.spans[number] = (0.0, 0.0)

    def _wait_until(self, at_s: float) -> None:
        """Wait until a time, or until the soak is over."""
        while (left_s := at_s - boot_time_s()) > 0:
            time.sleep(min(left_s, 0.05))
            if self.bench.runners[-1].poll() is not None and not self._may_go_on():
                return

    def _moment(self, after: str) -> float:
        """Wait for a moment and return when it was, s of the boot clock."""
        if after.isdigit():
            self._until(lambda: int(after) in self.spans)
            return self.spans[int(after)][1]
        self._until(lambda: self._reached(after) is not None)
        found = self._reached(after)
        assert found is not None
        return found

    def _until(self, true: Callable[[], bool]) -> None:
        ends_s = time.monotonic() + LIMIT_S
        while not true():
            if time.monotonic() > ends_s or self.failed:
                raise AssertionError("it did not come to that")
            if self.bench.runners[-1].poll() is not None and not self._may_go_on():
                raise AssertionError("the soak had ended by then")
            time.sleep(0.005)

    def _may_go_on(self) -> bool:
        return sum(step.what == "resume" for step in self.row.steps) >= len(self.bench.runners)

    def _reached(self, after: str) -> float | None:
        board = self.bench.board
        ons = [at_s for at_s, on in list(board.told) if on]
        if after in ("start", "run"):
            number = ("start", "run").index(after)
            return ons[number] if len(ons) > number else None
        if after == "opened":
            return next(iter(self.bench.unit.asked_s), None)
        count = int(after.rpartition(" ")[2]) if after[-1].isdigit() else 1
        if len(self.resumed_s) < count:
            return None
        since_s = self.resumed_s[count - 1]
        told = ons if after.startswith("on again") else board.offs()
        return next((at_s for at_s in told if at_s > since_s), None)

    def moment(self, name: str) -> float:
        """Return a moment that a hole is stated by, s of the boot clock."""
        name, _, later_s = name.partition(" + ")
        if later_s:
            return self.moment(name) + float(later_s)
        if name == "end":
            return float("inf")
        if name[-1] in "<>":
            return self.spans[int(name[:-1])]["<>".index(name[-1])]
        if name == "opened again":
            asked_s = self.bench.unit.asked_s
            return asked_s[1] if len(asked_s) > 1 else float("inf")
        found = self._reached({"off": "off again", "on": "on again"}.get(name, name))
        return float("inf") if found is None else found


def played(row: Row, folder: Path) -> Outcome:
    """Play a row and hold its records to it."""
    with InterruptedBench(folder, blind_allowed=row.blind_allowed) as bench:
        run = Played(row, bench)
        run.play()
        outcome = Outcome(row, list(run.failed), told=bench.said())
        if not run.failed:
            _judged(run, outcome)
        return outcome


def _judged(run: Played, outcome: Outcome) -> None:
    evidence = open_evidence(run.bench.soak_folder)
    course = Course(AsRecorded(evidence))  # type: ignore[arg-type]  # evidence, as it was recorded
    judgement = judge([course])
    outcome.grade, outcome.reason = judgement.because, str(judgement.reason)
    zeros = Zeros(run, course)
    outcome.wrong += zeros.wrong()
    outcome.wrong += _grade(run.row, judgement)
    outcome.wrong += _charged(run, course, zeros)
    outcome.wrong += _holes(run, course, zeros)


class Zeros:
    """Where soak time 0 lies on the boot clock in each session, by what the relay heard."""

    def __init__(self, run: Played, course: Course) -> None:
        begins = [session.begins_at_s for session in course.sessions()]
        self._since_s = [float("-inf"), *run.resumed_s]
        self._zeros_s: list[float] = []
        for number, begins_s in enumerate(begins):
            until_s = begins[number + 1] if number + 1 < len(begins) else float("inf")
            marks = [m for m in course.marks("power") if begins_s <= m.t_s < until_s]
            told = [t for t in list(run.bench.board.told) if t[0] > self._since_s[number]]
            heard = _same(told, bool(marks[0].detail["on"])) if marks and told else None
            if heard is not None:
                self._zeros_s.append(heard - marks[0].t_s)
            else:
                boot_s = float(course.sessions()[number].boot_s or 0.0)
                self._zeros_s.append(self._zeros_s[0] if self._zeros_s else boot_s - begins_s)

    def soak_s(self, boot_s: float) -> float:
        """Return the soak time that a session says of a time of the boot clock, s."""
        since = [n for n, s in enumerate(self._since_s[: len(self._zeros_s)]) if s <= boot_s]
        return boot_s - self._zeros_s[since[-1]]

    def wrong(self) -> Iterator[str]:
        """Yield where time was lost or won between two sessions."""
        for number, zero_s in enumerate(self._zeros_s[1:], 2):
            short_s = zero_s - self._zeros_s[0]
            if abs(short_s) > NEAR_S:
                yield f"the gap before session {number} is stated {short_s:.2f} s too short"


def _same(told: Sequence[tuple[float, bool]], on: bool) -> float | None:
    """Return when the relay was first told on, or off: a new session tells it off, maybe twice."""
    if on:
        return next((at_s for at_s, said in told if said), None)
    offs = list(itertools.takewhile(lambda one: not one[1], told))
    return offs[-1][0] if offs else None


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


def _charged(run: Played, course: Course, zeros: Zeros) -> Iterator[str]:
    """Yield which losses are charged and were none, and the other way about."""
    left = unit_faults(course)
    for kind, number in run.row.charged:
        begin_s, end_s = map(zeros.soak_s, run.spans[number])
        fits = [
            one
            for one in left
            if one.kind in KINDS.get(kind, (kind,))
            and begin_s - NEAR_S <= one.from_s <= end_s + NEAR_S
        ]
        if fits:
            left.remove(fits[0])
        else:
            yield f"not charged: {kind} from {begin_s:.2f} to {end_s:.2f} s"
    for one in left:
        yield f"charged: {one.kind} from {one.from_s:.2f} to {one.to_s:.2f} s ({one.text})"
    bad = lost_by(course.header)
    losses = [loss for source in bad for loss in course.losses(source, bad[source])]
    for number in run.row.listed:
        begin_s, end_s = map(zeros.soak_s, run.spans[number])
        if not any(one.from_s < end_s and one.to_s > begin_s for one in losses):
            yield f"listed nowhere: the loss from {begin_s:.2f} to {end_s:.2f} s"


def _holes(run: Played, course: Course, zeros: Zeros) -> Iterator[str]:
    """Yield which holes lack, are too long or too short, and which are none."""
    stated = _stated(run, run.row.holes, zeros)
    may = [(of, (a - BATCH_S, b)) for of, (a, b) in _stated(run, run.row.may, zeros)]
    on = _seen_on(course)
    for source in SOURCES:
        if source not in course.sources:
            continue
        found = course.blind(source)
        must = [span for of, span in stated if of in (EVERYTHING, source)]
        allowed = [*must, *(span for of, span in may if of in (EVERYTHING, source))]
        for begin_s, end_s in must:
            inner = (begin_s + NEAR_S, end_s - NEAR_S)
            lacks = minus(common([inner], on), found) if inner[1] > inner[0] else []
            if total_s(lacks) > 1e-3:
                yield f"seen, it is said: {source} from {_words(lacks)} in {_words([inner])}"
        wide = [(begin_s - NEAR_S, end_s + NEAR_S) for begin_s, end_s in allowed]
        over = [(a, b) for a, b in minus(common(found, on), wide) if b - a > 1e-3]
        long = [span for span in over if not _short(span, found, wide)]
        if long:
            yield f"not seen, it is said: {source} from {_words(long)}"


def _short(span: Span, found: Sequence[Span], wide: Sequence[Span]) -> bool:
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
    run: Played, holes: Sequence[tuple[str, str, str]], zeros: Zeros
) -> list[tuple[str, Span]]:
    return [
        (of, (zeros.soak_s(run.moment(begins)), zeros.soak_s(run.moment(ends))))
        for of, begins, ends in holes
    ]


def _words(spans: Sequence[Span]) -> str:
    return ", ".join(f"{begin_s:.2f} to {end_s:.2f} s" for begin_s, end_s in spans)
