"""What is read ahead saves time; that it failed is told whether it is used or not."""

import errno

import pytest

from soak.bench.stick import medium

LENGTH = 8192


class Flaky:
    """A medium of one byte that fails once at one place."""

    direct, why_cached, base_bytes = True, "", 0

    def __init__(self, fails_at):
        self._fails_at = fails_at

    def read_into(self, memory, at):
        if at == self._fails_at:
            self._fails_at = -1
            raise OSError(errno.EIO, "bad place")
        memory[:] = b"x" * len(memory)
        return len(memory)

    def write_from(self, memory, at):
        return len(memory)

    def flush(self):
        pass

    def close(self):
        pass


class Order:
    def __init__(self, fails_at):
        self._fails_at = fails_at

    def open(self):
        return Flaky(self._fails_at), {}


@pytest.fixture
def shared(tmp_path):
    (tmp_path / "memory").write_bytes(bytes(medium.PARTS * LENGTH))
    yield f"1:{tmp_path / 'memory'}"
    medium.close_medium()


def read(shared, number):
    return medium.read_medium(shared, number * LENGTH, LENGTH).errno


@pytest.mark.parametrize("between", ["nothing", "a write", "a read elsewhere", "a pause"])
def test_a_read_ahead_that_failed_is_told_to_who_asks_for_its_place(shared, monkeypatch, between):
    """Used at once, or dropped for what came between: the failure is told, and told once."""
    medium.open_medium(Order(2 * LENGTH))
    assert [read(shared, number) for number in (0, 1)] == [None, None]
    if between == "a write":
        assert medium.write_medium(shared, 0, LENGTH, None).errno is None
    elif between == "a read elsewhere":
        assert read(shared, 7) is None
    elif between == "a pause":
        monkeypatch.setattr(medium, "FRESH_S", 0.0)
    assert read(shared, 2) == errno.EIO
    assert read(shared, 2) is None


def test_a_read_ahead_of_what_nobody_asks_for_is_no_failure(shared):
    """Behind the last chunk there may be anything."""
    medium.open_medium(Order(2 * LENGTH))
    assert [read(shared, number) for number in (0, 1, 0, 1, 0)] == [None] * 5


def test_a_read_tells_for_how_long_something_waited_for_a_processor(shared, monkeypatch, tmp_path):
    """The kernel's count of it, in microseconds, grows by 0.25 s while a piece is read."""
    count = tmp_path / "cpu"
    count.write_text("some avg10=0.00 avg60=0.00 avg300=0.00 total=1000000\nfull total=0\n")
    monkeypatch.setattr(medium, "PRESSURE", count)

    class Slow(Flaky):
        def read_into(self, memory, at):
            count.write_text("some avg10=9.00 avg60=0.00 avg300=0.00 total=1250000\nfull total=0\n")
            return super().read_into(memory, at)

    monkeypatch.setattr(Order, "open", lambda self: (Slow(-1), {}))
    medium.open_medium(Order(-1))
    assert medium.read_medium(shared, 0, LENGTH).waited_s == pytest.approx(0.25)


def test_where_the_kernel_counts_no_waiting_none_is_told(shared, monkeypatch, tmp_path):
    """An older kernel, another system: nothing is excused."""
    monkeypatch.setattr(medium, "PRESSURE", tmp_path / "none")
    medium.open_medium(Order(-1))
    assert medium.read_medium(shared, 0, LENGTH).waited_s == 0.0
