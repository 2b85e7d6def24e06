"""Damage a journal at many places: a clear error or a valid beginning, never a wrong record."""

import random
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
import trio
from recorded import expected, header, said, stream

from soak.clock import BootClock, LeapingClock
from soak.errors import JournalError
from soak.journal import create, first_session, open_evidence

RECORDS = stream(11, 700)
PLACES = 150


@pytest.fixture(scope="module")
def sealed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a sealed journal of many batches."""
    folder, clock = tmp_path_factory.mktemp("sealed") / "soak", LeapingClock()

    async def main() -> None:
        writer = create(folder, header(), first_session("1.0", clock), clock=clock)
        for place, record in enumerate(RECORDS):
            number = writer.append(record)
            if place % 40 == 0:
                await writer.acknowledged(number)
        await writer.seal("complete", {})

    trio.run(main, clock=clock)
    return folder


@pytest.fixture(scope="module")
def cut_off(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a journal whose writer never closed it, write-ahead log and all."""
    base, clock = tmp_path_factory.mktemp("cut"), BootClock()

    async def main() -> None:
        writer = create(base / "running", header(), first_session("1.0", clock), clock=clock)
        for place, record in enumerate(RECORDS):
            number = writer.append(record)
            if place % 40 == 0:
                await writer.acknowledged(number)
        await writer.acknowledged(number)
        shutil.copytree(base / "running", base / "soak")
        writer.close()

    trio.run(main, clock=clock)
    return base / "soak"


def copy_of(folder: Path, to: Path) -> Path:
    """Copy a soak's folder so that it can be damaged."""
    shutil.copytree(folder, to)
    for path in to.rglob("*"):
        path.chmod(0o755 if path.is_dir() else 0o644)
    return to


def read_back(folder: Path) -> int:
    """Return how many records are told, having checked them; -1 for a clear error."""
    try:
        evidence = open_evidence(folder)
        answers = said(evidence)
    except JournalError as fault:
        if str(folder) not in str(fault) or "\n" in str(fault):
            raise
        return -1
    last = evidence.contents().next_number - 1
    count = last - 2 - (evidence.seal is not None)
    assert evidence.header == header()
    assert answers == expected(RECORDS[:count])
    return count


def flip(content: bytearray, place: int, draw: random.Random) -> bytearray:
    """Turn one bit over."""
    content[place] ^= 1 << draw.randrange(8)
    return content


def truncate(content: bytearray, place: int, draw: random.Random) -> bytearray:
    """Leave out all from a place on."""
    return content[:place]


def zero(content: bytearray, place: int, draw: random.Random) -> bytearray:
    """Zero the sector that holds a place."""
    start = place - place % 512
    content[start : start + 512] = bytes(len(content[start : start + 512]))
    return content


Harm = Callable[[bytearray, int, random.Random], bytearray]
HARMS: list[Harm] = [flip, truncate, zero]


@pytest.mark.parametrize("harm", HARMS)
def test_a_sealed_journal_that_was_harmed_is_refused(
    tmp_path: Path, sealed: Path, harm: Harm
) -> None:
    """No byte of a sealed file can change without the file being refused."""
    draw = random.Random(1)
    folder = copy_of(sealed, tmp_path / "soak")
    whole = (folder / "journal.sqlite").read_bytes()
    assert read_back(folder) == len(RECORDS)
    for _ in range(PLACES):
        changed = harm(bytearray(whole), draw.randrange(len(whole)), draw)
        (folder / "journal.sqlite").write_bytes(changed)
        assert read_back(folder) == (len(RECORDS) if changed == whole else -1)


@pytest.mark.parametrize("harm", HARMS)
def test_without_its_seal_file_a_harmed_journal_tells_nothing_wrong(
    tmp_path: Path, sealed: Path, harm: Harm
) -> None:
    """The chain alone, too, lets no wrong record pass."""
    draw = random.Random(2)
    folder = copy_of(sealed, tmp_path / "soak")
    (folder / "seal.json").unlink()
    whole = (folder / "journal.sqlite").read_bytes()
    found = set()
    for _ in range(PLACES):
        changed = harm(bytearray(whole), draw.randrange(len(whole)), draw)
        (folder / "journal.sqlite").write_bytes(changed)
        found.add(read_back(folder))
    assert -1 in found


@pytest.mark.parametrize("harm", HARMS)
@pytest.mark.parametrize("file", ["journal.sqlite", "journal.sqlite-wal"])
def test_a_harmed_cut_off_journal_is_refused_or_tells_a_beginning(
    tmp_path: Path, cut_off: Path, file: str, harm: Harm
) -> None:
    """With its write-ahead log still hot, damage gives an error or the records before it."""
    draw = random.Random(3)
    assert read_back(copy_of(cut_off, tmp_path / "whole")) == len(RECORDS)
    whole = (cut_off / file).read_bytes()
    for number in range(PLACES // 2):
        folder = copy_of(cut_off, tmp_path / f"soak{number}")
        (folder / "journal.sqlite-shm").unlink()
        changed = harm(bytearray(whole), draw.randrange(len(whole)), draw)
        (folder / file).write_bytes(changed)
        assert read_back(folder) <= len(RECORDS)


def test_a_log_cut_at_a_commit_gives_the_records_before_it(tmp_path: Path, cut_off: Path) -> None:
    """Half a write-ahead log gives a beginning that is neither empty nor whole."""
    folder = copy_of(cut_off, tmp_path / "soak")
    log = folder / "journal.sqlite-wal"
    (folder / "journal.sqlite-shm").unlink()
    log.write_bytes(log.read_bytes()[: log.stat().st_size // 2])
    assert 0 < read_back(folder) < len(RECORDS)


EDITS = {
    "a value": "UPDATE rows SET body = zeroblob(length(body)) WHERE kind = 'readings'",
    "a row left out": "DELETE FROM rows WHERE first = (SELECT first FROM rows WHERE first > 99)",
    "two rows changed over": "UPDATE rows SET body = (SELECT body FROM rows WHERE kind = 'mark' "
    "ORDER BY first DESC) WHERE first = (SELECT first FROM rows WHERE kind = 'mark')",
    "a kind": "UPDATE rows SET kind = 'mark' WHERE kind = 'state'",
    "a broken text for a link": "UPDATE rows SET link = CAST(x'410a80' AS TEXT) WHERE first = 2",
    "a text for bytes": "UPDATE rows SET body = CAST(body AS TEXT) WHERE first = 2",
    "a row behind the seal": "INSERT INTO rows SELECT first + 1, 1, kind, body, link FROM rows "
    "ORDER BY first DESC LIMIT 1",
    "the header": "UPDATE rows SET body = CAST(replace(CAST(body AS TEXT), '0001', '0002') "
    "AS BLOB) WHERE first = 1",
}


@pytest.mark.parametrize("edit", EDITS.values(), ids=EDITS)
def test_an_edit_made_through_sqlite_breaks_the_chain(
    tmp_path: Path, sealed: Path, edit: str
) -> None:
    """An edit that leaves the file a perfect SQLite file is found and its record named."""
    folder = copy_of(sealed, tmp_path / "soak")
    (folder / "seal.json").unlink()
    db = sqlite3.connect(folder / "journal.sqlite", isolation_level=None)
    assert db.execute(edit).rowcount > 0
    db.close()
    with pytest.raises(JournalError, match=r"record \d+ is damaged or was changed") as told:
        said(open_evidence(folder))
    assert str(told.value).isprintable()
