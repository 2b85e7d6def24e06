"""Going on: how long nobody looked, and a chain that carries on."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import trio
from recorded import expected, header, kept_file, said, stream

from soak.clock import BootClock, LeapingClock, boot_time_s
from soak.errors import JournalError
from soak.journal import (
    MemoryJournal,
    create,
    finish_sealing,
    first_session,
    open_evidence,
    plan_resume,
    resume,
    writer,
)
from soak.records import Mark, Reading, Session

BEGAN = datetime(2026, 3, 1, 20, 0, tzinfo=UTC)
FIRST = Session(1, "1.0", "boot-a", "2026-03-01T20:00:00Z", 0.0, 0.0, "first start", 5000.0)


def cut_off(*more: Mark, session: Session = FIRST) -> MemoryJournal:
    """Return a journal whose last record is of 600 s."""
    journal = MemoryJournal(header(), session)
    for mark in more:
        journal.append(mark)
    journal.append(Reading(600.0, "probe.outlet", 40.0))
    return journal


def plan(journal: MemoryJournal, boot_id: str, boot_s: float | None, after_s: float) -> Session:
    """Plan a resumption so many seconds after the soak began, by the wall clock."""
    return plan_resume(
        journal.evidence,
        program="1.1",
        boot_id=boot_id,
        boot_s=boot_s,
        utc=BEGAN + timedelta(seconds=after_s),
    )


def test_within_one_boot_the_gap_is_the_boot_clocks() -> None:
    """The wall clock, wrong by a day, is not asked where the boot clock knows."""
    found = plan(cut_off(), "boot-a", 5700.0, 86_400.0)
    assert (found.gap_s, found.gap_from) == (100.0, "boot clock")
    assert (found.number, found.begins_at_s, found.program) == (2, 700.0, "1.1")
    assert (found.boot_id, found.boot_s) == ("boot-a", 5700.0)


def test_after_a_restart_of_the_host_the_gap_is_the_wall_clocks() -> None:
    """Another boot's clock says nothing of the time before it."""
    found = plan(cut_off(), "boot-b", 30.0, 1800.0)
    assert (found.gap_s, found.gap_from, found.begins_at_s) == (1200.0, "wall clock", 1800.0)


def test_a_known_step_of_the_wall_clock_is_taken_out_of_the_gap() -> None:
    """A clock set forward by 60 s while the soak ran does not lengthen the gap."""
    journal = cut_off(Mark(100.0, "clock stepped", detail={"by_s": 60.0}))
    assert plan(journal, "boot-b", 30.0, 1800.0).gap_s == 1140.0


@pytest.mark.parametrize(
    ("boot_id", "boot_s", "after_s"),
    [("boot-b", 30.0, 599.0), ("boot-a", 5599.0, 1800.0), ("", None, -5.0)],
    ids=["wall clock ran backwards", "boot clock contradicts", "no boot known"],
)
def test_a_gap_that_cannot_be_is_unknown(
    boot_id: str, boot_s: float | None, after_s: float
) -> None:
    """Where the clocks contradict the journal the gap is unknown, and soak time goes on."""
    found = plan(cut_off(), boot_id, boot_s, after_s)
    assert (found.gap_s, found.gap_from, found.begins_at_s) == (None, "unknown", 600.0)


def test_two_unknown_boots_are_not_the_same_boot() -> None:
    """An empty identity of the boot is no identity."""
    journal = cut_off(session=replace(FIRST, boot_id=""))
    assert plan(journal, "", 5700.0, 1800.0).gap_from == "wall clock"


def test_a_later_session_is_reckoned_from_its_own_beginning() -> None:
    """The third session's gap follows from the second's clocks."""
    journal = cut_off()
    journal.begin_session(plan(journal, "boot-b", 30.0, 1800.0))
    journal.append(Reading(1900.0, "probe.outlet", 40.0))
    found = plan(journal, "boot-b", 190.0, 0.0)
    assert (found.number, found.gap_s, found.gap_from) == (3, 60.0, "boot clock")
    assert found.begins_at_s == 1960.0


def test_a_sealed_soak_is_not_resumed() -> None:
    """What has ended has ended."""
    journal = cut_off()
    journal.seal_now()
    with pytest.raises(JournalError, match="sealed"):
        plan(journal, "boot-a", 5700.0, 700.0)


