"""One interrupted soak played in real time, and its records held to what was done.

A row is data: what is done when, and what is to be found. Times of what was done are those of the
boot clock, which the records keep too: soak time 0 is where the relay heard the first on.
"""

import errno
import os
import signal
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from interrupted_bench import COOL_DEGC, InterruptedBench
from patience import LIMIT_S

from soak.clock import boot_time_s
from soak.derive.spans import Span

ROOM_BYTES = 1 << 40


READY, FAILED, INCOMPLETE = ("ready",), ("failed",), ("incomplete",)
NOT_FAILED = ("ready", "incomplete")
LOST = "dropout|restart|hang"
"""Grades that may come of a row, and what the reason says where the picture was lost."""


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
        one. None: they are not looked at.
    listed : sequence of int
        Steps that were losses and must be listed, charged or in doubt.
    either : sequence of int
        Steps that were losses of the picture and may be charged or not.
    holes : sequence of (str, str, str)
        A source (or `all`), and between which moments it was not seen: `"1<"` and `"1>"` are begin
        and end of step 1, `"off"` and `"on"` when the relay was told so after the first resume,
        `"opened again"` when the capture was, `"end"` the end of all; `"1> + 2"` is 2 s later.
    may : sequence of (str, str, str)
        Holes that may be told, too: where it is open whether somebody saw it.
    quick : bool
        Whether what is true hangs on a host that keeps up.
    blind_allowed, tail_s : float
        As the script says.
    """

    name: str
    steps: tuple[Step, ...]
    grades: tuple[str, ...]
    reason: str = ""
    charged: tuple[tuple[str, int], ...] | None = ()
    listed: tuple[int, ...] = ()
    either: tuple[int, ...] = ()
    holes: tuple[tuple[str, str, str], ...] = ()
    may: tuple[tuple[str, str, str], ...] = ()
    quick: bool = False
    blind_allowed: float = 0.6
    tail_s: float = 0.0


@dataclass
class Outcome:
    """What came of a row.

    Attributes
    ----------
    wrong : list of str
        What is not as stated, in words; empty if all is.
    unseen : list of str
        Holes that are not stated. A host that is too busy has some of its own.
    not_shown : list of str
        Rules of the demands that were not shown.
    slow : bool
        Whether the unit itself was late with a picture: then it was not played as stated.
    """

    row: Row
    wrong: list[str] = field(default_factory=list)
    unseen: list[str] = field(default_factory=list)
    not_shown: list[str] = field(default_factory=list)
    slow: bool = False
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


def _probe(bench: InterruptedBench, how: str) -> None:
    if how == "unplugged":
        bench.thermometer.peer.unplug()
    else:
        bench.thermometer.peer.plug()
        os.set_blocking(bench.thermometer.peer._master, False)


def _board(bench: InterruptedBench, how: str) -> None:
    board = bench.board
    board.deaf, board.stays_open = how == "deaf", how == "open"
    if how == "unplugged":
        board.peer.unplug()
    elif board.peer._master < 0:
        board.peer.plug()


def _stick(bench: InterruptedBench, how: str) -> None:
    kind, _, value = how.partition(" ")
    faults: dict[str, object] = {}
    if kind == "gone":
        faults["gone"] = errno.ENODEV
    elif kind == "stalls":
        faults["stall_s"] = float(value)
    bench.stick.be(**faults)


def _disk(bench: InterruptedBench, how: str) -> None:
    assert bench.disk is not None
    bench.disk.set_room(0 if how == "full" else ROOM_BYTES)


Do = Callable[[InterruptedBench, str], None]
VERBS: Mapping[str, tuple[Do, tuple[Do, str] | None]] = {
    "stop": (_signal(signal.SIGSTOP), (_signal(signal.SIGCONT), "")),
    "kill": (_signal(signal.SIGKILL), None),
    "end": (_signal(signal.SIGINT), None),
    "resume": (_resume, None),
    "show": (_show, (_show, "clip")),
    "stick": (_stick, (_stick, "well")),
    "heat": (_heat, (_heat, str(COOL_DEGC))),
    "once": (_once, None),
    "say": (_say, (_say, "degrees")),
    "board": (_board, (_board, "well")),
    "probe": (_probe, (_probe, "plugged")),
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
