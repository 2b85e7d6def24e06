"""What a good unit's run teaches for its model sheet; a video file stands in for the card."""

import tomllib
from pathlib import Path

import cv2
import numpy as np
import pytest
from drawn_pictures import page

from soak.bench.fixture import read_fixture
from soak.bench.model_sheet import read_model_sheet
from soak.desk.forecast.explaining import explain
from soak.desk.proof.teach_rests import teach_rests
from soak.desk.soaking.sight import make_watcher
from soak.errors import BenchFault, FixtureError

SHEET = Path(__file__).parents[2] / "fixtures" / "models" / "ferrow-sp-40.toml"


def bench_with(folder, frames):
    """Write a fixture whose capture plays the frames."""
    rows, columns = frames[0].shape[:2]
    path = folder / "card.avi"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"MJPG"), 30, (columns, rows))
    for frame in frames:
        writer.write(frame)
    writer.release()
    wired = f'name = "left"\n[capture]\ndriver = "opencv"\nsource = "{path}"\nport = "video"\n'
    (folder / "left.toml").write_text(wired)
    return folder


def evening():
    """Return two seconds of motion, a card that stands for two, motion, and a second of black."""
    ground = page((320, 240), 2)
    bar = []
    for at in range(90):
        frame = ground.copy()
        frame[:, (8 * at) % 300 :][:, :20] = 255
        bar.append(frame)
    return [*bar[:60], *[page((320, 240), 5)] * 60, *bar, *[ground * 0] * 30, *bar]


def test_the_lines_fit_the_sheet_and_the_watcher_goes_by_them(tmp_path, capsys):
    """Twice the longest still and black; that a few seconds are little is said."""
    asked = []
    lines = teach_rests(bench_with(tmp_path, evening()), "left.toml", asked.append, for_s=1200.0)
    said = tomllib.loads(lines)
    assert {key: pytest.approx(float(one.split()[0]), abs=0.3) for key, one in said.items()} == {
        "longest_still_s": 4.0,
        "longest_black_s": 2.0,
    }
    assert "good unit" in asked[0]
    assert "is little unless its loop is shorter" in capsys.readouterr().err
    file = tmp_path / "model.toml"
    file.write_text(f"{lines}\n{SHEET.read_text()}")
    sheet = read_model_sheet(file)
    watcher = make_watcher(read_fixture(tmp_path / "left.toml", sheet), sheet)
    assert watcher.settings.frozen_after_s == sheet.longest_still_s
    assert watcher.settings.longest_black_s == sheet.longest_black_s


def test_a_run_that_lost_its_picture_teaches_nothing(tmp_path):
    """What other size came is said; nothing is printed to paste."""
    rng = np.random.default_rng(2)
    noise = [rng.integers(0, 255, (240, 320, 3), dtype=np.uint8) for _ in range(40)]
    with pytest.raises(BenchFault, match="saw no signal"):
        teach_rests(bench_with(tmp_path, [*evening(), *noise]), "left.toml", lambda _: None, 60.0)


def test_a_sheet_that_promises_no_motion_says_no_longest_still(tmp_path):
    """The two contradict one another."""
    file = tmp_path / "model.toml"
    told = SHEET.read_text().replace('"moving"', '"still"')
    file.write_text(f'longest_still_s = "4 s"\n{told}')
    with pytest.raises(FixtureError, match="longest_still_s"):
        read_model_sheet(file)


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ('longest_still_s = "24 s"', "a freeze shorter than 24 s"),
        ('longest_black_s = "3 s"', "a loss to black shorter than 3 s"),
        ("", "soak teach --as rests"),
    ],
)
def test_an_explained_script_says_what_cannot_be_told_with_it(tmp_path, key, said):
    """Where it says what it cannot show."""
    models = tmp_path / "fixtures" / "models"
    models.mkdir(parents=True)
    (models / "one.toml").write_text(f"{key}\n{SHEET.read_text()}")
    told = explain(tmp_path, "overnight", "", "one", as_json=False)
    assert said in told.split("It cannot show:")[1]
