"""Fine faults: a lost colour lane, sparkle, torn lines; and clean content that shows none."""

from functools import cache

import cv2
import numpy as np
import pytest
from faulty_clips import as_packets, as_yuyv, clip_frames, jpeg, there_and_back

from soak.measure.video.fine.view import view_of
from soak.measure.video.lookthrough import look_over
from soak.measure.video.picture import Held, small_grey
from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.records import State

PERIOD_S = 1 / 60
FIRST, LAST = 60, 90


@cache
def enlarged():
    """Return the frames of a real clip, enlarged."""
    frames = there_and_back(clip_frames("bikes.mp4", most=40), 78)
    return [cv2.resize(frame, (960, 540), interpolation=cv2.INTER_CUBIC) for frame in frames]


def content(number=130):
    """Return so many of them, again and again."""
    return [enlarged()[at % len(enlarged())] for at in range(number)]


def faulty(change):
    """Return the content with `change` from FIRST to LAST."""
    rng = np.random.default_rng(3)
    return [
        change(frame.copy(), rng) if FIRST <= at <= LAST else frame
        for at, frame in enumerate(content())
    ]


def without_red(frame, _):
    frame[..., 2] = 0
    return frame


def with_sparks(frame, rng):
    number = rng.binomial(frame.shape[0] * frame.shape[1], 2e-4)
    frame[rng.integers(frame.shape[0], size=number), rng.integers(frame.shape[1], size=number)] = (
        255
    )
    return frame


def shifted_below(frame, _):
    frame[300:] = np.roll(frame[300:], 40, axis=1)
    return frame


@pytest.mark.parametrize(
    ("change", "kind"),
    [(without_red, "tint"), (with_sparks, "sparkle"), (shifted_below, "torn")],
)
@pytest.mark.parametrize("form", [as_packets, as_yuyv])
def test_a_fine_fault_is_placed_to_the_frame(form, change, kind):
    """Found where it was put, once, and nothing else with it."""
    look = look_over(form(faulty(change), PERIOD_S), WatcherSettings(moving=True, fine_every=4))
    assert [fault.kind for fault in look.faults] == [kind]
    assert abs(look.faults[0].first - FIRST) <= 1
    assert abs(look.faults[0].last - LAST) <= 1
    assert [span.kind for span in look.spans] == ["picture"]


def test_a_real_clip_shows_no_fine_fault():
    """Every picture seen fully, in a moving clip."""
    look = look_over(as_packets(content(), PERIOD_S), WatcherSettings(moving=True, fine_every=1))
    assert look.faults == ()


def test_a_coarse_encoder_is_told_as_blocks():
    """JPEG quality 5 after quality 85: the encoder's grid shows."""
    frames = content()
    good, bad = list(as_packets(frames, PERIOD_S)), list(as_packets(frames, PERIOD_S, quality=5))
    pictures = [bad[at] if FIRST <= at <= LAST else good[at] for at in range(len(frames))]
    look = look_over(pictures, WatcherSettings(moving=True, fine_every=4))
    assert [(fault.kind, fault.first, fault.last) for fault in look.faults] == [
        ("block", FIRST, LAST)
    ]


FAULTS = {"tint": without_red, "sparkle": with_sparks, "torn": shifted_below}


def looked_at(frames, form=as_packets, **settings):
    watcher = PictureWatcher(WatcherSettings(moving=True, fine_every=4, **settings))
    seen = [one for picture in form(frames, PERIOD_S) for one in watcher.look(picture)]
    files = [one for one in seen if isinstance(one, tuple) and "fine" in one[0].name]
    return files, [one for one in seen if isinstance(one, State)]


def distance(data, frame):
    """Return the mean difference of a JPEG's picture to a frame, levels."""
    return float(np.abs(cv2.imdecode(np.frombuffer(data, "u1"), 1).astype(int) - frame).mean())


