"""Evidence: what it answers, from memory and from a file alike."""

import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from recorded import header, stream

from soak.clock import LeapingClock
from soak.errors import JournalError
from soak.evidence import Evidence
from soak.journal import (
    MemoryJournal,
    create,
    first_session,
    open_evidence,
    resume,
)
from soak.records import FORMAT, Mark, Reading, Session, State

SECOND = Session(2, "1.0", "", "2026-01-05T22:00:00Z", 100.0, 60.0, "wall clock")


def begin(t_s: float, stretch: str = "evening") -> Mark:
    """Return the mark with which a stretch begins."""
    return Mark(t_s, "stretch begins", stretch)


def end(t_s: float, stretch: str = "evening") -> Mark:
    """Return the mark with which a stretch ends."""
    return Mark(t_s, "stretch ends", stretch)


BEFORE = [
    Reading(1.0, "probe.outlet", 1.0),
    begin(5.0, "first"),
    end(9.0, "first"),
    begin(10.0),
    Reading(10.0, "probe.outlet", 2.0),
    Reading(30.0, "probe.outlet", 4.0),
    Reading(20.0, "probe.outlet", 3.0),
    State(40.0, "capture", "black"),
    State(12.0, "capture", "picture"),
]
AFTER = [
    Reading(101.0, "probe.outlet", 5.0),
    begin(110.0),
    Reading(120.0, "probe.outlet", 6.0),
    end(130.0),
    Reading(131.0, "probe.outlet", 7.0),
]


@pytest.fixture(params=["memory", "file"])
def evidence(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Evidence]:
    """Return evidence of a soak that was cut off within a stretch and resumed."""
    if request.param == "memory":
        memory = MemoryJournal(header())
        for record in BEFORE:
            memory.append(record)
        memory.begin_session(SECOND)
        for record in AFTER:
            memory.append(record)
        yield memory.evidence
        return
    clock = LeapingClock()
    first = create(tmp_path, header(), first_session("1.0", clock), clock=clock)
    for record in BEFORE:
        first.append(record)
    first.close()
    second = resume(tmp_path, SECOND, clock=clock)
    for record in AFTER:
        second.append(record)
    second.close()
    yield open_evidence(tmp_path)


def test_a_series_is_in_order_of_time(evidence: Evidence) -> None:
    """A reading that was written late stands where it was true."""
    times, values = evidence.series("probe.outlet")
    assert times.tolist() == [1, 10, 20, 30, 101, 120, 131]
    assert values.tolist() == [1, 2, 3, 4, 5, 6, 7]


def test_a_stretch_has_one_piece_a_session(evidence: Evidence) -> None:
    """A piece that was cut off ends with the last record of its session."""
    assert list(evidence.windows("evening")) == [(10.0, 40.0), (110.0, 130.0)]
    assert list(evidence.windows("first")) == [(5.0, 9.0)]
    assert list(evidence.windows("night")) == []


def test_a_series_can_be_had_for_one_stretch(evidence: Evidence) -> None:
    """Only what lies within the pieces of the stretch is given, ends included."""
    assert evidence.series("probe.outlet", "evening")[1].tolist() == [2, 3, 4, 6]
    assert evidence.series("probe.outlet", "night")[1].tolist() == []


def test_a_quantity_nobody_measured_has_an_empty_series(evidence: Evidence) -> None:
    """Asking for it is no mistake: the instrument may not be wired."""
    for name in ("probe.ambient", "probe.elsewhere"):
        times, values = evidence.series(name)
        assert times.shape == values.shape == (0,)


def test_states_marks_and_sessions_are_in_order(evidence: Evidence) -> None:
    """Each list is by the time at which its records were true."""
    assert [state.state for state in evidence.states("capture")] == ["picture", "black"]
    assert evidence.states("stick") == []
    assert [mark.t_s for mark in evidence.marks("stretch begins")] == [5.0, 10.0, 110.0]
    assert len(evidence.marks()) == 5
    assert evidence.sessions()[1] == SECOND
    assert evidence.ends_s == 131.0


def test_the_arrays_of_evidence_cannot_be_changed(evidence: Evidence) -> None:
    """Whoever tries to change a series in place is stopped."""
    _, values = evidence.series("probe.outlet")
    with pytest.raises(ValueError, match="read-only"):
        values[0] = np.nan


def test_reading_a_cut_off_journal_changes_neither_file_nor_log(tmp_path: Path) -> None:
    """Recovery for reading leaves journal and write-ahead log byte for byte."""
    clock = LeapingClock()
    running = create(tmp_path / "a", header(), first_session("1.0", clock), clock=clock)
    for record in stream(2, 5000):
        running.append(record)
    shutil.copytree(tmp_path / "a", tmp_path / "b")
    running.close()
    folder = tmp_path / "b"
    (folder / "journal.sqlite-shm").unlink()
    names = ["journal.sqlite", "journal.sqlite-wal"]
    before = [(folder / name).read_bytes() for name in names]
    assert len(open_evidence(folder).series("probe.outlet")[0]) > 1000
    assert [(folder / name).read_bytes() for name in names] == before


def test_a_journal_is_opened_by_folder_or_file(tmp_path: Path) -> None:
    """Both ways lead to the same evidence; a wrong name is told."""
    clock = LeapingClock()
    create(tmp_path, header(), first_session("1.0", clock), clock=clock).close()
    for path in (tmp_path, tmp_path / "journal.sqlite"):
        assert open_evidence(path).header == header()
    with pytest.raises(JournalError, match="no such journal"):
        open_evidence(tmp_path / "elsewhere")


@pytest.mark.parametrize("version", [1, FORMAT + 1])
def test_another_format_is_refused_by_name(tmp_path: Path, version: int) -> None:
    """A journal of an earlier or later program is not guessed at."""
    clock = LeapingClock()
    create(tmp_path, header(), first_session("1.0", clock), clock=clock).close()
    db = sqlite3.connect(tmp_path / "journal.sqlite")
    db.execute(f"PRAGMA user_version = {version}")
    db.close()
    with pytest.raises(JournalError, match=f"format {version}, this soak reads {FORMAT};"):
        _ = open_evidence(tmp_path).header


@pytest.mark.parametrize("content", [b"", b"not a journal at all" * 500, bytes(8192)])
def test_a_file_of_another_kind_is_refused(tmp_path: Path, content: bytes) -> None:
    """Empty, foreign and blank files are told as such."""
    (tmp_path / "journal.sqlite").write_bytes(content)
    with pytest.raises(JournalError, match=r"journal\.sqlite"):
        _ = open_evidence(tmp_path).header


def test_another_programs_database_is_refused(tmp_path: Path) -> None:
    """A whole SQLite file is not enough."""
    db = sqlite3.connect(tmp_path / "journal.sqlite")
    db.execute("CREATE TABLE rows (a)")
    db.close()
    with pytest.raises(JournalError, match="not a whole journal of soak"):
        _ = open_evidence(tmp_path).header


def test_a_header_of_another_format_does_not_begin_a_journal(tmp_path: Path) -> None:
    """What could not be read again is not written."""
    clock = LeapingClock()
    with pytest.raises(JournalError, match=f"format {FORMAT + 1}"):
        create(tmp_path, header(format=FORMAT + 1), first_session("1.0", clock), clock=clock)
    with pytest.raises(JournalError, match=f"format {FORMAT + 1}"):
        MemoryJournal(header(format=FORMAT + 1))
