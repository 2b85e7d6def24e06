"""The writer: numbers, acknowledgement, refusals, one owner, the seal."""

import hashlib
import json
import stat
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
import trio
from recorded import expected, header, kept_file, said, stream

from soak.clock import BootClock, LeapingClock, SoakClock
from soak.errors import JournalError
from soak.journal import MemoryJournal, Writer, create, first_session, open_evidence
from soak.journal.batches import LOOP_BATCH
from soak.records import KeptFile, Mark, Reading, State

CLOCKS: list[type[SoakClock]] = [BootClock, LeapingClock]
both_clocks = pytest.mark.parametrize("make_clock", CLOCKS)


def new(folder: Path, clock: SoakClock) -> Writer:
    """Begin a journal."""
    return create(folder, header(), first_session("1.0", clock), clock=clock)


@both_clocks
def test_what_was_appended_is_what_is_read(tmp_path: Path, make_clock: type[SoakClock]) -> None:
    """A sealed journal tells every record, in order, under either clock."""
    clock, records = make_clock(), stream(1, 1500)

    async def main() -> str:
        writer = new(tmp_path / "soak", clock)
        numbers = [writer.append(record) for record in records]
        assert numbers == list(range(3, 3 + len(records)))
        return await writer.seal("complete", {"name": "guard.log"})

    digest = trio.run(main, clock=clock)
    evidence = open_evidence(tmp_path / "soak")
    assert said(evidence) == expected(records)
    assert evidence.file_sha256 == digest
    assert evidence.seal is not None
    assert evidence.seal.guard_log == {"name": "guard.log"}


@both_clocks
def test_an_acknowledged_record_is_read_by_others_at_once(
    tmp_path: Path, make_clock: type[SoakClock]
) -> None:
    """While the soak runs, another reader finds what was acknowledged."""
    clock = make_clock()

    async def main() -> None:
        writer = new(tmp_path, clock)
        evidence = open_evidence(tmp_path)
        for value in range(5):
            await writer.acknowledged(writer.append(Reading(value, "probe.outlet", value)))
            evidence.refresh()
            assert evidence.series("probe.outlet")[1].tolist() == list(range(value + 1))
        assert evidence.seal is None
        assert evidence.file_sha256 == ""
        writer.close()

    trio.run(main, clock=clock)


def test_under_a_leaping_clock_nothing_leaves_the_loop(tmp_path: Path) -> None:
    """No thread is started, and batches are written by count alone."""
    clock = LeapingClock()
    before = threading.active_count()
    writer = new(tmp_path, clock)
    for number in range(LOOP_BATCH - 1):
        writer.append(Reading(number, "probe.outlet", 1.0))
    assert len(open_evidence(tmp_path).series("probe.outlet")[0]) == 0
    writer.append(Mark(1.0, "note"))
    assert len(open_evidence(tmp_path).series("probe.outlet")[0]) == LOOP_BATCH - 1
    assert threading.active_count() == before
    writer.close()


def test_an_append_does_not_wait_for_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While a batch hangs in the disk, appending goes on and nothing is acknowledged."""
    clock, hung, released = BootClock(), threading.Event(), threading.Event()

    async def main() -> None:
        writer = new(tmp_path, clock)
        write = writer._store.write

        def hang(entries: object) -> None:
            hung.set()
            released.wait()
            write(entries)  # type: ignore[arg-type]  # the real write takes the same list

        monkeypatch.setattr(writer._batches, "_write", hang)
        writer.append(Mark(1.0, "note"))
        await trio.to_thread.run_sync(hung.wait)
        number = writer.append(Mark(2.0, "note"))
        with trio.move_on_after(0.02) as waited:
            await writer.acknowledged(number)
        assert waited.cancelled_caught
        released.set()
        await writer.acknowledged(number)
        writer.close()
        assert len(open_evidence(tmp_path).marks("note")) == 2

    trio.run(main, clock=clock)


@both_clocks
def test_a_failed_write_is_told_to_whoever_waits_and_whoever_appends(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, make_clock: type[SoakClock]
) -> None:
    """The cause of a failed batch reaches acknowledged, later appends and the seal."""
    clock = make_clock()

    def fail(entries: object) -> None:
        raise JournalError("the disk is gone")

    async def main() -> None:
        writer = new(tmp_path, clock)
        earlier = writer.append(Mark(0.5, "note"))
        await writer.acknowledged(earlier)
        monkeypatch.setattr(writer._batches, "_write", fail)
        number = writer.append(Mark(1.0, "note"))
        with pytest.raises(JournalError, match="gone"):
            await writer.acknowledged(number)
        with pytest.raises(JournalError, match="gone"):
            writer.append(Mark(2.0, "note"))
        with pytest.raises(JournalError, match="gone"):
            await writer.seal("complete", {})
        writer.close()
        assert [mark.t_s for mark in open_evidence(tmp_path).marks()] == [0.5]

    trio.run(main, clock=clock)


def test_closing_tells_a_failure_that_nobody_heard_of(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Readings that could not be written at the end are not lost in silence."""

    def fail(entries: object) -> None:
        raise JournalError("the disk is gone")

    writer = new(tmp_path, BootClock())
    monkeypatch.setattr(writer._batches, "_write", fail)
    writer.append(Reading(1.0, "probe.outlet", 1.0))
    with pytest.raises(JournalError, match="gone"):
        writer.close()


