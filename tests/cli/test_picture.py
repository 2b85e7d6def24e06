"""`soak picture` and `soak teach` on the command line."""

import itertools
import json
import signal
import socket
import subprocess
import threading
from contextlib import contextmanager, suppress

import cv2
import imageio_ffmpeg
import numpy as np
import pytest
from faulty_clips import black_like, jpeg
from patience import LIMIT_S
from soak_process import SOAK
from typer.testing import CliRunner

from soak.cli.app import app
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


def test_a_recording_of_damaged_pictures_alone_is_said_and_breaks_nothing(tmp_path):
    """Every packet is cut short, so nothing was ever shown."""
    file = tmp_path / "cut.mjpeg"
    file.write_bytes(jpeg(SCENE)[:200] * 3)
    result = run(file)
    assert result.exit_code == 0, result.output
    assert "nothing in it could be looked at" in result.output
    assert run("--json", file).exit_code == run("--csv", file).exit_code == 0


def test_a_taught_picture_that_is_none_is_refused(recording, tmp_path):
    """The sentence says what to do."""
    wrong = tmp_path / "card.jpg"
    wrong.write_bytes(b"not a picture")
    found = run(recording, "--teach", wrong)
    assert isinstance(found.exception, SoakError)
    assert "teach it again" in str(found.exception)


def test_the_true_rate_is_named_and_lost_pictures_are_counted(tmp_path):
    """Three seconds at 60000/1001 (CTA-861) without two of its pictures, in text and as JSON."""
    path, index = tmp_path / "slow.mjpeg", []
    with path.open("wb") as file:
        for number in range(180):
            if number not in (100, 101):
                packet = jpeg(np.roll(SCENE, 3 * number, axis=1))
                index.append([file.tell(), len(packet), round(number * 1001e9 / 60000)])
                file.write(packet)
    about = {"fps": 59.94, "frames": index}
    (tmp_path / "slow.mjpeg.idx.json").write_text(json.dumps(about))
    assert "178 pictures, 59.940 a second (60000/1001); 2 lost" in run(path).stdout
    (found,) = json.loads(run(path, "--json").stdout)
    assert (found["nominal_rate"], found["lost"]) == ("60000/1001", 2)


def test_several_taught_pictures_of_other_sizes_are_known(recording, tmp_path):
    """Each was kept at another size than the recording's; a third one is protected output."""
    scenes = [np.full((72, 128, 3), colour, np.uint8) for colour in ((140, 60, 20), (20, 90, 160))]
    for scene in scenes:
        scene[20:30, 30:90] = 225
    scenes.append(np.ascontiguousarray(scenes[0][::-1, :, ::-1]))
    frames = [np.roll(SCENE, 3 * at, axis=1) for at in range(100)]
    for begin, scene in zip((20, 45, 70), scenes, strict=True):
        frames[begin : begin + 10] = [scene] * 10
    path = tmp_path / "cards.mjpeg"
    path.write_bytes(b"".join(map(jpeg, frames)))
    names = []
    for scene, size in zip(scenes, ((1280, 720), (853, 480), (64, 36)), strict=True):
        names.append(tmp_path / f"{size[0]}.png")
        cv2.imwrite(str(names[-1]), cv2.resize(scene, size, interpolation=cv2.INTER_AREA))
    asked = ["--teach", names[0], "--teach", names[1], "--protected", names[2]]
    found = json.loads(run(path, *asked, "--json").stdout)[0]["states"]
    kinds = [(one["kind"], one["start_frame"], one["end_frame"]) for one in found]
    assert [one for one in kinds if one[0] != "picture"] == [
        ("no signal", 20, 29),
        ("no signal", 45, 54),
        ("protected output", 70, 79),
    ]
    assert run(path, *asked, "--csv").stdout.splitlines()[1:] == [
        "cards.mjpeg,20,29,nosignal",
        "cards.mjpeg,45,54,nosignal",
    ]


@contextmanager
def served(chunks):
    """Serve bytes over TCP to one client; yield the address."""
    listening = socket.create_server(("127.0.0.1", 0))

    def serve():
        with suppress(OSError):  # the client may leave at any time
            client, _ = listening.accept()
            with client:
                for chunk in chunks:
                    client.sendall(chunk)

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield f"tcp://127.0.0.1:{listening.getsockname()[1]}"
    finally:
        listening.close()
        thread.join(LIMIT_S)


def transport_stream(path, graph):
    """Return a picture made by ffmpeg as the bytes of an MPEG-2 transport stream."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-f", "lavfi", "-i", graph]
    encoder = ["-c:v", "mpeg2video", "-q:v", "3", "-f", "mpegts"]
    subprocess.run([*command, *encoder, str(path)], check=True, timeout=LIMIT_S)
    return path.read_bytes()


def test_a_stream_is_looked_through_like_a_recording(tmp_path):
    """Half a second of black in a stream over TCP is found where it was made, by its own times."""
    black = "drawbox=color=black:t=fill:enable='between(n,30,44)',format=yuv420p"
    data = transport_stream(tmp_path / "s.ts", f"testsrc2=s=320x180:r=30:d=3,{black}")
    with served([data]) as address:
        (found,) = json.loads(run(address, "--json", "--moving").stdout)
    (black,) = [one for one in found["states"] if one["kind"] == "black"]
    assert (black["start_frame"], black["end_frame"]) == (30, 44)
    assert black["seconds"] == pytest.approx(0.5, abs=1e-3)


def test_ctrl_c_ends_an_endless_stream_and_tells_what_came(tmp_path):
    """After more bytes than any buffer holds one Ctrl-C comes: exit code 0, and the states."""
    data = transport_stream(tmp_path / "s.ts", "testsrc2=s=320x180:r=30:d=10")
    begun, processes = threading.Event(), []

    def endless():
        for number in itertools.count():
            if number == 1 + 30_000_000 // len(data):
                begun.wait()
                processes[0].send_signal(signal.SIGINT)
            yield data

    with served(endless()) as address:
        pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
        command = [*SOAK, "picture", "--fine-every", "0", address]
        processes.append(subprocess.Popen(command, **pipes))
        begun.set()
        out, err = processes[0].communicate(timeout=LIMIT_S)
    assert processes[0].returncode == 0, err
    assert "one unbroken picture" in out
