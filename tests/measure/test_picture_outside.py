"""The watcher against ffmpeg's black and freeze filters, run on the same made clip."""

import re
import subprocess
import warnings

import pytest
from patience import LIMIT_S

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    imageio_ffmpeg = pytest.importorskip("imageio_ffmpeg")

from looked import look_through

from soak.bench.capture.video_stream import pictures_of
from soak.measure.video.watcher import WatcherSettings

RATE = "30000/1001"
PERIOD_S = 1001 / 30000


@pytest.fixture(scope="module")
def clip(tmp_path_factory):
    """Make 12 s of a moving test picture: black for pictures 60 to 89, frozen for 250 to 309."""
    path = tmp_path_factory.mktemp("clip") / "faulty.avi"
    graph = (
        "testsrc2=s=640x360:r=30000/1001:d=12,"
        "drawbox=color=black:t=fill:enable='between(n,60,89)',"
        "loop=loop=60:size=1:start=250,trim=end_frame=340"
    )
    command = ["-v", "error", "-f", "lavfi", "-i", graph, "-c:v", "mjpeg", "-q:v", "4", str(path)]
    subprocess.run([imageio_ffmpeg.get_ffmpeg_exe(), *command], check=True, timeout=LIMIT_S)
    return path


def ffmpeg_says(clip, name, options):
    """Return (start, end) in s as a filter of ffmpeg prints them."""
    command = ["-i", str(clip), "-vf", f"{name}={options}", "-f", "null", "-"]
    done = subprocess.run(
        [imageio_ffmpeg.get_ffmpeg_exe(), *command],
        capture_output=True,
        text=True,
        check=True,
        timeout=LIMIT_S,
    )
    starts = re.findall(r"(?:black|freeze)_start:\s*([\d.]+)", done.stderr)
    ends = re.findall(r"(?:black|freeze)_end:\s*([\d.]+)", done.stderr)
    return [(float(start), float(end)) for start, end in zip(starts, ends, strict=True)]


def test_black_is_where_ffmpeg_finds_it(clip):
    """Onset and end agree with blackdetect to one frame, and with how the clip was made."""
    spans = look_through(pictures_of(str(clip)), WatcherSettings(moving=True))
    (black,) = [span for span in spans if span.kind == "black"]
    assert (black.first, black.last) == (60, 89)
    ((start_s, end_s),) = ffmpeg_says(clip, "blackdetect", "d=0.1")
    assert black.from_s == pytest.approx(start_s, abs=PERIOD_S)
    assert black.from_s + black.seconds == pytest.approx(end_s, abs=PERIOD_S)


def test_a_freeze_is_where_ffmpeg_finds_it(clip):
    """Onset and end agree with freezedetect to one frame; it counts the picture before, too."""
    spans = look_through(pictures_of(str(clip)), WatcherSettings(moving=True))
    (frozen,) = [span for span in spans if span.kind == "frozen"]
    assert (frozen.first, frozen.last) == (250, 309)
    found = ffmpeg_says(clip, "freezedetect", "n=0.001:d=1.5")
    ((start_s, end_s),) = found
    assert frozen.from_s == pytest.approx(start_s, abs=1.01 * PERIOD_S)
    assert frozen.from_s + frozen.seconds == pytest.approx(end_s, abs=1.01 * PERIOD_S)


def test_picture_times_keep_the_1000_1001_rate(clip):
    """The clip's 340 pictures lie 1001/30000 s apart, not 1/30 s (CTA-861 rates)."""
    times = [picture.t_s for picture in pictures_of(str(clip))]
    assert len(times) == 340
    assert times[-1] == pytest.approx(339 * PERIOD_S, abs=1e-4)
