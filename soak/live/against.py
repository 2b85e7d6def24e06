"""What speaks against the unit so far, as the judgement reads the records: for the operator's
screen, never a grade.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from soak.derive.course import course_of
from soak.derive.electric.power import ANSWER_SLACK_S
from soak.derive.events.faults import UnitFault, lost_by
from soak.evidence import Evidence
from soak.judge.explain.exceeded import all_events
from soak.marks import PowerChanged, SoftStop, StartEnded, StretchEnds, Tripped, fact_in, fact_of
from soak.records import Header, Mark, Observed, Reading, State

SOON_S = 1.0 + ANSWER_SLACK_S
"""Of what may be a fault the judgement is asked so soon: it leaves the last moment open. Then after
four times as long, up to a minute: some losses count at once, some only once they have lasted."""
SLOWER = 4.0
SELDOM_S = 60.0
"""And in any case every minute, for what shows only in many readings. Own choices, all three: to
ask takes 0.013 s after eight hours of a night, so this is 0.02 % of a core."""
SIMULATED_S = 300.0
"""In simulated time, which leaps, nobody waits for it."""

_MARKS = StartEnded | SoftStop | Tripped | StretchEnds
"""With these there may be a fault."""


@dataclass(slots=True)
class Against:
    """Ask the judgement what it holds against the unit, often enough for a screen.

    A preview all the same: a hole or an operator's mark may still explain a loss.

    Parameters
    ----------
    header : Header
        Of the soak.
    so_far : callable
        Returns the soak's evidence up to a time, s.

    Attributes
    ----------
    faults : sequence of UnitFault
        As known when last asked, in order of time.
    asked_s : float
        When that was, s.
    """

    header: Header
    so_far: Callable[[float], Evidence]
    faults: Sequence[UnitFault] = ()
    asked_s: float = 0.0
    _told: set[tuple[str, float]] = field(default_factory=set)
    _losses: Mapping[str, frozenset[str]] = field(init=False)
    _least_s: float = field(init=False)
    _on: bool = False
    _since_s: float = 0.0
    _due_s: float = SELDOM_S

    def __post_init__(self) -> None:
        self._losses = lost_by(self.header)
        self._least_s = SIMULATED_S if self.header.simulated else SOON_S

    def notice(self, record: Observed) -> Sequence[UnitFault]:
        """Take a record of the soak; return the faults that are new."""
        if power := fact_in(record, PowerChanged):
            self._on = power.on
        if self._may_tell(record):
            self._since_s = record.t_s
            self._due_s = min(self._due_s, self._at_least(record.t_s + SOON_S))
        return self._ask(record.t_s) if record.t_s >= self._due_s else ()

    def _may_tell(self, record: Observed) -> bool:
        if isinstance(record, State):
            return self._on and record.state in self._losses.get(record.source, ())
        if isinstance(record, Reading):
            return record.quantity.endswith(".damaged") and record.value > 0
        return isinstance(record, Mark) and isinstance(fact_of(record), _MARKS)

    def _ask(self, now_s: float) -> Sequence[UnitFault]:
        self.asked_s = now_s
        again_s = min(SELDOM_S, (SLOWER - 1) * (now_s - self._since_s))
        self._due_s = self._at_least(now_s + max(SOON_S, again_s))
        self.faults = all_events(course_of(self.so_far(now_s)))
        new = [fault for fault in self.faults if _key(fault) not in self._told]
        self._told.update(_key(fault) for fault in new)
        return new

    def _at_least(self, due_s: float) -> float:
        return max(due_s, self.asked_s + self._least_s)


def goes_on(fault: UnitFault, now_s: float) -> bool:
    """Tell whether a fault had not ended yet when the judgement was asked."""
    return fault.from_s < fault.to_s and fault.to_s >= now_s - ANSWER_SLACK_S


def _key(fault: UnitFault) -> tuple[str, float]:
    """Return what stays the same of a fault that goes on."""
    return fault.source, round(fault.from_s, 1)
