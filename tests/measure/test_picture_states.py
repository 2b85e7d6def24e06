"""States of a stream made from real clips, with faults put in at known frames."""

import pickle

import numpy as np
import pytest
from faulty_clips import (
    as_bgr,
    as_packets,
    as_yuyv,
    black_like,
    clip_frames,
    clip_path,
    jpeg,
    no_signal_card,
    noisy,
    there_and_back,
)
from looked import look_through

from soak.bench.capture.video_stream import pictures_of
from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.records import KeptFile, State
from soak.roles import BlindWatcher, Picture

PERIOD_S = 1001 / 30000
"""30000/1001 pictures a second: the 30 Hz member of the 1000/1001 family (CTA-861)."""
FORMS = {"mjpeg": as_packets, "bgr": as_bgr, "yuyv": as_yuyv}
MOVING = WatcherSettings(moving=True)


def faults(spans):
    return [(span.kind, span.first, span.last) for span in spans if span.kind != "picture"]


def states(seen):
    return [(one.state, one.t_s) for one in seen if isinstance(one, State)]


@pytest.mark.parametrize(
    ("name", "pictures"),
    [
        ("bigbuckbunny.mp4", 132),
        ("bikes.mp4", 250),
        ("carphone_pristine.mp4", 120),
        ("carphone_distorted.mp4", 120),
    ],
)
def test_a_real_clip_is_one_unbroken_picture(name, pictures):
    """Scene cuts, low motion and blocky coding make no dropout; counts as ffprobe gives them."""
    spans = look_through(pictures_of(str(clip_path(name))), MOVING)
    assert [(span.kind, span.first, span.last) for span in spans] == [("picture", 0, pictures - 1)]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("length", [1, 2, 9])
@pytest.mark.parametrize("kind", ["black", "noisy black", "no signal"])
def test_a_lost_picture_is_placed_to_the_frame(form, length, kind):
    """From one frame on, black and the taught picture begin and end exactly where they were put."""
    frames = there_and_back(clip_frames("carphone_pristine.mp4"), 120)
    card = no_signal_card(*frames[0].shape[:2])
    for at in range(67, 67 + length):
        frames[at] = {
            "black": black_like(frames[0]),
            "noisy black": black_like(frames[0], 16, 2.0, seed=at),
            "no signal": card,
        }[kind]
    settings = WatcherSettings(moving=True, taught=(jpeg(card),))
    spans = look_through(FORMS[form](frames, PERIOD_S), settings)
    assert faults(spans) == [(kind.removeprefix("noisy "), 67, 66 + length)]
    lost = next(span for span in spans if span.kind != "picture")
    assert lost.from_s == pytest.approx(67 * PERIOD_S)
    assert lost.seconds == pytest.approx(length * PERIOD_S)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("sigma", [0.0, 2.0])
def test_a_freeze_is_back_dated_to_its_first_repeat(form, sigma):
    """Exact repeats and repeats under noise are both placed to the frame, and end in time."""
    frames = there_and_back(clip_frames("bikes.mp4", rows=136), 330)
    frames[200:275] = [frames[199]] * 75
    spans = look_through(FORMS[form](noisy(frames, sigma), PERIOD_S), MOVING)
    assert faults(spans) == [("frozen", 200, 274)]


def test_a_still_picture_is_no_fault_where_no_motion_is_promised():
    """Without the model sheet's promise a picture may stand for ever."""
    frames = [clip_frames("bikes.mp4", rows=136)[0]] * 200
    assert faults(look_through(as_packets(frames, PERIOD_S), WatcherSettings())) == []


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("rate_hz", [10, 15, 24])
def test_slow_content_in_a_60_hz_stream_is_not_frozen(form, rate_hz):
    """Repeats as a matter of course are learned as the stream's usual run."""
    source = clip_frames("bikes.mp4", rows=136)
    frames = [source[int(at * rate_hz / 60) % 250] for at in range(900)]
    assert faults(look_through(FORMS[form](frames, 1 / 60), MOVING)) == []


