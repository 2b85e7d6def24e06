"""The hub: every record passes here once, into the journal and to whoever follows its source."""

from collections import deque
from collections.abc import AsyncIterator, Callable

import trio

from soak.errors import JournalError
from soak.journal.base import Journal
from soak.records import KeptFile, Observed, Reading, State

_LONGEST_QUEUE = 4096
"""A follower that does not listen loses its oldest records; the journal has them all. Our own
choice."""


class _Follower:
    def __init__(self, latest: list[State | Reading]) -> None:
        self.queue: deque[State | Reading] = deque(latest, maxlen=_LONGEST_QUEUE)
        self.waiting = trio.Event()

    def put(self, record: State | Reading) -> None:
        self.queue.append(record)
        self.waiting.set()


class Hub:
    """Distribute records.

    Parameters
    ----------
    journal : Journal
        Gets every record first.
    listeners : callables
        Get every record after that: the guard, the observed time, the operator's screen.
    failed : callable
        Told when the journal can no longer be written; the soak must end.
    """

    def __init__(self, journal: Journal, failed: Callable[[JournalError], None]) -> None:
        self._journal = journal
        self._failed = failed
        self.fault: JournalError | None = None
        """Why the journal can take no more than the end of the soak, or not even that."""
        self.latest_s = 0.0
        """Soak time of the latest record, s."""
        self.listeners: list[Callable[[Observed], None]] = []
        self._followers: dict[str, list[_Follower]] = {}
        self._source_of: dict[str, str] = {}
        self._state: dict[str, State] = {}
        self._reading: dict[str, Reading] = {}

    def belongs(self, quantity: str, source: str) -> None:
        """Say which source a quantity's readings come from."""
        self._source_of[quantity] = source

    def publish(self, record: Observed) -> int:
        """Put a record into the journal and hand it on; return its number."""
        try:
            number = self._journal.append(record)
        except JournalError as fault:
            self._fail(fault)
            number = 0
        if self._journal.full is not None:
            self._fail(self._journal.full)
        source = self._remember(record)
        if isinstance(record, State | Reading):
            for follower in self._followers.get(source, ()):
                follower.put(record)
        self._tell(record)
        return number

    def keep(self, kept: KeptFile, data: bytes) -> int:
        """Put a file and the record that names it into the journal."""
        try:
            number = self._journal.keep(kept, data)
        except JournalError as fault:
            self._fail(fault)
            number = 0
        self._tell(kept)
        return number

    def state(self, source: str) -> State | None:
        """Return the latest state of a source."""
        return self._state.get(source)

    def reading(self, source: str) -> Reading | None:
        """Return the latest reading of a source."""
        return self._reading.get(source)

    async def follow(self, source: str) -> AsyncIterator[State | Reading]:
        """Yield the latest state and reading of a source, then every later one, until closed."""
        state = self._state.get(source)
        reading = self._reading.get(source)
        follower = _Follower([record for record in (state, reading) if record is not None])
        self._followers.setdefault(source, []).append(follower)
        try:
            while True:
                while follower.queue:
                    yield follower.queue.popleft()
                follower.waiting = trio.Event()
                await follower.waiting.wait()
        finally:
            self._followers[source].remove(follower)

    def _fail(self, fault: JournalError) -> None:
        """Tell once that the journal fails, and of what first."""
        if self.fault is None:
            self.fault = fault
            self._failed(fault)

    def _tell(self, record: Observed) -> None:
        for listener in self.listeners:
            listener(record)

    def _remember(self, record: Observed) -> str:
        self.latest_s = max(self.latest_s, record.t_s)
        if isinstance(record, State):
            self._state[record.source] = record
            return record.source
        if isinstance(record, Reading):
            source = self._source_of.get(record.quantity, record.quantity)
            self._reading[source] = record
            return source
        return ""
