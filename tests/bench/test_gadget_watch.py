"""What a unit does with a played stick, from looks at the port."""

from hypothesis import given
from hypothesis import strategies as st

from soak.bench.stand_in.gadget_state import Glimpse
from soak.bench.stand_in.gadget_watch import SETTLES_S, GadgetWatch


def watched(*looks: tuple[float, str], may_sleep: bool = False):
    """Return the last status after looks at (time, state)."""
    watch = GadgetWatch(may_sleep=may_sleep)
    status = None
    for t_s, state in looks:
        speed = 480.0 if state == "configured" else None
        status = watch.take(t_s, Glimpse(state, speed, 0, 0))
    assert status is not None
    return status


def test_a_stick_that_is_configured_is_seen_once():
    """The way there through the other states of USB 2.0, 9.1 is one enumeration."""
    way = ["not attached", "powered", "default", "addressed", "configured", "configured"]
    status = watched(*((0.1 * number, state) for number, state in enumerate(way)))
    assert (status.at, status.enumerations, status.resets) == ("seen", 1, 0)
    assert (status.since_s, status.speed_mbps) == (0.4, 480.0)


def test_a_reset_is_no_leaving():
    """A unit that resets and configures again within the settling time counts a reset."""
    status = watched((0, "configured"), (1, "default"), (1.1, "addressed"), (1.2, "configured"))
    assert (status.at, status.enumerations, status.resets, status.since_s) == ("seen", 2, 1, 0)


def test_a_unit_that_cannot_configure_it_again_has_lost_it():
    """Stuck in the middle of enumeration is gone, from the moment it left on."""
    status = watched((0, "configured"), (1, "default"), (1 + SETTLES_S, "default"))
    assert (status.at, status.since_s, status.resets) == ("gone", 1, 0)


def test_an_unplugged_stick_is_gone_at_once():
    """Without power from the unit there is nothing to wait for, and coming back is no reset."""
    status = watched((0, "configured"), (5, "not attached"))
    assert (status.at, status.since_s, status.speed_mbps) == ("gone", 5, None)
    status = watched((0, "configured"), (5, "not attached"), (6, "default"), (7, "configured"))
    assert (status.at, status.enumerations, status.resets) == ("seen", 2, 0)


def test_a_port_without_signals_is_gone_unless_the_unit_may_sleep():
    """On many controllers unplugged, off and asleep look alike: suspended."""
    looks = [(0, "configured"), (5, "suspended")]
    assert watched(*looks).at == "gone"
    assert watched(*looks, may_sleep=True).at == "seen"
    assert watched(*looks, (6, "configured"), may_sleep=True).enumerations == 1
    assert watched(*looks, (6, "not attached"), may_sleep=True).at == "gone"


STATES = [
    "not attached",
    "attached",
    "powered",
    "default",
    "addressed",
    "configured",
    "suspended",
]


@given(st.lists(st.tuples(st.floats(0.02, 5), st.sampled_from(STATES)), max_size=60), st.booleans())
def test_counts_never_fall_whatever_the_port_says(steps, may_sleep):
    """Each reset is an enumeration, counts only grow, and times do not run backwards."""
    watch, t_s, before = GadgetWatch(may_sleep=may_sleep), 0.0, None
    for step_s, state in steps:
        t_s += step_s
        now = watch.take(t_s, Glimpse(state, None))
        assert now.resets <= now.enumerations
        assert now.since_s <= t_s
        if before is not None:
            assert now.enumerations >= before.enumerations
            assert now.resets >= before.resets
        if state == "configured":
            assert now.at == "seen"
        before = now


def test_what_was_read_is_known_since_the_unit_took_the_stick_in():
    """A bench that begins to listen later still knows what this unit read."""
    watch = GadgetWatch()
    watch.take(0.0, Glimpse("not attached", None, 700, 0))
    assert watch.take(1.0, Glimpse("configured", 480.0, 700, 0)).read_here_bytes == 0
    assert watch.take(2.0, Glimpse("configured", 480.0, 4796, 0)).read_here_bytes == 4096
    assert watch.take(3.0, Glimpse("not attached", None, 4796, 0)).read_here_bytes == 0
    again = watch.take(4.0, Glimpse("configured", 480.0, 5308, 0))
    assert (again.read_here_bytes, again.read_bytes) == (512, 5308)
    assert watch.take(5.0, Glimpse("configured", 480.0, None, None)).read_here_bytes is None