def test_a_menu_with_a_clock_is_not_frozen():
    """A still picture in which one small field changes each second keeps moving."""
    scene = clip_frames("bikes.mp4", rows=272)[0]
    frames = []
    for at in range(60 * 20):
        frame = scene.copy()
        second = at // 60
        frame[10:26, 600 : 600 + 1 + 2 * (second % 10)] = 255
        frames.append(frame)
    assert faults(look_through(as_packets(frames, 1 / 60), MOVING)) == []


@pytest.mark.parametrize(("logo_s", "frozen"), [(8.0, False), (40.0, True)])
def test_a_logo_at_the_start_is_no_freeze_and_a_hang_in_it_is(logo_s, frozen):
    """A unit that starts shows a still logo for a while; one that hangs there is frozen from it."""
    film = clip_frames("carphone_pristine.mp4", rows=72)
    logo, step_s = film[60], 0.1
    watcher, seen, t_s = PictureWatcher(WatcherSettings(moving=True)), [], 0.0
    lengths = [(4.0, None), (logo_s, logo), (8.0, film), (4.0, None), (logo_s, logo), (8.0, film)]
    for lasts_s, what in lengths:
        for at in range(round(lasts_s / step_s)):
            frame = black_like(logo) if what is None else logo if what is logo else film[at]
            data = memoryview(frame.tobytes())
            seen += watcher.look(Picture(t_s, None, "bgr", frame.shape[1::-1], data))
            t_s += step_s
    once = ["black", "picture", "frozen", "picture"] if frozen else ["black", "picture"]
    found = states(seen)
    assert [state for state, _ in found] == once * 2
    if frozen:
        assert found[2][1] == pytest.approx(4.0 + step_s)


def test_a_fade_to_black_and_back_is_content():
    """Black that comes gradually and lasts less than 2 s is no dropout."""
    frames = there_and_back(clip_frames("carphone_pristine.mp4"), 150)
    way = [*np.linspace(1, 0, 20), *[0.0] * 20, *np.linspace(0, 1, 20)]
    for at, share in enumerate(way, start=60):
        frames[at] = (frames[at] * share).astype(np.uint8)
    for form in FORMS.values():
        assert faults(look_through(form(frames, PERIOD_S), MOVING)) == []


def test_a_fade_that_stays_black_is_black_from_its_first_black_picture():
    """After 5 s the black behind a fade is a state, back-dated."""
    frames = there_and_back(clip_frames("carphone_pristine.mp4"), 280)
    for at, share in enumerate(np.linspace(1, 0, 20), start=60):
        frames[at] = (frames[at] * share).astype(np.uint8)
    frames[80:] = [black_like(frames[0])] * 200
    found = faults(look_through(as_bgr(frames, PERIOD_S), MOVING))
    assert [kind for kind, _, _ in found] == ["black"]
    assert 74 <= found[0][1] <= 79
    assert found[0][2] == 279


def test_a_dark_scene_just_above_black_is_a_picture():
    """A scene with shapes whose pixels lie below ffmpeg's black threshold of 25.5 is not lost."""
    frames = [
        (6 + frame * 0.08).astype(np.uint8)
        for frame in there_and_back(clip_frames("bikes.mp4", rows=136), 200)
    ]
    assert max(float(frame.max()) for frame in frames) < 27
    for form in FORMS.values():
        assert faults(look_through(form(frames, PERIOD_S), MOVING)) == []


def test_a_cut_from_a_dark_scene_to_black_is_black():
    """The small step into black alone makes no fade of it."""
    frames = [
        (6 + frame * 0.12).astype(np.uint8)
        for frame in there_and_back(clip_frames("bikes.mp4", rows=136), 120)
    ]
    frames[70:75] = [black_like(frames[0])] * 5
    assert faults(look_through(as_bgr(frames, PERIOD_S), MOVING)) == [("black", 70, 74)]


