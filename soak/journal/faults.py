"""What went wrong with the medium, in one sentence that says what to do."""

import errno
import sqlite3
from pathlib import Path

from soak.errors import JournalError, JournalFull, JournalNotWritten
from soak.room import is_full, told_full
from soak.words import msg

NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


def writing_fault(path: Path, fault: OSError | sqlite3.Error) -> JournalNotWritten:
    """Return the error for a journal that could not be written."""
    if _is_full(path.parent, fault):
        return JournalFull(
            msg(
                "{path}: {parent}; everything acknowledged until then is safe; make room, then "
                "`soak resume`",
                path=str(path),
                parent=told_full(path.parent),
            )
        )
    return JournalNotWritten(
        msg(
            "{path}: cannot be written ({why}); everything acknowledged until then is "
            "safe; see to the disk, then resume the soak",
            path=str(path),
            why=_said(fault),
        )
    )


def reading_fault(path: Path, fault: OSError | sqlite3.Error) -> JournalError:
    """Return the error for a journal that could not be read at all."""
    if isinstance(fault, FileNotFoundError) or not path.exists():
        return JournalError(
            msg("{path}: there is no such journal; check the name of the soak", path=str(path))
        )
    if isinstance(fault, sqlite3.DatabaseError) and "not a database" in str(fault):
        return JournalError(
            msg("{path}: is not a journal of soak, or its beginning is damaged", path=str(path))
        )
    return JournalError(
        msg(
            "{path}: cannot be read ({why}); use a copy that is whole",
            path=str(path),
            why=_said(fault),
        )
    )


def damaged(path: Path, number: int, why: str) -> JournalError:
    """Return the error for a journal whose record of that number is not what was written."""
    intact = (
        msg("the {number} before it are intact", number=number - 1)
        if number > 1
        else msg("nothing before it")
    )
    shown = "".join(sign if sign.isprintable() else "?" for sign in why)  # SQLite quotes the file
    return JournalError(
        msg(
            "{path}: record {number} is damaged or was changed ({shown}; {intact}); use a "
            "copy that is whole, or soak the unit again",
            path=str(path),
            number=number,
            shown=shown,
            intact=intact,
        )
    )


def _is_full(folder: Path, fault: OSError | sqlite3.Error) -> bool:
    if isinstance(fault, OSError):
        return fault.errno in NO_ROOM
    name = getattr(fault, "sqlite_errorname", "")
    return name.startswith("SQLITE_FULL") or is_full(folder, name)


def _said(fault: OSError | sqlite3.Error) -> str:
    if isinstance(fault, OSError):
        return fault.strerror or str(fault)
    name = getattr(fault, "sqlite_errorname", "")
    return f"{fault}, {name}" if name else str(fault)
