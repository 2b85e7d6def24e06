"""A whole soak in real time on a played unit that has lost red from its third start on."""

from pathlib import Path

import cv2
import numpy as np
from as_recorded import judged_as_recorded
from faulty_clips import clip_frames, there_and_back
from patience import LIMIT_S
from played_unit import PlayedUnit, played_unit
from soak_process import RELAY, SHEET, THERMOMETER, Relay, new_bench, started, thermometer

from soak.journal import open_evidence

SCRIPT = """\
name = "three starts"
not_after = "3 min"
[[stretch]]
name = "starts"
attended = true
[stretch.power_cycles]
warm = 3
off_s = 2
on_s = 4
off_within_s = 5
give_up_s = 12
[stretch.picture]
shortest_dropout_s = 0.5
tints = 0
"""
CAPTURE = """\
name = "played"
[capture]
driver = "opencv"
source = "{address}"
port = "video"
"""


class LosesRed(PlayedUnit):
    """Shows a film; from one start on its red is 0 all over."""

    def __init__(self, relay: Relay, from_start: int) -> None:
        super().__init__(relay)
        self._starts, self._from_start = relay.on_at_s, from_start
        film = there_and_back(clip_frames("bigbuckbunny.mp4", rows=180, most=60), 118)
        self._bad = []
        for frame in film:
            changed = frame.copy()
            changed[..., 2] = 0
            self._bad.append(bytes(cv2.imencode(".jpg", changed)[1]))

    def frame(self, number: int) -> bytes:
        """Return what the video output shows now."""
        good = super().frame(number)
        if good is self._black or len(self._starts) < self._from_start:
            return good
        return self._bad[number % len(self._bad)]


def soaked(path: Path, from_start: int):
    """Run the soak; return its evidence, and what the process said."""
    bench = path / "bench"
    new_bench(bench)
    sheet = bench / "fixtures" / "models" / "clip-player.toml"
    sheet.write_text(SHEET.replace('start_s = "20 s"', 'start_s = "1 s"'))
    (bench / "scripts").mkdir()
    (bench / "scripts" / "starts.toml").write_text(SCRIPT)
    with (
        Relay(path / "relay") as relay,
        thermometer(path / "thermometer"),
        played_unit(relay, lambda one: LosesRed(one, from_start)) as unit,
    ):
        text = (CAPTURE + RELAY + THERMOMETER).format(
            address=unit.address, relay=relay.link, thermometer=path / "thermometer"
        )
        (bench / "fixtures" / "left.toml").write_text(text)
        process = started(bench, "run", "starts", "--unit", "K1@left")
        _, err = process.communicate(timeout=LIMIT_S)
    [journal] = (bench / "reports").glob("*/journal.sqlite")
    return open_evidence(journal.parent), err


def test_a_lane_lost_at_the_third_power_cycle_is_not_met_with_its_picture(tmp_path):
    """Grade, reason and evidence: colours were lost once, and the picture kept shows no red."""
    evidence, err = soaked(tmp_path, 3)
    judgement = judged_as_recorded(evidence)
    found = {one.requirement.id: one for one in judgement.findings}
    tint = found["starts/picture/no tint"]
    assert tint.verdict.value == "not met", err
    assert "Tint once" in tint.because
    assert judgement.grade == "not ready: failed"
    assert "tint" in judgement.reason.lower()
    last_on_s = max(mark.t_s for mark in evidence.marks("start"))
    [lost] = [one for one in evidence.states("capture.tint") if one.state == "tint"]
    assert lost.t_s > last_on_s
    during = [
        one
        for one in evidence.kept_files()
        if one.detail.get("state") == "tint" and one.detail.get("shows") == "during"
    ]
    assert len(during) == 1
    shown = cv2.imdecode(np.frombuffer(evidence.kept_bytes(during[0]), np.uint8), 1)
    assert shown[..., 2].mean() < 5 < shown[..., 1].mean()


def test_the_same_soak_of_a_unit_that_keeps_its_colours_shows_none_lost(tmp_path):
    """Each start loses the picture; none of them its colours."""
    evidence, err = soaked(tmp_path, 100)
    tints = evidence.states("capture.tint")
    assert tints, err
    assert {one.state for one in tints} <= {"clean", "blind"}
    found = {one.requirement.id: one for one in judged_as_recorded(evidence).findings}
    assert found["starts/picture/no tint"].verdict.value in ("met", "not shown")  # of a busy host
