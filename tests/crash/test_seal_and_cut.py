"""Cut the power around the seal: sealed as told, or still to be sealed, and nothing in between."""

from contextlib import suppress
from pathlib import Path

import pytest
import trio
from fuse_disk import FuseDisk
from fuse_kernel import why_not
from recorded import expected, header, kept_file, said, stream

from soak.clock import BootClock, LeapingClock, SoakClock
from soak.errors import JournalError
from soak.journal import Writer, create, finish_sealing, first_session, open_evidence, writer

pytestmark = pytest.mark.skipif(why_not() != "", reason=why_not() or "possible")

RECORDS = stream(4, 400)
PICTURE = kept_file(200.0, "a.jpg")


async def live(folder: Path, clock: SoakClock, told: list[int]) -> None:
    """Write a whole soak, noting each number that was acknowledged, -1 for the seal."""
    journal = create(folder, header(), first_session("1.0", clock), clock=clock)
    try:
        told.append(2)
        for place, record in enumerate(RECORDS):
            number = journal.append(record)
            if place == 150:
                number = journal.keep(PICTURE, b"picture")
            if place % 100 == 50:
                await journal.acknowledged(number)
                told.append(number)
        await journal.seal("complete", {})
        told.append(-1)
    finally:
        with suppress(JournalError):
            journal.close()


@pytest.mark.parametrize("seed", [None, 1], ids=["nothing unsynced", "a mixture"])
def test_a_power_cut_at_any_sync_of_a_soaks_life_loses_nothing_told(
    tmp_path: Path, seed: int | None
) -> None:
    """At each sync, from the first to the last, what had been told by then is on the medium."""
    clock, told = BootClock(), list[int]()
    written = [*RECORDS[:151], PICTURE, *RECORDS[151:]]
    syncs = 0
    while -1 not in told:
        told.clear()
        base = tmp_path / str(syncs)
        with FuseDisk(base) as disk:
            disk.cut_at_sync(syncs, base / "survivors", seed)
            with suppress(JournalError):
                trio.run(live, disk.folder / "soak", clock, told, clock=clock)
        if told and -1 not in told:
            evidence = open_evidence(base / "survivors" / "soak")
            found = evidence.contents().next_number - 3 - (evidence.seal is not None)
            assert found + 2 >= told[-1], f"cut at sync {syncs}"
            assert said(evidence) == expected(written[:found]), f"cut at sync {syncs}"
            for entry in evidence.kept_files():
                assert evidence.kept_bytes(entry) == b"picture"
        syncs += 1
    assert syncs > 12


async def filled(folder: Path, clock: SoakClock) -> Writer:
    """Return a writer that took the records."""
    made = create(folder, header(), first_session("1.0", clock), clock=clock)
    for record in RECORDS:
        made.append(record)
    return made


@pytest.mark.parametrize("make_clock", [BootClock, LeapingClock])
def test_a_seal_that_was_told_survives_a_power_cut(
    tmp_path: Path, make_clock: type[SoakClock]
) -> None:
    """Once `seal` has returned, the very file it hashed is on the medium."""
    clock = make_clock()

    async def main(folder: Path) -> str:
        return await (await filled(folder, clock)).seal("complete", {})

    with FuseDisk(tmp_path) as disk:
        digest = trio.run(main, disk.folder / "soak", clock=clock)
        disk.cut(tmp_path / "survivors")
    evidence = open_evidence(tmp_path / "survivors" / "soak")
    assert evidence.file_sha256 == digest
    assert said(evidence) == expected(RECORDS)


@pytest.mark.parametrize("seed", [None, *range(8)])
@pytest.mark.parametrize("step", ["leave_wal", "make_final"])
def test_a_power_cut_within_the_sealing_loses_no_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, seed: int | None
) -> None:
    """Cut before or after leaving the log, the journal is read and can then be sealed."""
    clock = BootClock()

    async def main(disk: FuseDisk) -> None:
        journal = await filled(disk.folder / "soak", clock)

        def cut(*_: object) -> str:
            disk.cut(tmp_path / "survivors", seed)
            raise JournalError("power cut")

        monkeypatch.setattr(journal._store if step == "leave_wal" else writer, step, cut)
        with pytest.raises(JournalError, match="power cut"):
            await journal.seal("complete", {})

    with FuseDisk(tmp_path) as disk:
        trio.run(main, disk, clock=clock)
    folder = tmp_path / "survivors" / "soak"
    evidence = open_evidence(folder)
    assert said(evidence) == expected(RECORDS)
    assert evidence.seal is not None
    digest = finish_sealing(folder)
    assert said(open_evidence(folder)) == expected(RECORDS)
    assert open_evidence(folder).file_sha256 == digest