@pytest.mark.parametrize("form", [as_packets, as_yuyv])
@pytest.mark.parametrize("kind", FAULTS)
def test_each_fine_fault_leaves_three_pictures(form, kind):
    """Before and after are clean, during is the picture that its state names."""
    frames = faulty(FAULTS[kind])
    files, states = looked_at(frames, form)
    assert [about.detail for about, _ in files] == [
        {"shows": shows, "state": kind} for shows in ("before", "during", "after")
    ]
    assert {about.of for about, _ in files} == {"capture"}
    during_s = files[1][0].t_s
    assert during_s in [state.t_s for state in states if state.state == kind]
    clean = content()
    for (about, data), is_clean in zip(files, (True, False, True), strict=True):
        at = round(about.t_s / PERIOD_S) - (about.detail["shows"] == "before")
        assert (FIRST <= at <= LAST) is not is_clean
        near_s = [distance(data, clean[one]) for one in range(max(at - 4, 0), min(at + 5, 130))]
        exact = distance(data, frames[at])
        assert exact <= min(near_s) + (0.5 if is_clean else 0.0)


def test_the_pictures_of_fine_faults_are_bounded_apart_from_the_others():
    """So many changes of each kind at first; dropouts keep a store of their own."""
    frames = content(number=400)
    for begin in range(40, 400, 60):
        frames[begin : begin + 10] = [
            without_red(frame.copy(), None) for frame in frames[begin : begin + 10]
        ]
    files, states = looked_at(frames, frames_of_a_state=2)
    assert sum(state.state == "tint" for state in states) == 6
    assert [about.detail["shows"] for about, _ in files] == ["before", "during", "after"] * 2
    assert looked_at(frames, frames_in_all=0)[0] == []


def running_text(number):
    """Return fine text that scrolls upwards: full of single pixels that are no sparks."""
    rng = np.random.default_rng(4)
    page = np.full((1080, 960, 3), (30, 60, 20), np.uint8)
    for line in range(0, 1080, 38):
        words = " ".join("".join(chr(one) for one in rng.integers(97, 123, 6)) for _ in range(20))
        cv2.putText(page, words, (10, line), 0, 0.9, (235, 230, 225), 2)
    return [np.roll(page, -2 * at, axis=0)[:540] for at in range(number)]


def grey_texture(number):
    """Return a fine grey texture that slides by: each cell of it has the same mean."""
    rng = np.random.default_rng(6)
    coarse = rng.integers(60, 170, (160, 260), np.uint8)
    page = cv2.resize(coarse, None, fx=8, fy=8, interpolation=cv2.INTER_CUBIC)
    page = cv2.merge([page] * 3)
    return [np.ascontiguousarray(page[:540, 2 * at : 2 * at + 960]) for at in range(number)]


@pytest.mark.parametrize(
    ("made", "change", "kind"),
    [(running_text, with_sparks, "sparkle"), (grey_texture, "stuck", "tint")],
)
def test_texture_and_text_hide_no_fine_fault_and_make_none(made, change, kind):
    """Found where it was put; before and after, the same content shows nothing."""

    def stuck(frame, _):
        frame[..., 0] = 115  # the texture's own mean: no cell changes much
        return frame

    rng = np.random.default_rng(3)
    frames = [
        (stuck if change == "stuck" else change)(frame.copy(), rng)
        if FIRST <= at <= LAST
        else frame
        for at, frame in enumerate(made(130))
    ]
    look = look_over(as_packets(frames, PERIOD_S), WatcherSettings(moving=True, fine_every=4))
    assert [fault.kind for fault in look.faults] == [kind]
    assert abs(look.faults[0].first - FIRST) <= 1
    assert abs(look.faults[0].last - LAST) <= 1


def test_seeing_a_picture_fully_changes_nothing_in_how_its_state_is_judged():
    """A mean of decoded pixels, clipped to 0 to 255, is not what a decoder's small image is."""
    rng = np.random.default_rng(7)
    page = cv2.merge([rng.integers(0, 2, (540, 960), np.uint8) * 255] * 3)
    held = Held("mjpeg", (960, 540), jpeg(page))
    view_of(held)
    assert np.array_equal(held.grey(), small_grey("mjpeg", (960, 540), held.data))


@pytest.mark.parametrize("form", [as_packets, as_yuyv])
def test_sparkle_from_the_first_picture_is_found(form):
    """Nothing is usual yet; so many sparks so evenly are no content's."""
    rng = np.random.default_rng(3)
    frames = [with_sparks(frame.copy(), rng) for frame in content(60)]
    look = look_over(form(frames, PERIOD_S), WatcherSettings(moving=True, fine_every=8))
    assert [fault.kind for fault in look.faults] == ["sparkle"]
    assert look.faults[0].first <= 2
    assert look.faults[0].last == 59
