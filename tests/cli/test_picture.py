"""`soak picture` and `soak teach` on the command line."""

import json

import numpy as np
import pytest
from faulty_clips import black_like, jpeg
from typer.testing import CliRunner

from soak.cli.main import app
from soak.errors import SoakError

SCENE = np.random.default_rng(4).integers(40, 220, (72, 128, 3), dtype=np.uint8)


def run(*arguments):
    return CliRunner().invoke(app, ["picture", *map(str, arguments)])


@pytest.fixture
def recording(tmp_path):
    """Write 120 moving pictures, black from 50 to 69, with a stall before 100."""
    frames = [np.roll(SCENE, 3 * at, axis=1) for at in range(120)]
    frames[50:70] = [black_like(SCENE)] * 20
    path, index, at_ns = tmp_path / "night.mjpeg", [], 0
    with path.open("wb") as file:
        for number, frame in enumerate(frames):
            packet = jpeg(frame)
            at_ns += 16_666_667 + (600_000_000 if number == 100 else 0)
            index.append([file.tell(), len(packet), at_ns])
            file.write(packet)
    about = {"fps": 60, "size": [128, 72], "moving": True, "frames": index}
    (tmp_path / "night.mjpeg.idx.json").write_text(json.dumps(about))
    return path


def test_the_table_names_first_and_last_frame_of_each_loss(recording):
    """Both numbers included, from 0; a stall lies between two frames."""
    found = run(recording, "--csv")
    assert found.exit_code == 0
    assert found.stdout.splitlines() == [
        "clip,start_frame,end_frame,kind",
        "night.mjpeg,50,69,black",
        "night.mjpeg,99,100,stall",
    ]


def test_programs_get_every_state_with_its_seconds(recording):
    """The states follow one another from the first picture on."""
    (found,) = json.loads(run(recording, "--json").stdout)
    kinds = [state["kind"] for state in found["states"]]
    assert kinds == ["picture", "black", "picture", "stalled", "picture"]
    assert found["states"][1]["seconds"] == pytest.approx(20 / 60, abs=1e-4)


@pytest.mark.parametrize("content", [b"", b"no picture at all", b"\xff\xd8\xff garbage"])
def test_what_is_no_recording_is_refused_or_said(tmp_path, content):
    """Never a traceback: a refusal in one sentence, or a complaint that nothing is whole."""
    path = tmp_path / "odd.mjpeg"
    path.write_bytes(content)
    found = run(path)
    if found.exception is not None:
        assert isinstance(found.exception, SoakError)
        assert str(path) in str(found.exception)
    else:
        assert "no whole picture" in found.stderr


def test_a_taught_picture_that_is_none_is_refused(recording, tmp_path):
    """The sentence says what to do."""
    wrong = tmp_path / "card.jpg"
    wrong.write_bytes(b"not a picture")
    found = run(recording, "--teach", wrong)
    assert isinstance(found.exception, SoakError)
    assert "teach it again" in str(found.exception)