def test_another_size_is_seen_in_the_packet_whatever_is_announced():
    """The JPEG's own header is believed: the announced size never changes here."""
    frames = there_and_back(clip_frames("carphone_pristine.mp4"), 60)
    frames[30:40] = [frame[:100] for frame in frames[30:40]]
    pictures = (
        Picture(picture.t_s, picture.number, "mjpeg", (176, 144), picture.data)
        for picture in as_packets(frames, PERIOD_S)
    )
    assert faults(look_through(pictures, MOVING)) == [("other size", 30, 39)]


def test_a_gap_in_time_is_a_stall_from_when_the_next_picture_was_due():
    """A stream that stops for 0.5 s stalls one period after its last picture."""
    frames = there_and_back(clip_frames("carphone_pristine.mp4"), 90)
    pictures = list(as_bgr(frames, PERIOD_S))
    late = [
        Picture(
            one.t_s + (0.5 if one.number >= 50 else 0), one.number, one.form, one.size, one.data
        )
        for one in pictures
    ]
    spans = look_through(late, MOVING)
    (stall,) = [span for span in spans if span.kind == "stalled"]
    assert stall.from_s == pytest.approx(50 * PERIOD_S)
    assert stall.seconds == pytest.approx(0.5)
    assert stall.first == stall.last == 49


def test_idle_says_the_same_stall_as_the_late_picture_would():
    """The stall is said while it lasts, once, and the next picture ends it."""
    watcher = PictureWatcher(MOVING)
    pictures = list(as_bgr(there_and_back(clip_frames("carphone_pristine.mp4"), 40), PERIOD_S))
    for picture in pictures[:30]:
        watcher.look(picture)
    last_s = pictures[29].t_s
    assert watcher.idle(last_s + 5 * PERIOD_S) == ()
    assert states(watcher.idle(last_s + 0.4)) == [("stalled", pytest.approx(last_s + PERIOD_S))]
    assert watcher.idle(last_s + 0.5) == ()
    late = pictures[30]
    back = Picture(last_s + 1, late.number, late.form, late.size, late.data)
    (found,) = [one for one in watcher.look(back) if isinstance(one, State)]
    assert (found.state, found.t_s) == ("picture", last_s + 1)
    assert found.within_s == pytest.approx(PERIOD_S)


