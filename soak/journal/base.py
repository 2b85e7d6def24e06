"""The write side of a journal: the loop's one writer."""

from typing import Literal, Protocol

from soak.errors import JournalFull
from soak.records import Json, KeptFile, Observed


class Journal(Protocol):
    """The write side. Only the loop's thread may call it."""

    @property
    def full(self) -> JournalFull | None:
        """That the medium has room for the end of the soak only; None while there is more."""
        ...

    def append(self, record: Observed) -> int:
        """Take a record; never blocks. Return its number.

        Raises
        ------
        JournalError
            If an earlier record could not be written (disk full, medium gone): the cause.
        """
        ...

    def keep(self, kept: KeptFile, data: bytes) -> int:
        """Take a file and the record that names it; the file is durable before the record."""
        ...

    async def seal(
        self, ended: Literal["complete", "stopped", "bench fault"], guard_log: Json
    ) -> str:
        """Write the last record, close, make read-only; return the SHA-256 of the file."""
        ...
