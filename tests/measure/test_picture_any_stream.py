"""What holds for every stream, however odd."""

from itertools import pairwise

import numpy as np
from faulty_clips import black_like, jpeg, no_signal_card
from hypothesis import given
from hypothesis import strategies as st
from looked import look_through

from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.records import State
from soak.roles import Picture

SCENE = np.random.default_rng(11).integers(30, 220, (36, 64, 3), dtype=np.uint8)
CARD = no_signal_card(36, 64)
FRAMES = {
    **{f"scene {step}": np.roll(SCENE, 2 * step, axis=1) for step in range(6)},
    "noisy": np.clip(SCENE + np.random.default_rng(1).normal(0, 2, SCENE.shape), 0, 255).astype(
        np.uint8
    ),
    "dim": (SCENE * 0.4).astype(np.uint8),
    "dimmer": (SCENE * 0.15).astype(np.uint8),
    "dimmest": (SCENE * 0.05).astype(np.uint8),
    "black": black_like(SCENE),
    "card": CARD,
    "small": SCENE[:20, :32],
}
PACKETS = {name: jpeg(frame) for name, frame in FRAMES.items()} | {
    "half": jpeg(SCENE)[:400],
    "empty": b"",
    "garbage": b"\xff\xd8" + bytes(300),
    "hollow": jpeg(SCENE)[:250] + b"\xff\xd9",
}
STEPS = st.lists(
    st.tuples(
        st.sampled_from([*PACKETS, "idle", "blind"]),
        st.sampled_from([1 / 60, 1 / 60, 1 / 60, 0.0, 0.3, 5.0, -0.5]),
        st.integers(1, 12),
    ),
    max_size=25,
)


def run(form, steps, moving):
    """Feed a stream; return its states and the times up to which each was said."""
    watcher = PictureWatcher(WatcherSettings(moving=moving, taught=(jpeg(CARD),)))
    t_s, latest_s, said = 1.0, 1.0, []
    for what, step_s, times in steps:
        for _ in range(times):
            t_s = max(0.0, t_s + step_s)
            latest_s = max(latest_s, t_s)
            if what == "idle":
                seen = watcher.idle(latest_s)
            elif what == "blind":
                seen = watcher.blind(latest_s, "pulled")
            else:
                data = PACKETS[what] if form == "mjpeg" else _raw(what)
                size = FRAMES.get(what, SCENE).shape[1::-1]
                seen = watcher.look(Picture(t_s, None, form, size, memoryview(data)))
            said += [(one, latest_s) for one in seen if isinstance(one, State)]
    said += [(one, latest_s) for one in watcher.finish() if isinstance(one, State)]
    return said


def _raw(what):
    return FRAMES[what].tobytes() if what in FRAMES else PACKETS[what]


@given(st.sampled_from(["mjpeg", "bgr"]), STEPS, st.booleans())
def test_states_change_and_never_go_back_in_time(form, steps, moving):
    """Each state differs from the one before, begins no earlier, and not in the future."""
    said = run(form, steps, moving)
    for (one, _), (other, _) in pairwise(said):
        assert one.state != other.state
        assert one.t_s <= other.t_s
    for state, latest_s in said:
        assert state.t_s <= latest_s + 1e-9
        assert state.within_s >= 0
        assert moving or state.state != "frozen"


@given(STEPS)
def test_every_span_of_a_recording_follows_the_one_before(steps):
    """Spans cover the recording from its first state to its end, without gap or overlap."""
    t_s, pictures = 0.0, []
    for what, step_s, times in steps:
        for _ in range(times if what in FRAMES else 0):
            t_s += abs(step_s) or 1 / 60
            data = memoryview(FRAMES[what].tobytes())
            pictures.append(Picture(t_s, None, "bgr", FRAMES[what].shape[1::-1], data))
    spans = look_through(pictures, WatcherSettings(moving=True), period_s=1 / 60)
    assert bool(spans) == bool(pictures)
    for one, other in pairwise(spans):
        assert one.last <= other.first
        assert abs(one.from_s + one.seconds - other.from_s) < 1e-9
    if spans:
        assert spans[0].first == 0
        assert spans[-1].last == len(pictures) - 1
