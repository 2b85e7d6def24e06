"""Play one row of the table in a process of its own: its unit must not wait for another row's.

interrupted_row.py NAME [FOLDER] plays a row of the table, or the kills of a number, prints what
came of it as JSON, and leaves the records in FOLDER.
"""

import json
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from interrupted_soak import Outcome, Row
from interrupted_truth import played
from interruption_table import ROWS
from random_kills import KILLED, drawn

TRIES = 3
"""A row whose unit this machine could not play in time is played again."""


def by_process(row: Row, kept: str = "") -> Outcome:
    """Play a row; its records are left in a folder of its name in `kept`."""
    for _ in range(TRIES):
        process = subprocess.run(
            [sys.executable, __file__, row.name, *([kept] if kept else [])],
            capture_output=True,
            text=True,
        )
        try:
            outcome = Outcome(row, **json.loads(process.stdout.splitlines()[-1]))
        except (IndexError, ValueError):
            return Outcome(row, [f"it could not be played: {process.stderr[-2000:]}"])
        if not (outcome.slow and (outcome.wrong or outcome.unseen)):
            break
    return outcome


def row_named(name: str) -> Row:
    """Return a row of the table, or the one that is drawn by its number."""
    if name.startswith(KILLED):
        return drawn(int(name.removeprefix(KILLED)))
    return next(row for row in ROWS if row.name == name)


def main(name: str, kept: str = "") -> None:
    row = row_named(name)
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(kept or scratch) / re.sub(r"\W+", "-", name)
        shutil.rmtree(folder, ignore_errors=True)  # of the try before
        outcome = played(row, folder)
    told = {key: value for key, value in vars(outcome).items() if key != "row"}
    sys.stdout.write(json.dumps(told) + "\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
