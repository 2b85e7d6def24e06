"""Teaching a card's no-signal picture; a video file stands in for the card."""

from pathlib import Path

import cv2
import numpy as np
import pytest
from faulty_clips import clip_frames, jpeg, no_signal_card

from soak.bench.fixture import read_fixture
from soak.bench.model_sheet import read_model_sheet
from soak.desk.proof.teach import teach
from soak.desk.soaking.sight import make_watcher
from soak.errors import BenchFault, FixtureError, UsageError
from soak.measure.video.picture import Held
from soak.measure.video.taught import TaughtPictures

BEFORE = 12  # pictures of the unit's own that are read first, as `COMPARED` says
SHEET = Path(__file__).parents[2] / "fixtures" / "models" / "ferrow-sp-40.toml"


def menu(rows=240, columns=320):
    """Return a unit's menu."""
    frame = np.full((rows, columns, 3), (60, 45, 40), np.uint8)
    cv2.rectangle(frame, (30, 60), (200, 110), (60, 190, 80), -1)
    cv2.rectangle(frame, (30, 140), (260, 190), (200, 90, 60), -1)
    cv2.putText(frame, "Play", (50, 95), 0, 1.0, (240, 240, 240), 2)
    return frame


def bench_with(folder, frames, before=None):
    """Write a fixture whose capture plays the frames, after some of the unit's own."""
    frames = [*([menu()] * BEFORE if before is None else before), *frames]
    rows, columns = frames[0].shape[:2]
    path = folder / "card.avi"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"MJPG"), 30, (columns, rows))
    for frame in frames:
        writer.write(frame)
    writer.release()
    (folder / "left.toml").write_text(
        f'name = "left"\n[capture]\ndriver = "opencv"\nsource = "{path}"\nport = "video"\n'
    )
    return folder


def test_a_steady_picture_is_kept_and_then_known(tmp_path):
    """The printed line names a file beside the fixture, which shows the card's picture again."""
    card = no_signal_card(240, 320)
    asked = []
    line = teach(bench_with(tmp_path, [card] * 50), "left.toml", asked.append)
    assert line == 'taught = ["left-no-signal-1.jpg"]'
    assert "menu" in asked[0]
    assert "Pull" in asked[1]
    known = TaughtPictures([(tmp_path / "left-no-signal-1.jpg").read_bytes()])
    assert known.shows(Held("mjpeg", (320, 240), jpeg(card)), "full")


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (
            lambda rng: rng.integers(0, 255, (240, 320, 3), dtype=np.uint8),
            "shows noise; that is seen",
        ),
        (lambda rng: np.zeros((240, 320, 3), np.uint8), "plain black"),
    ],
)
def test_what_cannot_be_taught_is_said(tmp_path, make, words):
    """Noise differs each time; black needs no teaching."""
    rng = np.random.default_rng(2)
    with pytest.raises(BenchFault, match=words):
        teach(bench_with(tmp_path, [make(rng) for _ in range(50)]), "left.toml", lambda _: None)


def test_a_notice_of_protected_output_is_kept_under_its_own_key(tmp_path):
    """The cue asks for something protected; the line goes into the fixture as it is printed."""
    notice = no_signal_card(240, 320)[::-1]
    asked = []
    bench = bench_with(tmp_path, [notice] * 50, before=[])
    line = teach(bench, "left.toml", asked.append, "protected")
    assert line == 'protected = ["left-protected-1.jpg"]'
    assert "show something protected" in asked[0]
    file = tmp_path / "left.toml"
    file.write_text(f"{file.read_text()}{line}\n")
    sheet = read_model_sheet(SHEET)
    watcher = make_watcher(read_fixture(file, sheet), sheet)
    assert len(watcher.settings.protected) == 1


def test_what_is_taught_as_no_signal_cannot_be_taught_as_protected_output(tmp_path):
    """On such a card the two look the same, and the sentence says so."""
    card = no_signal_card(240, 320)
    bench = bench_with(tmp_path, [card] * 50)
    line = teach(bench, "left.toml", lambda _: None)
    file = tmp_path / "left.toml"
    file.write_text(f"{file.read_text()}{line}\n")
    bench_with(tmp_path, [card] * 50, before=[])
    file.write_text(f"{file.read_text()}{line}\n")
    with pytest.raises(BenchFault, match="cannot be told apart"):
        teach(bench, "left.toml", lambda _: None, "protected")