REFUSED: dict[str, Callable[[Writer | MemoryJournal], object]] = {
    "a quantity the header lacks": lambda j: j.append(Reading(1.0, "probe.lid", 1.0)),
    "not plain JSON": lambda j: j.append(Mark(1.0, "note", detail={"by": object()})),
    "not a number": lambda j: j.append(State(1.0, "stick", "seen", detail={"x": float("nan")})),
    "a kept file without its file": lambda j: j.append(kept_file(1.0, "a.jpg")),
    "a name with a folder": lambda j: j.keep(kept_file(1.0, "../a.jpg"), b"x"),
    "an empty name": lambda j: j.keep(kept_file(1.0, ""), b"x"),
    "a hidden name": lambda j: j.keep(kept_file(1.0, ".a.jpg"), b"x"),
    "a name with a line break": lambda j: j.keep(kept_file(1.0, "a\n.jpg"), b"x"),
}


@pytest.mark.parametrize("act", REFUSED.values(), ids=REFUSED)
def test_a_record_that_cannot_be_kept_is_refused_when_it_is_appended(
    tmp_path: Path, act: Callable[[Writer | MemoryJournal], object]
) -> None:
    """The mistake shows where it is made, and the journal stays whole and usable."""
    writer = new(tmp_path, LeapingClock())
    memory = MemoryJournal(header())
    for journal in (writer, memory):
        with pytest.raises(JournalError):
            act(journal)
        assert journal.append(Mark(1.0, "note")) == 3
    writer.close()
    assert said(open_evidence(tmp_path)) == said(memory.evidence)


def test_a_changed_detail_does_not_change_what_was_said(tmp_path: Path) -> None:
    """A record is taken as it is when it is appended."""
    writer, detail = new(tmp_path, LeapingClock()), {"on": True}
    writer.append(Mark(1.0, "power", detail=detail))
    detail["on"] = False
    writer.close()
    assert open_evidence(tmp_path).marks("power")[0].detail == {"on": True}


@both_clocks
def test_a_kept_file_is_kept_with_its_sha256(tmp_path: Path, make_clock: type[SoakClock]) -> None:
    """SHA-256 of "abc" is that of FIPS 180-4, and the bytes come back."""
    clock = make_clock()

    async def main() -> KeptFile:
        writer = new(tmp_path, clock)
        number = writer.keep(kept_file(2.0, "a.jpg"), b"abc")
        with pytest.raises(JournalError, match=r"already has a kept file"):
            writer.keep(kept_file(3.0, "a.jpg"), b"other")
        await writer.acknowledged(number)
        writer.close()
        return open_evidence(tmp_path).kept_files()[0]

    found = trio.run(main, clock=clock)
    assert found.sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    evidence = open_evidence(tmp_path)
    assert evidence.kept_bytes(found) == b"abc"
    (tmp_path / "kept" / "a.jpg").write_bytes(b"abd")
    with pytest.raises(JournalError, match="changed or swapped since"):
        evidence.kept_bytes(found)
    (tmp_path / "kept" / "a.jpg").unlink()
    with pytest.raises(JournalError, match="was recorded and is gone"):
        evidence.kept_bytes(found)


def test_a_second_writer_is_refused(tmp_path: Path) -> None:
    """Neither a new soak nor another writer gets a folder that has a journal."""
    writer = new(tmp_path, LeapingClock())
    with pytest.raises(JournalError, match="there already"):
        new(tmp_path, LeapingClock())
    writer.close()


def test_the_seal_leaves_one_read_only_file_and_its_hash(tmp_path: Path) -> None:
    """After sealing there is no log beside the file, and `seal.json` tells its SHA-256."""
    clock = BootClock()

    async def main() -> None:
        writer = new(tmp_path, clock)
        await writer.seal("stopped", {})
        with pytest.raises(JournalError, match="closed"):
            writer.append(Mark(1.0, "note"))
        writer.close()

    trio.run(main, clock=clock)
    path = tmp_path / "journal.sqlite"
    names = sorted(entry.name for entry in tmp_path.iterdir())
    assert names == ["journal.sqlite", "kept", "seal.json"]
    assert stat.S_IMODE(path.stat().st_mode) == 0o444
    told = json.loads((tmp_path / "seal.json").read_text())
    assert told["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert told["size_bytes"] == path.stat().st_size


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    """A file in the way gives one sentence with its path."""
    (tmp_path / "taken").write_text("")
    with pytest.raises(JournalError, match="taken"):
        new(tmp_path / "taken", LeapingClock())
