"""`soak clip`: made, played through real encoders, cut, and read back by the real file path."""

import json
import subprocess

import imageio_ffmpeg
import pytest
from patience import LIMIT_S

from soak.desk.proof import clip
from soak.errors import UsageError


@pytest.mark.parametrize(("name", "encoder"), [("c.avi", "plain"), ("c.mp4", "plain")])
def test_a_clip_comes_back_whole(tmp_path, name, encoder):
    """What is written is read back frame by frame, with colours."""
    file = str(tmp_path / name)
    said = clip.make(file, seconds=1, size="320x180", rate_hz=30, clip=7, encoder=encoder)
    told = json.loads(clip.read_back(file, 30, as_json=True))
    assert "frames = 30" in said
    assert (told["came"], told["lost"], told["unread"]) == (30, 0, 0)
    assert max(told["colour_error"]) < 0.1


def test_what_another_program_made_of_it_is_counted_exactly(tmp_path):
    """Another encoder (ffmpeg, H.264, another size) takes 7 frames out: 7 are lost, 23 come."""
    whole, cut = tmp_path / "whole.avi", tmp_path / "cut.mp4"
    clip.make(str(whole), seconds=1, size="640x360", rate_hz=30, clip=1, encoder="plain")
    keep = "select='not(between(n,10,16))',setpts=N/30/TB,scale=480:270"
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-i", whole, "-vf", keep]
    subprocess.run([*command, "-c:v", "libx264", "-crf", "35", cut], check=True)
    told = json.loads(clip.read_back(str(cut), 30, as_json=True))
    assert (told["came"], told["lost"], told["longest_run"]) == (23, 7, 13)


WAYS = {
    "H.264 at CRF 40": ("null", ["-c:v", "libx264", "-crf", "40", "-pix_fmt", "yuv420p"], "mp4"),
    "MPEG-2 of 1.5 Mb/s": ("null", ["-c:v", "mpeg2video", "-b:v", "1500k"], "mpg"),
    "VP8 of 600 kb/s": ("null", ["-c:v", "libvpx", "-b:v", "600k", "-cpu-used", "8"], "webm"),
    "Motion JPEG, coarse": ("null", ["-c:v", "mjpeg", "-q:v", "20"], "avi"),
    "limited to full range": (
        "scale=in_range=tv:out_range=pc",
        ["-c:v", "libx264", "-crf", "30", "-color_range", "pc"],
        "mp4",
    ),
    "full to limited range": (
        "scale=in_range=pc:out_range=tv",
        ["-c:v", "libx264", "-crf", "30", "-color_range", "tv"],
        "mp4",
    ),
    "shown at 1080p": ("scale=1920:1080", ["-c:v", "libx264", "-crf", "35"], "mp4"),
    "standard definition": ("scale=720:576", ["-c:v", "libx264", "-crf", "30"], "mp4"),
    "overscan of 8 %": ("crop=iw*0.92:ih*0.92", ["-c:v", "libx264", "-crf", "30"], "mp4"),
    "underscan with bars": ("pad=iw*1.2:ih*1.2:-1:-1", ["-c:v", "libx264", "-crf", "30"], "mp4"),
    "3:2 pulldown of 24": ("fps=60", ["-c:v", "libx264", "-crf", "30"], "mp4"),
}


@pytest.mark.parametrize("way", WAYS)
def test_a_clip_survives_real_encoders_and_what_sets_do_to_it(tmp_path, way):
    """Each way is ffmpeg's own filter and encoder; all 24 frames come, in their colours."""
    whole = tmp_path / "whole.mp4"
    clip.make(str(whole), seconds=1, size="640x360", rate_hz=24, clip=3, encoder="h264")
    filters, encoder, ending = WAYS[way]
    shown = tmp_path / f"shown.{ending}"
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-i", whole, "-vf", filters]
    subprocess.run([*command, *encoder, shown], check=True, timeout=LIMIT_S)
    told = json.loads(clip.read_back(str(shown), 24, as_json=True))
    assert (told["came"], told["lost"], told["out_of_order"]) == (24, 0, 0)
    assert (told["longest_run"], told["unread"]) == (24, 0)
    assert max(told["colour_error"]) < 0.3


def test_h264_needs_its_extra_and_says_so(tmp_path, monkeypatch):
    """Without the extra one sentence names it."""
    import sys

    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(UsageError, match=r"soak\[clip\]"):
        clip.make(
            str(tmp_path / "c.mp4"), seconds=1, size="640x360", rate_hz=30, clip=0, encoder="h264"
        )


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"size": "640"}, "write it like 1280x720"),
        ({"seconds": 0.0}, "at most 7200 s"),
        ({"encoder": "magic"}, "plain and h264"),
        ({"file": "c.txt"}, "one of the endings"),
        ({"file": "no/such/folder/c.avi"}, "cannot be written"),
    ],
)
def test_a_mistake_in_making_a_clip_is_one_sentence(tmp_path, given, says):
    """Each mistake says what to give instead."""
    usual = {"size": "640x360", "seconds": 1.0, "rate_hz": 30.0, "clip": 0, "encoder": "plain"}
    file = str(tmp_path / given.pop("file", "c.avi"))
    with pytest.raises(UsageError, match=says):
        clip.make(file, **{**usual, **given})


def test_a_video_without_coded_pictures_says_so(tmp_path):
    """A recording of something else is no clip."""
    other = tmp_path / "other.avi"
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-f", "lavfi", "-i", "testsrc2=d=1"]
    subprocess.run([*command, "-c:v", "mjpeg", other], check=True)
    with pytest.raises(UsageError, match="no coded picture"):
        clip.read_back(str(other), 90, as_json=False)
    with pytest.raises(UsageError):
        clip.read_back(str(tmp_path / "none.avi"), 90, as_json=False)
