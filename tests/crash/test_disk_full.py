"""A full disk stops the journal with its cause and takes nothing acknowledged."""

import shutil
from pathlib import Path

import pytest
import trio
from fuse_disk import FuseDisk
from fuse_kernel import why_not
from recorded import expected, header, kept_file, said, stream

from soak.clock import BootClock, boot_id, boot_time_s
from soak.errors import ExitCode, JournalError, JournalFull
from soak.journal import create, first_session, open_evidence, plan_resume, resume
from soak.records import Observed

needs_fuse = pytest.mark.skipif(why_not() != "", reason=why_not() or "possible")


async def fill(folder: Path, clock: BootClock, kept: list[Observed]) -> JournalError:
    """Append until the journal refuses; `kept` is what was acknowledged."""
    writer = create(folder, header(), first_session("1.0", clock), clock=clock)
    taken: list[Observed] = []
    try:
        for record in stream(3, 30_000):
            number = writer.append(record)
            taken.append(record)
            if len(taken) % 50 == 0:
                await writer.acknowledged(number)
                kept[:] = taken
    except JournalError as fault:
        with pytest.raises(JournalError):
            writer.append(record)
        with pytest.raises(JournalError):
            await writer.seal("complete", {})
        writer.close()
        return fault
    raise AssertionError("the disk did not get full")


@needs_fuse
def test_a_full_disk_names_the_cause_and_keeps_what_was_acknowledged(tmp_path: Path) -> None:
    """On a disk that gets full the writer says so, and all acknowledged records are there."""
    clock, kept = BootClock(), []
    with FuseDisk(tmp_path) as disk:
        disk.set_room(150_000)
        fault = trio.run(fill, disk.folder / "soak", clock, kept, clock=clock)
        assert isinstance(fault, JournalFull)
        assert fault.exit_code == ExitCode.BENCH_FAULT
        assert "the disk is full" in str(fault)
        assert "journal.sqlite" in str(fault)
        shutil.copytree(disk.folder / "soak", tmp_path / "copy")
    assert len(kept) >= 50
    evidence = open_evidence(tmp_path / "copy")
    found = evidence.contents().next_number - 3
    assert found >= len(kept)
    assert said(evidence) == expected(stream(3, found))


@needs_fuse
def test_a_soak_stopped_by_a_full_disk_goes_on_once_there_is_room(tmp_path: Path) -> None:
    """After making room the journal is resumed and sealed."""
    clock, kept = BootClock(), []
    with FuseDisk(tmp_path) as disk:
        disk.set_room(150_000)
        trio.run(fill, disk.folder / "soak", clock, kept, clock=clock)
        disk.set_room(10_000_000)

        async def go_on() -> None:
            folder = disk.folder / "soak"
            session = plan_resume(
                open_evidence(folder),
                program="1.0",
                boot_id=boot_id(),
                boot_s=boot_time_s(),
                utc=clock.utc(),
            )
            await resume(folder, session, clock=clock).seal("stopped", {})
            assert open_evidence(folder).seal is not None

        trio.run(go_on, clock=clock)


@needs_fuse
def test_a_kept_file_that_does_not_fit_is_not_recorded(tmp_path: Path) -> None:
    """Where a file cannot be written its record is not there either, and the cause is told."""
    clock = BootClock()

    async def main(folder: Path, disk: FuseDisk) -> None:
        writer = create(folder, header(), first_session("1.0", clock), clock=clock)
        disk.set_room(20_000)
        number = writer.keep(kept_file(1.0, "large.jpg"), bytes(100_000))
        with pytest.raises(JournalFull):
            await writer.acknowledged(number)
        writer.close()
        assert list(open_evidence(folder).kept_files()) == []

    with FuseDisk(tmp_path) as disk:
        trio.run(main, disk.folder / "soak", disk, clock=clock)
