"""A journal in memory, for tests and trial runs: the same rows, checks and answers, no medium."""

import hashlib
from typing import Literal

import trio

from soak.clock import SoakClock
from soak.errors import JournalError, JournalFull
from soak.journal.contents import Contents
from soak.journal.intake import as_kept, beginning, canonical, entry_of
from soak.journal.reading import ReadsContents
from soak.journal.rows import Chain, Entry
from soak.records import Header, Json, KeptFile, Observed, Seal, Session
from soak.words import msg

Ended = Literal["complete", "stopped", "bench fault"]

_FIRST = Session(
    number=1,
    program="",
    boot_id="",
    utc="2026-01-05T21:00:00Z",
    begins_at_s=0.0,
    gap_s=0.0,
    gap_from="first start",
)


class MemoryJournal:
    """The write side; `evidence` is what stands in it at any time.

    Parameters
    ----------
    header : Header
        The first record.
    session : Session
        The second; by default a first session that begins at 0 s.
    clock : SoakClock, optional
        Gives the seal its time; without one it is the time of the last record.
    """

    def __init__(
        self, header: Header, session: Session = _FIRST, *, clock: SoakClock | None = None
    ) -> None:
        self._chain = Chain(header.quantities)
        self._pending: list[Entry] = [*beginning(header, session)]
        self._clock = clock
        self._next = 3
        self._sealed = False
        self.full: JournalFull | None = None
        self.evidence = MemoryEvidence(self._chain, self._pending)

    def append(self, record: Observed) -> int:
        return self._put(entry_of(record, self._chain.index))

    def keep(self, kept: KeptFile, data: bytes) -> int:
        event = as_kept(kept, data, self.evidence.files)
        number = self._put(event)
        self.evidence.files[event.file_name] = event.file_data
        return number

    async def seal(self, ended: Ended, guard_log: Json) -> str:
        await trio.lowlevel.checkpoint()
        return self.seal_now(ended, guard_log)

    def seal_now(self, ended: Ended = "complete", guard_log: Json | None = None) -> str:
        """Seal outside an event loop; return what the evidence's `file_sha256` then says."""
        t_s = self._clock.now_s() if self._clock else self.evidence.ends_s
        self._put(canonical(Seal(t_s, ended, guard_log or {})))
        self._sealed = True
        return self.evidence.file_sha256

    def begin_session(self, session: Session) -> None:
        """Go on as a resumed soak does."""
        self._put(canonical(session))

    def _put(self, entry: Entry) -> int:
        if self._sealed:
            raise JournalError(msg("the journal is sealed; nothing can be added"))
        self._pending.append(entry)
        self._next += 1
        return self._next - 1


class MemoryEvidence(ReadsContents):
    """The read side of a `MemoryJournal`; always up to date."""

    def __init__(self, chain: Chain, pending: list[Entry]) -> None:
        self._chain = chain
        self._pending = pending
        self._contents = Contents()
        self.files: dict[str, bytes] = {}

    @property
    def file_sha256(self) -> str:
        """SHA-256 of the last link, there being no file; empty until sealed."""
        contents = self.contents()
        return hashlib.sha256(contents.link).hexdigest() if contents.seal is not None else ""

    def contents(self) -> Contents:
        rows = self._chain.rows(self._pending)
        self._pending.clear()
        for row in rows:
            self._contents.add(row)
        return self._contents

    def kept_bytes(self, kept: KeptFile) -> bytes:
        try:
            return self.files[kept.name]
        except KeyError:
            raise JournalError(msg("{name}: there is no such kept file", name=kept.name)) from None
