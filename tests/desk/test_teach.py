"""Teaching a card's no-signal picture; a video file stands in for the card."""

import cv2
import numpy as np
import pytest
from faulty_clips import jpeg, no_signal_card

from soak.desk.teach import teach
from soak.errors import BenchFault, FixtureError
from soak.measure.picture import small_grey
from soak.measure.taught import TaughtPictures


def bench_with(folder, frames):
    """Write a fixture whose capture plays the frames."""
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
    assert "Pull" in asked[0]
    known = TaughtPictures([(tmp_path / "left-no-signal-1.jpg").read_bytes()])
    assert known.shows(small_grey("mjpeg", (320, 240), jpeg(card)), "mjpeg", "full")


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda rng: rng.integers(0, 255, (240, 320, 3), dtype=np.uint8), "does not stand still"),
        (lambda rng: np.zeros((240, 320, 3), np.uint8), "plain black"),
    ],
)
def test_what_cannot_be_taught_is_said(tmp_path, make, words):
    """Noise differs each time; black needs no teaching."""
    rng = np.random.default_rng(2)
    with pytest.raises(BenchFault, match=words):
        teach(bench_with(tmp_path, [make(rng) for _ in range(50)]), "left.toml", lambda _: None)


def test_a_fixture_without_a_capture_is_refused(tmp_path):
    """There is nothing to take a picture with."""
    (tmp_path / "bare.toml").write_text('name = "bare"\n')
    with pytest.raises(FixtureError, match="opencv"):
        teach(tmp_path, "bare.toml", lambda _: None)
