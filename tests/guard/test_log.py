"""The guard's log: whole lines, chained; a torn end is cut off, a changed line is found."""

from pathlib import Path

import pytest
import trio
from hypothesis import given
from hypothesis import strategies as st

from soak.clock import LeapingClock
from soak.errors import JournalError
from soak.run.guard.log import FILE, GuardLog, check_log, read_log
from soak.run.guard.post import Order, Post

UTC = "2026-01-05T21:00:00.000+00:00"


def written(folder: Path, number: int = 3) -> GuardLog:
    log = GuardLog(folder)
    for at in range(number):
        log.append(float(at), UTC, "power", {"on": at % 2 == 0, "why": "test"})
    log.close()
    return log


def test_a_log_reads_back_what_was_written(tmp_path: Path):
    """Number, time, statement and detail come back in order."""
    written(tmp_path)
    found = read_log(tmp_path)
    assert [entry.number for entry in found] == [1, 2, 3]
    assert [entry.detail["on"] for entry in found] == [True, False, True]


@given(cut=st.integers(0, 2000))
def test_a_log_cut_at_any_byte_keeps_its_whole_lines_and_goes_on(tmp_path_factory, cut: int):
    """What a crash leaves is a beginning of the log; a new session continues the chain."""
    folder = tmp_path_factory.mktemp("log")
    written(folder)
    path = folder / FILE
    data = path.read_bytes()
    path.write_bytes(data[: min(cut, len(data))])
    whole = data[: min(cut, len(data))].count(b"\n")
    assert len(read_log(folder)) == whole
    written(folder, 1)
    assert [entry.number for entry in read_log(folder)] == list(range(1, whole + 2))


@given(data=st.data())
def test_a_changed_byte_in_a_whole_line_is_found(tmp_path_factory, data):
    """No byte of a finished line can be another without the reader refusing."""
    folder = tmp_path_factory.mktemp("log")
    written(folder)
    path = folder / FILE
    lines = bytearray(path.read_bytes())
    at = data.draw(st.integers(0, len(lines) - 2))
    lines[at] ^= data.draw(st.integers(1, 255))
    path.write_bytes(lines)
    with pytest.raises(JournalError, match="is not what the guard wrote"):
        read_log(folder)


def test_a_log_may_go_on_after_the_seal_but_not_be_shortened(tmp_path: Path):
    """The seal names number and hash of a line that must stand there."""
    told = written(tmp_path).head()
    written(tmp_path, 2)
    check_log(tmp_path, told)
    path = tmp_path / FILE
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:2]))
    with pytest.raises(JournalError, match="changed or shortened"):
        check_log(tmp_path, told)


def test_a_soak_without_a_guard_log_checks_clean(tmp_path: Path):
    """Simulated soaks have none, and their seals name none."""
    check_log(tmp_path, {})
    assert read_log(tmp_path) == []


class BusyHost:
    """Work off the loop takes five seconds to begin with: the host is busy."""

    async def call(self, limit_s, work, *args):
        if work is GuardLog:
            await trio.sleep(5.0)
        return work(*args)


class Relay:
    """Obeys."""

    def __init__(self) -> None:
        self.identity: dict[str, str] = {}

    async def command(self, channel: str, on: bool) -> None:
        await trio.lowlevel.checkpoint()

    async def aclose(self) -> None:
        pass


def test_the_log_tells_of_the_off_though_the_runner_died_while_it_was_being_opened(tmp_path: Path):
    """On a busy host opening takes its time; the unit goes off at once, and that is written."""
    clock = LeapingClock()
    post = Post(
        Order("S-1", "1", 0.0, 5.0, {}, {}), {"switch": Relay()}, frozenset(), BusyHost(), clock
    )

    async def main() -> None:
        async with trio.open_nursery() as nursery:
            nursery.start_soon(post.begin, tmp_path, lambda _: None)
            await trio.sleep(1.0)
            await post.guard.command("1", True)
            nursery.cancel_scope.cancel()
        await post.lost()
        await post.aclose()

    trio.run(main, clock=clock)
    said = read_log(tmp_path)
    assert said[-1].what == "guard ends"
    assert [one.detail["on"] for one in said if one.what == "power"][-1] is False
