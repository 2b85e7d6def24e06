"""What a running soak knows of itself: its own records, read the way the judgement reads them."""

from collections.abc import Iterator
from heapq import merge

from soak.derive.course import course_of
from soak.evidence import Evidence
from soak.journal.memory import MemoryJournal
from soak.records import Header, Mark, Observed, Reading, Session, State


class SoFar:
    """Keep the records that starts and losses are derived from.

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
        if before is None or session is None:
            self._journal = MemoryJournal(header)
            return
        first, *later = before.sessions()
        self._journal = MemoryJournal(header, first)
        for record in _in_order(before):
            while later and later[0].begins_at_s <= record.t_s:
                self._journal.begin_session(later.pop(0))
            self._journal.append(record)
        for one in [*later, session]:
            self._journal.begin_session(one)

    @property
    def evidence(self) -> Evidence:
        """All of it so far."""
        return self._journal.evidence

    def keep(self, record: Observed) -> None:
        """Take a record; readings of probes only, as the others decide nothing here."""
        probed = isinstance(record, Reading) and record.quantity.startswith("probe.")
        if probed or isinstance(record, State | Mark):
            self._journal.append(record)

    def up_to(self, now_s: float) -> Evidence:
        """Return the evidence with the time since its last record counted as watched."""
        self._journal.append(Mark(now_s, "goes on"))
        return self._journal.evidence


def _in_order(before: Evidence) -> Iterator[Mark | State | Reading]:
    sources = course_of(before).sources
    states = sorted((s for source in sources for s in before.states(source)), key=_time)
    read = [
        Reading(float(t_s), one.name, float(value))
        for one in before.header.quantities
        if one.name.startswith("probe.")
        for t_s, value in zip(*before.series(one.name), strict=True)
    ]
    return merge(before.marks(), states, sorted(read, key=_time), key=_time)


def _time(record: Mark | State | Reading) -> float:
    return record.t_s
