"""What a running soak knows of itself: its own records, read the way the judgement reads them."""

from collections.abc import Iterator
from heapq import merge

from soak.derive.course import course_of
from soak.evidence import Evidence
from soak.journal.memory import MemoryJournal
from soak.marks import GoesOn, mark_of
from soak.records import Header, Mark, Observed, Reading, Session, State


class SoFar:
    """Keep what is judged: states, marks, and the readings of which anything is demanded.

    Parameters
    ----------
    before : Evidence or None
        What earlier sessions of this soak recorded.
    session : Session or None
        The session that begins now; None: the first one.
    """

    def __init__(
        self, header: Header, before: Evidence | None = None, session: Session | None = None
    ) -> None:
        self._kept = quantities_of(header)
        if before is None or session is None:
            self._journal = MemoryJournal(header)
            return
        first, *later = before.sessions()
        self._journal = MemoryJournal(header, first)
        for record in _in_order(before):
            while later and later[0].begins_at_s <= record.t_s:
                self._journal.begin_session(later.pop(0))
            self._journal.append(record)
        for part in [*later, session]:
            self._journal.begin_session(part)

    @property
    def evidence(self) -> Evidence:
        """All of it so far."""
        return self._journal.evidence

    def keep(self, record: Observed) -> None:
        """Take a record."""
        demanded = isinstance(record, Reading) and record.quantity in self._kept
        if demanded or isinstance(record, State | Mark):
            self._journal.append(record)

    def up_to(self, now_s: float) -> Evidence:
        """Return the evidence with the time since its last record counted as watched."""
        self._journal.append(mark_of(now_s, GoesOn()))
        return self._journal.evidence


def quantities_of(header: Header) -> frozenset[str]:
    """Return the quantities of which something is demanded, and all that probes read."""
    known = {quantity.name for quantity in header.quantities}
    probed = {name for name in known if name.startswith("probe.")}
    return frozenset(probed | known & {need.quantity for need in header.requirements})


def _in_order(before: Evidence) -> Iterator[Mark | State | Reading]:
    sources = course_of(before).sources
    states = sorted((s for source in sources for s in before.states(source)), key=_time)
    read = [
        Reading(float(t_s), quantity, float(value))
        for quantity in quantities_of(before.header)
        for t_s, value in zip(*before.series(quantity), strict=True)
    ]
    return merge(before.marks(), states, sorted(read, key=_time), key=_time)


def _time(record: Mark | State | Reading) -> float:
    return record.t_s
