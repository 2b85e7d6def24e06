"""Evidence as tables: for pandas, for spreadsheets (CSV) and for Parquet readers."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Sequence
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from soak.errors import JournalError, UsageError
from soak.journal.reading import ReadsContents
from soak.records import KeptFile, Mark, Session, State, canonical_json, to_json
from soak.visible import harmless
from soak.words import msg

if TYPE_CHECKING:
    import pandas as pd


def tables(evidence: ReadsContents) -> dict[str, pd.DataFrame]:
    """Return the tables `readings`, `states`, `marks`, `kept_files` and `sessions`.

    Each is in order of time, in s of soak time. Readings have the columns t_s, quantity, value
    and unit; the others those of their record, `detail` as canonical JSON text.
    """
    states = [state for source in evidence.sources() for state in evidence.states(source)]
    states.sort(key=lambda state: state.t_s)
    return {
        "readings": _readings(evidence),
        "states": _table(State, states),
        "marks": _table(Mark, evidence.marks()),
        "kept_files": _table(KeptFile, evidence.kept_files()),
        "sessions": _table(Session, evidence.sessions()),
    }


def export_csv(evidence: ReadsContents, folder: Path) -> list[Path]:
    """Write each table as a CSV file in UTF-8; return their paths.

    A text that a spreadsheet would take for a formula gets an apostrophe in front.

    Raises
    ------
    JournalError
        If the folder cannot be written.

    References
    ----------
    RFC 4180, Common Format and MIME Type for CSV Files; OWASP, CSV Injection.
    """
    return _export(evidence, folder, ".csv", _write_csv)


def export_parquet(evidence: ReadsContents, folder: Path) -> list[Path]:
    """Write each table as a Parquet file; return their paths.

    Raises
    ------
    UsageError
        If the extra that brings Parquet is not installed.
    JournalError
        If the folder cannot be written.
    """
    if importlib.util.find_spec("pyarrow") is None:
        raise UsageError(
            msg("Parquet files need the extra soak[parquet]; install it, or export CSV")
        )
    return _export(evidence, folder, ".parquet", _write_parquet)


def _export(
    evidence: ReadsContents, folder: Path, ending: str, write: Callable[[pd.DataFrame, Path], None]
) -> list[Path]:
    paths = []
    for name, table in tables(evidence).items():
        path = folder / f"{name}{ending}"
        try:
            folder.mkdir(parents=True, exist_ok=True)
            write(table, path)
        except OSError as fault:
            raise JournalError(
                msg("{path}: cannot be written: {why}", path=str(path), why=str(fault.strerror))
            ) from None
        paths.append(path)
    return paths


def _write_csv(table: pd.DataFrame, path: Path) -> None:
    safe = table.copy()
    for name in safe.columns:
        if safe[name].dtype.kind not in "fiu":
            safe[name] = safe[name].map(_no_formula)
    safe.to_csv(path, index=False, encoding="utf-8", lineterminator="\r\n")


def _write_parquet(table: pd.DataFrame, path: Path) -> None:
    table.to_parquet(path, engine="pyarrow", index=False)


def _no_formula(cell: object) -> object:
    return harmless(cell) if isinstance(cell, str) else cell


def _readings(evidence: ReadsContents) -> pd.DataFrame:
    import pandas as pd

    quantities = evidence.header.quantities
    series = [evidence.series(entry.name) for entry in quantities]
    place = np.repeat(np.arange(len(series)), [len(times) for times, _ in series])
    t_s = np.concatenate([np.empty(0), *(times for times, _ in series)])
    value = np.concatenate([np.empty(0), *(values for _, values in series)])
    order = np.argsort(t_s, kind="stable")
    place = place[order].astype(np.intp)
    names = np.array([entry.name for entry in quantities], dtype=object)
    units = np.array([entry.unit for entry in quantities], dtype=object)
    return pd.DataFrame(
        {
            "t_s": t_s[order],
            "quantity": names[place],
            "value": value[order],
            "unit": units[place],
        }
    )


def _table(
    kind: type[State | Mark | KeptFile | Session],
    records: Sequence[State | Mark | KeptFile | Session],
) -> pd.DataFrame:
    import pandas as pd

    columns = [part.name for part in fields(kind)]
    rows = [to_json(record) for record in records]
    for row in rows:
        if "detail" in row:
            row["detail"] = canonical_json(row["detail"]).decode()
    return pd.DataFrame(rows, columns=columns)
