"""What a journal takes in, and what it refuses: the same in a file and in memory."""

import hashlib
from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Any

from soak.errors import JournalError, told_of
from soak.journal.kept import is_plain_name
from soak.journal.rows import Entry, Event, event_of
from soak.records import FORMAT, Header, KeptFile, Mark, Observed, Reading, Record, Session, State
from soak.words import msg


def entry_of(record: Observed, index: Mapping[str, Any]) -> Entry:
    """Turn what was observed into what is written.

    Raises
    ------
    JournalError
        If a reading's quantity is not in the header, a kept file comes without its bytes, or
        the record holds something that is not plain JSON.
    """
    if isinstance(record, Reading):
        if record.quantity not in index:
            raise JournalError(
                msg(
                    "{quantity}: the journal's header does not describe this quantity; the check "
                    "must list it in its quantities",
                    quantity=record.quantity,
                )
            )
        return record
    if not isinstance(record, State | Mark):
        raise JournalError(
            msg(
                "the journal takes readings, states and marks here, not {name}; a kept file "
                "comes with its bytes",
                name=type(record).__name__,
            )
        )
    return canonical(record)


def beginning(header: Header, session: Session) -> list[Event]:
    """Return the first two rows of a journal.

    Raises
    ------
    JournalError
        If the header is of another format than is written, or cannot be written.
    """
    if header.format != FORMAT:
        raise JournalError(
            msg(
                "a header of format {format} cannot begin a journal of {own}",
                format=header.format,
                own=FORMAT,
            )
        )
    return [canonical(header), canonical(session)]


def canonical(record: Record) -> Event:
    """Turn a record into its canonical form, or say why it cannot be written."""
    try:
        return event_of(record)
    except ValueError as fault:
        raise JournalError(
            msg("a {name} cannot be written: {why}", name=type(record).__name__, why=told_of(fault))
        ) from None


def as_kept(kept: KeptFile, data: bytes, taken: Collection[str]) -> Event:
    """Turn a kept file's record and bytes into what is written; fill in the SHA-256.

    Raises
    ------
    JournalError
        If the name is not a plain file name, or is taken.
    """
    name = kept.name
    if not is_plain_name(name):
        raise JournalError(
            msg("{name} cannot be the name of a kept file; use a plain file name", name=repr(name))
        )
    if name in taken:
        raise JournalError(msg("{name}: this soak already has a kept file of that name", name=name))
    complete = replace(kept, sha256=hashlib.sha256(data).hexdigest())
    event = canonical(complete)
    return event._replace(file_name=name, file_data=bytes(data))
