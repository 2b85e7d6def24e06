"""Journals on played disks, which are slow: little room is kept back for their end."""

import pytest


@pytest.fixture(autouse=True)
def _little_kept_back(monkeypatch):
    """Keep a page back; `cli/test_full_disk.py` and `journal/test_reserve.py` test the rest."""
    monkeypatch.setattr("soak.journal.reserve.RESERVE_BYTES", 4096)
