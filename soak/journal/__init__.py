"""Write, read, recover and seal the append-only record of one soak."""

from soak.journal.base import Journal
from soak.journal.evidence import JournalEvidence, open_evidence
from soak.journal.memory import MemoryEvidence, MemoryJournal
from soak.journal.resume import finish_sealing, first_session, plan_resume, resume
from soak.journal.writer import Writer, create

__all__ = [
    "Journal",
    "JournalEvidence",
    "MemoryEvidence",
    "MemoryJournal",
    "Writer",
    "create",
    "finish_sealing",
    "first_session",
    "open_evidence",
    "plan_resume",
    "resume",
]
