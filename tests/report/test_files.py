"""The report's files: the same bytes for the same input, whole or not at all."""

import json
import os

import pytest

from soak.errors import UsageError
from soak.report.output import files
from soak.report.output.files import write_report


def test_pages_and_data_appear_and_nothing_else(sheet, tmp_path):
    """Two pages, two JSON and the table; no half file stays behind."""
    written = write_report(sheet, tmp_path / "new")
    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == [
        "report-buyer.html", "report-buyer.json", "report.csv", "report.html", "report.json",
    ]  # fmt: skip
    data = json.loads(written.data.read_text(encoding="utf-8"))
    assert data == sheet.report.model_dump(mode="json")
    assert "own copy" in written.bench_page.read_text(encoding="utf-8")
    assert "own copy" not in written.buyer_page.read_text(encoding="utf-8")


def test_the_same_input_gives_the_same_bytes(make_sheet, tmp_path):
    """Gathered and written twice with one time of issue, all files are equal."""
    one, two = (
        write_report(make_sheet(), tmp_path / "a"),
        write_report(make_sheet(), tmp_path / "b"),
    )
    for name in ("bench_page", "buyer_page", "data"):
        assert getattr(one, name).read_bytes() == getattr(two, name).read_bytes()


def test_another_time_of_issue_is_another_report(make_sheet, tmp_path):
    """The date of issue is part of what is said."""
    later = make_sheet(issued_utc="2026-03-03T00:00:00Z")
    assert later.report.report_id != make_sheet().report.report_id


def test_a_failing_write_leaves_the_old_page_whole(sheet, make_sheet, tmp_path, monkeypatch):
    """If the medium is full the sentence says so, the old file stays and no stray one."""
    write_report(sheet, tmp_path)
    before = (tmp_path / "report.html").read_bytes()

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files.os, "fsync", full)
    with pytest.raises(UsageError, match="No space left"):
        write_report(make_sheet(condition="other"), tmp_path)
    assert (tmp_path / "report.html").read_bytes() == before
    assert len(list(tmp_path.iterdir())) == 5


def test_a_folder_that_cannot_be_made_is_one_sentence(sheet, tmp_path):
    """A file in the folder's place is named with what to do."""
    (tmp_path / "taken").write_text("x", encoding="utf-8")
    with pytest.raises(UsageError, match=r"taken.*choose another folder"):
        write_report(sheet, tmp_path / "taken")


@pytest.mark.skipif(os.name != "posix", reason="file modes are those of POSIX")
def test_the_files_can_be_read_by_others(sheet, tmp_path):
    """A web server of another user can serve the page."""
    written = write_report(sheet, tmp_path)
    assert written.buyer_page.stat().st_mode & 0o777 == 0o644
