"""A bench whose instruments are none: a video file, two pseudo-terminals, a text file.

Until `soak` said what an instrument is, such a bench made a unit ready, and its page read "all
results are the bench's own measurements".
"""

import json
from pathlib import Path

import cv2
import pytest
from faulty_clips import black_like, clip_frames, there_and_back
from patience import LIMIT_S
from soak_process import RELAY, SHEET, THERMOMETER, Relay, new_bench, started, thermometer
from typed_bench import typed

from soak.errors import ExitCode

RATE_HZ, FRAMES, DARK_FROM = 25.0, 750, 350
SCRIPT = """\
name = "seconds"
not_after = "60 s"
[[stretch]]
name = "run"
lasts = "5 s"
attended = true
[stretch.picture]
[stretch.spots]
"""
CAPTURE = """\
name = "nothing real"
[capture]
driver = "opencv"
source = "{clip}"
port = "video"
[probe.inside]
driver = "number_file"
file = "{number}"
spot = "inside"
accuracy = 0.5
"""
INSIDE = """\
[spots.inside]
text = "under the lid"
limit_degc = 60
trip_degc = 70
"""


def make_clip(path: Path) -> None:
    """Write moving pictures, dark from the 14th second on, as of a unit that was switched off."""
    real = there_and_back(clip_frames("bigbuckbunny.mp4", rows=180, most=60), FRAMES)
    rows, columns = real[0].shape[:2]
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"MJPG"), RATE_HZ, (columns, rows))
    for number, frame in enumerate(real):
        writer.write(black_like(frame, luma=2) if number >= DARK_FROM else frame)
    writer.release()


@pytest.fixture(scope="module")
def soaked(tmp_path_factory):
    """Soak on nothing real; return the bench, the exit code and what the terminal said."""
    path = tmp_path_factory.mktemp("nothing-real")
    bench = path / "bench"
    new_bench(bench)
    make_clip(path / "clip.avi")
    (path / "number").write_text("31.5\n")
    (bench / "fixtures" / "models" / "clip-player.toml").write_text(
        SHEET.replace('"20 s"', '"1 s"') + INSIDE
    )
    (bench / "scripts").mkdir()
    (bench / "scripts" / "seconds.toml").write_text(SCRIPT)
    with Relay(path / "relay") as relay, thermometer(path / "thermometer"):
        text = (CAPTURE + RELAY + THERMOMETER).format(
            clip=path / "clip.avi",
            number=path / "number",
            relay=relay.link,
            thermometer=path / "thermometer",
        )
        (bench / "fixtures" / "left.toml").write_text(text)
        process = started(bench, "run", "seconds", "--unit", "K1@left")
        _, err = process.communicate(timeout=LIMIT_S)
        return bench, process.returncode, err


@pytest.fixture(scope="module")
def page(soaked) -> str:
    """Return the buyer's page."""
    [file] = (soaked[0] / "reports").glob("*/report-buyer.html")
    return file.read_text()


def test_what_is_no_instrument_shows_nothing(soaked):
    """Every requirement that rests on one is not shown, so no ready can come of it."""
    bench, code, err = soaked
    assert code == ExitCode.INCOMPLETE, err
    said = json.loads(typed("--bench", str(bench), "judge", "last", "--json").out)
    why = {one["requirement"]["id"]: (one["verdict"], one["because"]) for one in said["findings"]}
    assert {verdict for verdict, _ in why.values()} == {"not shown"}
    switch = "Not shown: the switch is a pseudo-terminal and"
    assert why["run/picture/no dropout"][1] == f"{switch} the capture is a recording."
    assert why["run/spots/outside limit"][1] == f"{switch} the probe outside is a pseudo-terminal."
    assert why["run/spots/inside limit"][1] == f"{switch} the probe inside is an ordinary file."


def test_the_operator_is_told_at_the_beginning(soaked):
    """Before a night is spent on it, each is named at the terminal."""
    err = soaked[2]
    for what in (
        "the switch is a pseudo-terminal",
        "the capture is a recording",
        "the probe outside is a pseudo-terminal",
        "the probe inside is an ordinary file",
    ):
        assert f"MIND: {what}: what it shows proves nothing" in err


def test_the_buyer_reads_what_is_no_instrument(page):
    """It stands at the top, and nothing says that all is the bench's own measuring."""
    assert "The capture is a recording: what it showed proves nothing." in page
    assert "The switch is a pseudo-terminal: what it showed proves nothing." in page
    assert "all results are the bench&#39;s own measurements" not in page
    assert page.index("is a recording") < page.index("The unit")


def test_each_instrument_is_named_by_what_it_is(page):
    """Kind, accuracy, and that it was never proved on this unit."""
    assert "outside, a pseudo-terminal, accuracy ± 0.5 °C, never proved on this unit" in page
