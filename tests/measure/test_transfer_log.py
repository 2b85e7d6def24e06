import pytest
from hypothesis import given
from hypothesis import strategies as st

from soak.measure.stick.states import why_no_evidence
from soak.measure.stick.transfer_log import TransferLog
from soak.roles import Transfer

took = st.floats(0.001, 10.0)
transfers = st.lists(
    st.tuples(st.sampled_from(["read", "wrote", "failed"]), st.integers(1, 1 << 22), took),
    max_size=40,
)


def said(every_s, done):
    """Return all readings of a series of transfers, one after another."""
    log, t_s, found = TransferLog("stick", every_s, 5.0), 0.0, []
    for what, length, took_s in done:
        t_s += took_s
        if what == "read":
            found += log.read(t_s, length, took_s, length % 3)
        elif what == "wrote":
            found += log.wrote(t_s, length, took_s)
        else:
            found += log.failed(t_s, took_s)
    return found + log.flush(t_s)


def of(found, what):
    """Return the values of one quantity."""
    return [reading.value for reading in found if reading.quantity == f"transfer.stick.{what}"]


@given(st.floats(0, 30), transfers)
def test_nothing_is_lost_in_putting_transfers_together(every_s, done):
    """Wrong and written bytes add up, and the longest transfer is kept, whatever the window."""
    found = said(every_s, done)
    assert sum(of(found, "damaged")) == sum(n % 3 for what, n, _ in done if what == "read")
    assert sum(of(found, "written")) == sum(n for what, n, _ in done if what == "wrote")
    longest = max((took_s for _, _, took_s in done), default=0.0)
    assert max(of(found, "chunk_s"), default=0.0) == longest


@given(transfers)
def test_speed_lies_between_the_slowest_and_the_fastest_read(done):
    """The speed of a window is bytes by time, so no read is faster or slower than all speeds."""
    speeds = [length / took_s for what, length, took_s in done if what == "read"]
    for speed in of(said(2.0, done), "speed"):
        assert min(speeds) * 0.999 <= speed <= max(speeds) * 1.001


def test_readings_come_no_more_often_than_asked():
    """A thousand reads in 10 s give ten sets of readings, not a thousand."""
    found = said(1.0, [("read", 3 * 1024, 0.01)] * 1000)
    assert 9 <= len(of(found, "speed")) <= 11


@pytest.mark.parametrize(
    ("mbps", "ceiling"),
    [
        (12, 19 * 64 * 1000),  # USB 2.0, 5.8.4: 19 packets of 64 B in each frame of 1 ms
        (480, 13 * 512 * 8000),  # and 13 of 512 B in each microframe of 125 us
        (5000, 5e9 * 8 / 10 / 8),  # 8b/10b coding
    ],
)
def test_a_read_above_the_links_ceiling_is_no_evidence(mbps, ceiling):
    """A hair under what the link can carry is believed, a hair above is not."""
    for share, believed in ((0.999, True), (1.001, False)):
        came = Transfer(b"", 1.0, None, "direct")
        why = why_no_evidence(came, int(ceiling * share), {"link_mbps": float(mbps)})
        assert (why == "") is believed


def test_what_the_computer_waited_is_told_of_the_read_that_was_late_without_it():
    """Of two reads in a window the one that took 1 s of its own says more than 1.2 s of waiting."""
    log = TransferLog("stick", 10.0, 5.0)
    log.read(1.2, 4096, 1.2, 0, waited_s=1.15)
    log.read(2.2, 4096, 1.0, 0, waited_s=0.1)
    found = log.flush(2.2)
    assert of(found, "read_s") == [1.0]
    assert of(found, "read_wait_s") == [0.1]
    assert of(found, "chunk_s") == [1.2]
    log.read(3.2, 4096, 1.0, 0)
    assert not of(log.flush(3.2), "read_wait_s")
