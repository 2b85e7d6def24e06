"""Export: the same records as tables, and nothing a spreadsheet would run."""

import csv
import importlib.util
from pathlib import Path

import pandas as pd
import pytest
from recorded import header, kept_file, stream

from soak.errors import JournalError, UsageError
from soak.journal import MemoryJournal
from soak.journal.export import export_csv, export_parquet, tables
from soak.records import Mark, Reading, State

RECORDS = stream(5, 400)
NAMES = ["readings", "states", "marks", "kept_files", "sessions"]


@pytest.fixture
def journal() -> MemoryJournal:
    """Return a journal that holds the records and one file."""
    made = MemoryJournal(header())
    for record in RECORDS:
        made.append(record)
    made.keep(kept_file(60.0, "a.jpg"), b"abc")
    return made


def read(path: Path) -> list[dict[str, str]]:
    """Read a CSV file with the standard library."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_tables_hold_every_record_in_order_of_time(journal: MemoryJournal) -> None:
    """Each table is the list of its records."""
    made = tables(journal.evidence)
    assert list(made) == NAMES
    readings = [(r.t_s, r.quantity, r.value) for r in RECORDS if isinstance(r, Reading)]
    columns = ["t_s", "quantity", "value"]
    assert list(made["readings"][columns].itertuples(index=False, name=None)) == readings
    states = [(r.t_s, r.source, r.state) for r in RECORDS if isinstance(r, State)]
    found = made["states"][["t_s", "source", "state"]].itertuples(index=False, name=None)
    assert list(found) == states
    assert len(made["marks"]) == sum(isinstance(r, Mark) for r in RECORDS)
    assert made["kept_files"]["name"].tolist() == ["a.jpg"]


def test_csv_values_read_back_to_the_last_bit(journal: MemoryJournal, tmp_path: Path) -> None:
    """Numbers in the CSV file are those of the records exactly."""
    paths = export_csv(journal.evidence, tmp_path / "out")
    assert [path.name for path in paths] == [f"{name}.csv" for name in NAMES]
    found = [float(row["value"]) for row in read(paths[0])]
    assert found == [r.value for r in RECORDS if isinstance(r, Reading)]


def test_csv_text_that_looks_like_a_formula_is_defused(tmp_path: Path) -> None:
    """A cell that begins with = + - @ gets an apostrophe; what is a number does not (OWASP)."""
    journal = MemoryJournal(header())
    for what in ("=1+1", "+1", "-1", "@SUM(A1)", "power"):
        journal.append(Mark(1.0, what))
    journal.append(Reading(1.0, "probe.outlet", -4.5))
    paths = export_csv(journal.evidence, tmp_path)
    marks = [row["what"] for row in read(paths[2])]
    assert marks == ["'=1+1", "+1", "-1", "'@SUM(A1)", "power"]
    assert read(paths[0])[0]["value"] == "-4.5"


def test_parquet_holds_the_same_tables(journal: MemoryJournal, tmp_path: Path) -> None:
    """What a Parquet reader gets is what the tables say."""
    pytest.importorskip("pyarrow")
    for path in export_parquet(journal.evidence, tmp_path):
        pd.testing.assert_frame_equal(
            pd.read_parquet(path), tables(journal.evidence)[path.stem], check_dtype=False
        )


def test_an_empty_soak_exports_tables_without_rows(tmp_path: Path) -> None:
    """A soak that was cut off at once still gives every table with its columns."""
    paths = export_csv(MemoryJournal(header()).evidence, tmp_path)
    assert paths[0].read_text().strip() == "t_s,quantity,value,unit"
    assert read(paths[2]) == []


def test_without_the_extra_parquet_names_it(
    journal: MemoryJournal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where pyarrow is missing one sentence says what to install."""
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(UsageError, match=r"soak\[parquet\]"):
        export_parquet(journal.evidence, tmp_path)


def test_a_folder_that_cannot_be_written_is_named(journal: MemoryJournal, tmp_path: Path) -> None:
    """A file in place of the folder is told as such, in one sentence."""
    (tmp_path / "taken").write_text("")
    with pytest.raises(JournalError, match="taken"):
        export_csv(journal.evidence, tmp_path / "taken")