def test_persistent_garbage_makes_the_bench_blind_and_a_good_packet_ends_it():
    """Packets that are no whole picture are the card's fault, never the unit's dropout."""
    packets = list(as_packets(there_and_back(clip_frames("carphone_pristine.mp4"), 120), PERIOD_S))
    watcher, seen = PictureWatcher(MOVING), []
    for number, picture in enumerate(packets):
        data = picture.data
        if 40 <= number < 80:
            data = data[: len(data) // 2] if number % 2 else memoryview(bytes(500))
        seen += watcher.look(Picture(picture.t_s, number, "mjpeg", picture.size, data))
    assert [state for state, _ in states(seen)] == ["picture", "blind", "picture"]
    blind = next(one for one in seen if isinstance(one, State) and one.state == "blind")
    assert blind.t_s == packets[40].t_s
    assert "no whole picture" in blind.detail["why"]
    assert states(seen)[2][1] == packets[80].t_s
    assert watcher.damaged == 40


def test_one_damaged_packet_is_counted_and_says_nothing():
    """A single half packet is no picture and no state."""
    packets = list(as_packets(there_and_back(clip_frames("carphone_pristine.mp4"), 40), PERIOD_S))
    watcher, seen = PictureWatcher(MOVING), []
    for number, picture in enumerate(packets):
        data = picture.data[:700] if number == 20 else picture.data
        seen += watcher.look(Picture(picture.t_s, number, "mjpeg", picture.size, data))
    assert [state for state, _ in states(seen)] == ["picture"]
    assert (watcher.damaged, watcher.pictures) == (1, 39)


def test_blindness_that_the_driver_reports_leaves_no_stall():
    """After `blind` the next picture begins afresh, however long that took."""
    watcher = PictureWatcher(MOVING)
    assert isinstance(watcher, BlindWatcher)
    pictures = list(as_bgr(there_and_back(clip_frames("carphone_pristine.mp4"), 21), PERIOD_S))
    for picture in pictures[:20]:
        watcher.look(picture)
    assert states(watcher.blind(1.0, "unplugged")) == [("blind", 1.0)]
    assert watcher.blind(2.0, "unplugged") == ()
    assert watcher.idle(50.0) == ()
    last = pictures[20]
    back = Picture(60.0, last.number, last.form, last.size, last.data)
    assert states(watcher.look(back)) == [("picture", 60.0)]


def test_times_that_run_backwards_do_not_run_backwards_in_the_states():
    """A driver's timestamp may jump back; a state never lies before the one before it."""
    frames = there_and_back(clip_frames("carphone_pristine.mp4"), 40)
    frames[25] = black_like(frames[0])
    watcher, seen = PictureWatcher(MOVING), []
    for one in as_bgr(frames, PERIOD_S):
        t_s = one.t_s - (0.7 if one.number >= 20 else 0)
        seen += watcher.look(Picture(t_s, one.number, one.form, one.size, one.data))
    times = [t_s for _, t_s in states(seen)]
    assert [state for state, _ in states(seen)] == ["picture", "black", "picture"]
    assert times == sorted(times)


def test_evidence_shows_before_during_after_and_is_bounded():
    """Each change has its frames until the bound; names are unique."""
    frames = there_and_back(clip_frames("carphone_pristine.mp4"), 200)
    for at in range(20, 200, 20):
        frames[at] = black_like(frames[0])
    watcher = PictureWatcher(WatcherSettings(moving=True, frames_of_a_state=3))
    seen = [one for picture in as_packets(frames, PERIOD_S) for one in watcher.look(picture)]
    files = [one for one in seen if isinstance(one, tuple)]
    shows = [kept.detail["shows"] for kept, _ in files]
    assert shows == ["first", *["before", "during", "after"] * 3]
    assert len({kept.name for kept, _ in files}) == 10
    during = next(data for about, data in files if about.detail["shows"] == "during")
    assert during == jpeg(frames[20])
    before = next(data for about, data in files if about.detail["shows"] == "before")
    assert before == jpeg(frames[19])
    assert all(isinstance(about, KeptFile) and about.of == "capture" for about, _ in files)


def test_a_dropout_late_in_the_night_still_has_its_frames():
    """The power cycles of the evening do not use up what the night may need."""
    scene = np.random.default_rng(4).integers(40, 220, (36, 64, 3), np.uint8)
    lost = black_like(scene)
    watcher, files = PictureWatcher(WatcherSettings(frames_of_a_state=3)), []

    def show(t_s, frame):
        seen = watcher.look(Picture(t_s, None, "bgr", (64, 36), memoryview(frame.tobytes())))
        files.extend(one[0] for one in seen if isinstance(one, tuple))

    for cycle in range(40):
        show(4.0 * cycle, scene)
        show(4.0 * cycle + 2, lost)
    assert len(files) == 1 + 3 * 3
    for t_s in np.arange(160.0, 4000.0, 2.0):
        show(float(t_s), scene)
    show(4000.0, lost)
    show(4002.0, scene)
    assert [file.detail["shows"] for file in files[-3:]] == ["before", "during", "after"]
    assert files[-2].t_s == 4000.0


def test_a_watcher_pickles_in_the_middle_of_its_work():
    """It can be handed to another process and goes on from where it was."""
    frames = there_and_back(clip_frames("carphone_pristine.mp4"), 60)
    frames[45] = black_like(frames[0])
    pictures = list(as_packets(frames, PERIOD_S))
    watcher = PictureWatcher(MOVING)
    for picture in pictures[:30]:
        watcher.look(picture)
    twin = pickle.loads(pickle.dumps(watcher))
    seen = [one for picture in pictures[30:] for one in twin.look(picture)]
    assert states(seen) == [("black", pictures[45].t_s), ("picture", pictures[46].t_s)]


def test_a_taught_file_that_is_no_picture_is_refused():
    """A wrong file is said at once, not at night."""
    with pytest.raises(ValueError, match="taught picture"):
        PictureWatcher(WatcherSettings(taught=(b"not a picture",)))
