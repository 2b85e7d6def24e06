"""The guard's rules: whatever order of events, they keep the unit off when it must be off."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from soak.run.guard.events import (
    Answered,
    End,
    Gone,
    GuardEvent,
    Silent,
    Tick,
    Unanswered,
    Unheard,
    Value,
    Wish,
    Woke,
)
from soak.run.guard.step import GOOD_AGAIN_S, MOST_REARMS, SWITCH, Guarding, GuardState, guard_step

TRIP_DEGC = 90.0
SPOTS = ("probe.heatsink", "probe.outside")


def fresh() -> GuardState:
    guarding = {spot: Guarding(spot, TRIP_DEGC) for spot in SPOTS}
    return GuardState(guarding={**guarding, SWITCH: Guarding(SWITCH, None)})


def play(events: list[GuardEvent]) -> tuple[GuardState, list]:
    state, said = fresh(), []
    for event in events:
        state, marks = guard_step(state, event)
        said += marks
    return state, said


def is_on(said: list) -> bool:
    orders = [mark.detail["on"] for mark in said if mark.what == "power"]
    return bool(orders and orders[-1])


times = st.floats(0, 1e5).map(lambda t: round(t, 1))
spots = st.sampled_from(SPOTS)
events = st.one_of(
    st.builds(Wish, times, st.booleans()),
    st.builds(Value, times, spots, st.floats(-20, 150)),
    st.builds(Silent, times, spots),
    st.builds(Unanswered, times),
    st.builds(Answered, times),
    st.builds(Tick, times),
    st.builds(End, times, st.just("over")),
)
histories = st.lists(events, max_size=40).map(lambda found: sorted(found, key=lambda e: e.t_s))


@given(histories)
def test_a_trip_is_never_followed_by_an_order_to_switch_on(history):
    """A trip latches whatever comes after it."""
    state, tripped = fresh(), False
    for event in history:
        state, marks = guard_step(state, event)
        if tripped:
            assert not any(mark.what == "power" and mark.detail["on"] for mark in marks)
        tripped = tripped or any(mark.what == "trip" for mark in marks)


@given(histories)
def test_every_history_that_ends_ends_with_an_order_to_switch_off(history):
    """The last order after the end is off, whatever happened before."""
    _, said = play([*history, End(1e6, "over")])
    assert not is_on(said)
    assert said[-1].what == "power"


@given(histories)
def test_the_power_is_off_while_a_guarding_probe_is_silent(history):
    """No order to switch on is given while a guarding probe has not spoken again."""
    state = fresh()
    for event in history:
        state, _ = guard_step(state, event)
        if state.silent or state.latched or state.held or state.ended:
            assert not state.on


@given(histories)
def test_silence_is_forgiven_at_most_three_times(history):
    """After three re-arms the fourth silence holds the power off for good."""
    _, said = play(history)
    assert sum(mark.what == "rearmed" for mark in said) <= MOST_REARMS


def silence_and_return(at_s: float) -> list[GuardEvent]:
    spot = SPOTS[0]
    back_s = at_s + 10
    return [
        Silent(at_s, spot),
        Value(back_s, spot, 40.0),
        Tick(back_s + GOOD_AGAIN_S - 1),
        Tick(back_s + GOOD_AGAIN_S),
    ]


def test_power_is_allowed_again_after_a_minute_of_good_readings_and_not_before():
    """Re-arming takes the whole minute."""
    started = [Wish(0, True), *silence_and_return(100)]
    before, _ = play(started[:-1])
    after, said = play(started)
    assert not before.allows_on
    assert after.allows_on
    assert said[-1].what == "rearmed"


def test_the_fourth_silence_latches_and_calls_a_person():
    """Three silences are forgiven, the fourth raises the alarm."""
    events = [event for k in range(4) for event in silence_and_return(1000.0 * (k + 1))]
    state, said = play([Wish(0, True), *events])
    assert state.latched
    assert sum(mark.what == "alarm" for mark in said) == 1
    assert sum(mark.what == "rearmed" for mark in said) == 3


@given(histories)
def test_an_off_that_nobody_answered_holds_until_it_has_been_proved_for_a_minute(history):
    """No order to switch on is given before, whatever the probes read meanwhile."""
    state, proved_s = fresh(), 0.0
    for event in history:
        state, marks = guard_step(state, event)
        if isinstance(event, Unanswered):
            proved_s = float("inf")
        elif isinstance(event, Answered) and proved_s == float("inf"):
            proved_s = event.t_s + GOOD_AGAIN_S
        ons = [mark.t_s for mark in marks if mark.what == "power" and mark.detail["on"]]
        assert all(t_s >= proved_s for t_s in ons)


def test_an_adapter_that_is_back_is_no_proof_of_off():
    """Its port is there again and the board has not answered: that minute does not count."""
    away = [Wish(0, True), Silent(1, SWITCH), Unanswered(2), Value(4, SWITCH, 1.0)]
    state, _ = play([*away, Tick(4 + GOOD_AGAIN_S)])
    assert state.why_not == "the switch has not answered off"
    answered = [*away, Answered(50), Value(51, SWITCH, 1.0)]
    assert not play([*answered, Tick(49 + GOOD_AGAIN_S)])[0].allows_on
    state, said = play([*answered, Tick(50 + GOOD_AGAIN_S)])
    assert state.allows_on
    assert [mark.what for mark in said if mark.what != "power"] == ["silence", "rearmed"]


def test_the_trip_cuts_at_the_limit_itself_and_says_value_and_limit():
    """At the trip value the power is cut; just below it is not."""
    _, below = play([Wish(0, True), Value(1, SPOTS[0], TRIP_DEGC - 0.1)])
    _, at = play([Wish(0, True), Value(1, SPOTS[0], TRIP_DEGC)])
    assert is_on(below)
    assert not is_on(at)
    trip = next(mark for mark in at if mark.what == "trip")
    assert trip.detail == {"source": SPOTS[0], "value": TRIP_DEGC, "limit": TRIP_DEGC}


@given(histories)
def test_what_happened_is_said_before_it_is_acted_on(history):
    """No order goes before the statement it follows from: an off may never be confirmed."""
    state = fresh()
    for event in history:
        state, marks = guard_step(state, event)
        told = [mark.what for mark in marks]
        for what in {"trip", "silence"} & set(told):
            assert "power" in told or isinstance(event, Unanswered)  # that off is tried already
            assert told.index(what) < [*told, "power"].index("power")


def test_a_probe_that_does_not_guard_never_cuts():
    """Readings of other probes are ignored by the guard."""
    _, said = play([Wish(0, True), Value(1, "probe.other", 500.0), Silent(2, "probe.other")])
    assert is_on(said)


process_events = st.one_of(
    events,
    st.builds(Unheard, times, st.floats(0, 20)),
    st.builds(Gone, times),
    st.builds(Woke, times, st.floats(0, 1e5)),
)
process_histories = st.lists(process_events, max_size=40).map(
    lambda found: sorted(found, key=lambda e: e.t_s)
)
HUNG_AFTER_S = 5.0


def watched() -> GuardState:
    return replace(fresh(), beat_within_s=HUNG_AFTER_S)


@given(process_histories)
def test_nothing_is_switched_on_after_the_runner_died_or_hung_or_the_host_slept(history):
    """Each of them latches, whatever comes after it."""
    state, over = watched(), False
    for event in history:
        state, marks = guard_step(state, event)
        if over:
            assert not any(mark.what == "power" and mark.detail["on"] for mark in marks)
        hung = isinstance(event, Unheard) and event.for_s >= HUNG_AFTER_S
        over = over or hung or isinstance(event, Gone | Woke | End)


@given(process_histories)
def test_the_state_is_on_only_while_on_is_allowed(history):
    """Whatever the process saw, the order that stands is off wherever on is not allowed."""
    state = watched()
    for event in history:
        state, _ = guard_step(state, event)
        assert state.allows_on or not state.on


@given(process_histories)
def test_a_dead_runner_always_brings_an_order_to_switch_off(history):
    """Also when off was ordered before: the relay may not have heard it."""
    state = watched()
    for event in history:
        state, _ = guard_step(state, event)
    _, marks = guard_step(state, Gone(1e6))
    assert marks[0].what == "power"
    assert not marks[0].detail["on"]


def test_a_runner_is_hung_at_the_fixtures_limit_and_not_before():
    """Just below the limit nothing happens; at it the power is cut and a person is called."""
    on, _ = guard_step(watched(), Wish(0, True))
    patient, nothing = guard_step(on, Unheard(4.9, HUNG_AFTER_S - 0.1))
    assert (list(nothing), patient.on) == ([], True)
    _, marks = guard_step(on, Unheard(5, HUNG_AFTER_S))
    assert [mark.what for mark in marks] == ["alarm", "power"]


def test_a_guard_in_the_runners_own_loop_never_takes_it_for_hung():
    """There the limit is endless: the runner is as alive as its guard."""
    on, _ = guard_step(fresh(), Wish(0, True))
    assert guard_step(on, Unheard(1e6, 1e6))[0].on