def test_black_cannot_be_taught_as_protected_output(tmp_path):
    """Else every lost picture would be excused."""
    black = np.zeros((240, 320, 3), np.uint8)
    bench = bench_with(tmp_path, [black] * 50, before=[])
    with pytest.raises(BenchFault, match="show something that is not protected"):
        teach(bench, "left.toml", lambda _: None, "protected")


def test_a_word_that_teaches_nothing_is_refused(tmp_path):
    """The sentence names the words there are."""
    with pytest.raises(UsageError, match="no-signal, protected, menu and rests"):
        teach(tmp_path, "left.toml", lambda _: None, "hdcp")


def test_a_fixture_without_a_capture_is_refused(tmp_path):
    """There is nothing to take a picture with."""
    (tmp_path / "bare.toml").write_text('name = "bare"\n')
    with pytest.raises(FixtureError, match="opencv"):
        teach(tmp_path, "bare.toml", lambda _: None)


def test_a_card_that_keeps_its_last_picture_is_refused(tmp_path):
    """The menu still stands when the plug is out; the sentence says what to do."""
    with pytest.raises(BenchFault, match=r"did not change when the plug was pulled.*another card"):
        teach(bench_with(tmp_path, [menu()] * 50), "left.toml", lambda _: None)
    assert not list(tmp_path.glob("*.jpg"))


def test_a_card_that_keeps_the_last_picture_of_a_film_is_refused(tmp_path):
    """What stands then is the next picture of the film."""
    film = [cv2.resize(one, (320, 240)) for one in clip_frames("bikes.mp4", most=BEFORE + 1)]
    bench = bench_with(tmp_path, [film[-1]] * 50, before=film[:-1])
    with pytest.raises(BenchFault, match="keeps its last picture"):
        teach(bench, "left.toml", lambda _: None)


def test_a_cards_picture_after_a_film_is_kept(tmp_path):
    """It is a cut from whatever was on."""
    film = [cv2.resize(one, (320, 240)) for one in clip_frames("bikes.mp4", most=BEFORE)]
    bench = bench_with(tmp_path, [no_signal_card(240, 320)] * 50, before=film)
    assert teach(bench, "left.toml", lambda _: None) == 'taught = ["left-no-signal-1.jpg"]'


def test_a_card_whose_blue_is_the_units_own_ground_is_refused(tmp_path):
    """Else the unit's page would be a lost signal all night."""
    card = np.full((240, 320, 3), (210, 70, 20), np.uint8)
    page = cv2.putText(card.copy(), "Play", (50, 95), 0, 1.0, (240, 240, 240), 2)
    bench = bench_with(tmp_path, [card] * 50, before=[page] * BEFORE)
    with pytest.raises(BenchFault, match="would be taken for this picture"):
        teach(bench, "left.toml", lambda _: None)


def test_a_cards_dark_blue_is_not_black(tmp_path):
    """It is brighter than what is black untaught, so it must be taught."""
    card = np.full((240, 320, 3), (150, 28, 8), np.uint8)
    line = teach(bench_with(tmp_path, [card] * 50), "left.toml", lambda _: None)
    assert line == 'taught = ["left-no-signal-1.jpg"]'


def test_the_units_menu_is_kept_under_its_own_key(tmp_path):
    """Its colours are then known from the first picture of a soak on."""
    asked = []
    bench = bench_with(tmp_path, [menu()] * 50, before=[])
    line = teach(bench, "left.toml", asked.append, "menu")
    assert line == 'menu = ["left-menu-1.jpg"]'
    assert "colours" in asked[0]
    file = tmp_path / "left.toml"
    file.write_text(f"{file.read_text()}{line}\n")
    sheet = read_model_sheet(SHEET)
    assert len(make_watcher(read_fixture(file, sheet), sheet).settings.menu) == 1
