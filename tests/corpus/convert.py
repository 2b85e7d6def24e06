"""The one gate every stored record passes before the program reads it.

While a round of changes renames keys or kinds of records, the stored journals stay as they were
recorded and `converted` tells the program's new words for them. It goes at the end of the round:
the journals are then written anew in the new form and this file is the identity again.
"""

from typing import Any

Plain = dict[str, Any]


def converted(kind: str, record: Plain) -> tuple[str, Plain]:
    """Return kind and content of a stored record as today's program reads them.

    Beside the kinds of records there are `readings` (one quantity of one session: quantity, t_s,
    value), `told` (windows, ends_s) and `script` (what a job is judged by: requirements).
    """
    return kind, record