def test_a_first_session_under_the_boot_clock_can_be_resumed_by_it() -> None:
    """`first_session` notes what the boot clock needs later."""
    clock = BootClock()
    found = first_session("1.0", clock)
    assert found.boot_s is not None
    assert found.utc.endswith("Z")
    assert first_session("1.0", LeapingClock()).boot_s is None


@pytest.mark.parametrize("leaping", [False, True])
def test_a_resumed_journal_is_one_chain(tmp_path: Path, leaping: bool) -> None:
    """Records of both sessions are read as one, and names of files stay taken."""
    clock = LeapingClock() if leaping else BootClock()
    records = stream(8, 300)

    async def main() -> None:
        first = create(tmp_path, header(), FIRST, clock=clock)
        for record in records[:150]:
            first.append(record)
        first.keep(kept_file(1.0, "a.jpg"), b"abc")
        first.close()
        session = plan_resume(
            open_evidence(tmp_path), program="1.0", boot_id="b", boot_s=1.0, utc=BEGAN
        )
        second = resume(tmp_path, session, clock=clock)
        with pytest.raises(JournalError, match="already"):
            second.keep(kept_file(2.0, "a.jpg"), b"abd")
        for record in records[150:]:
            second.append(record)
        await second.seal("complete", {})

    trio.run(main, clock=clock)
    evidence = open_evidence(tmp_path)
    both = [*records[:150], kept_file(1.0, "a.jpg"), *records[150:]]
    assert said(evidence) == expected(both)
    assert [session.number for session in evidence.sessions()] == [1, 2]


def test_a_running_soak_is_not_resumed(tmp_path: Path) -> None:
    """A journal has one writer; the other is told to stop the first."""
    running = create(tmp_path, header(), FIRST, clock=LeapingClock())
    with pytest.raises(JournalError, match="still runs"):
        resume(tmp_path, replace(FIRST, number=2), clock=LeapingClock())
    running.close()


def test_a_session_out_of_turn_is_refused(tmp_path: Path) -> None:
    """A plan made before somebody else resumed is not carried out."""
    create(tmp_path, header(), FIRST, clock=LeapingClock()).close()
    with pytest.raises(JournalError, match="went on meanwhile"):
        resume(tmp_path, replace(FIRST, number=3), clock=LeapingClock())
    resume(tmp_path, replace(FIRST, number=2), clock=LeapingClock()).close()


def test_a_sealing_that_was_cut_short_is_finished(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With its last record but no seal on the file, the journal can be read and then sealed."""
    clock = LeapingClock()

    def die(path: Path) -> str:
        raise JournalError("cut short")

    async def main() -> None:
        first = create(tmp_path, header(), FIRST, clock=clock)
        with monkeypatch.context() as patched:
            patched.setattr(writer, "make_final", die)
            with pytest.raises(JournalError, match="cut short"):
                await first.seal("complete", {})

    trio.run(main, clock=clock)
    before = open_evidence(tmp_path)
    assert before.seal is not None
    assert before.file_sha256 == ""
    with pytest.raises(JournalError, match="is sealed"):
        resume(tmp_path, replace(FIRST, number=2), clock=clock)
    digest = finish_sealing(tmp_path)
    assert open_evidence(tmp_path).file_sha256 == digest
    assert finish_sealing(tmp_path) == digest


def test_a_soak_that_has_not_ended_is_not_sealed(tmp_path: Path) -> None:
    """Finishing a sealing never makes a seal of its own."""
    create(tmp_path, header(), FIRST, clock=LeapingClock()).close()
    with pytest.raises(JournalError, match="has not ended"):
        finish_sealing(tmp_path)
    resume(tmp_path, replace(FIRST, number=2), clock=LeapingClock()).close()


def test_a_soak_begins_when_its_clock_did_and_not_when_its_journal_was_made():
    """Opening the instruments took 4.6 s: soak time 0 lies so long before, by both clocks."""
    clock = BootClock(begins_at_s=4.6)
    session = first_session("0", clock)
    assert session.boot_s is not None
    assert session.boot_s == pytest.approx(boot_time_s() - clock.now_s(), abs=1e-3)
    zero = clock.utc() - timedelta(seconds=clock.now_s())
    began = datetime.fromisoformat(session.utc)
    assert abs((began - zero).total_seconds()) < 0.1
