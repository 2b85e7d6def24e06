"""The program dies in the middle of a soak, and the soak goes on: same journal, power off first.

In real time, about half a minute: relay and picture live in the test, so they survive the program.
"""

import math
import signal
from pathlib import Path

import pytest
from as_recorded import verdicts_as_recorded
from patience import LIMIT_S, until
from played_unit import played_unit
from soak_process import RELAY, THERMOMETER, Relay, new_bench, started, thermometer
from typed_bench import typed

from soak.errors import ExitCode, JournalError
from soak.journal import JournalEvidence, open_evidence

SCRIPT = """\
name = "cycles"
not_after = "5 min"
blind_allowed = 0.9
longest_blind = "20 s"
[[stretch]]
name = "starts"
attended = true
[stretch.power_cycles]
warm = 3
off_s = 1
on_s = 2
start_limit_s = 20
give_up_s = 20
[[stretch]]
name = "run"
lasts = "15 s"
attended = true
[stretch.picture]
failure_free_s = 15
"""
CAPTURE = """\
name = "played"
[capture]
driver = "opencv"
source = "{address}"
port = "video"
"""


def make_bench(path: Path, address: str, relay: Path) -> Path:
    bench = path / "bench"
    new_bench(bench)
    sheet = bench / "fixtures" / "models" / "clip-player.toml"
    sheet.write_text(sheet.read_text().replace('start_s = "20 s"', 'start_s = "1 s"'))
    text = CAPTURE + RELAY + THERMOMETER
    named = {"address": address, "relay": relay, "thermometer": path / "thermometer"}
    (bench / "fixtures" / "left.toml").write_text(text.format(**named))
    (bench / "scripts").mkdir()
    (bench / "scripts" / "cycles.toml").write_text(SCRIPT)
    return bench


def evidence_of(bench: Path) -> JournalEvidence:
    [journal] = (bench / "reports").glob("*/journal.sqlite")
    return open_evidence(journal.parent)


def has_run_for(bench: Path, length_s: float) -> bool:
    """Return whether the stretch `run` has been on record for so long."""
    try:
        evidence = evidence_of(bench)
    except (JournalError, ValueError):
        return False
    begun = [mark.t_s for mark in evidence.marks("stretch begins") if mark.stretch == "run"]
    return bool(begun) and evidence.ends_s - begun[0] > length_s


@pytest.fixture(scope="module")
def twice_killed(tmp_path_factory):
    """Kill the program in its second start and again in the last stretch; resume each time."""
    path = tmp_path_factory.mktemp("resumed")
    with (
        Relay(path / "relay") as relay,
        thermometer(path / "thermometer"),
        played_unit(relay) as unit,
    ):
        bench = make_bench(path, unit.address, relay.link)
        first = started(bench, "run", "cycles", "--unit", "K1@left")
        until(lambda: relay.told.count("on") == 2)
        killed = [len(relay.told)]
        first.kill()
        first.communicate()
        second = started(bench, "resume", "last", "--may-sleep")
        until(lambda: has_run_for(bench, 3.0))
        killed.append(len(relay.told))
        second.kill()
        second.communicate()
        third = started(bench, "resume", "last", "--may-sleep")
        _, err = third.communicate(timeout=LIMIT_S)
        return bench, killed, relay, third.returncode, err


@pytest.fixture(scope="module")
def evidence(twice_killed):
    return evidence_of(twice_killed[0])


def test_the_same_journal_holds_three_sessions(evidence):
    """One soak, three sessions, each gap on record and known from the boot clock."""
    sessions = evidence.sessions()
    assert [one.number for one in sessions] == [1, 2, 3]
    assert [one.gap_from for one in sessions] == ["first start", "boot clock", "boot clock"]
    assert all(0 < one.gap_s < 30 for one in sessions[1:])
    assert evidence.seal is not None
    assert evidence.seal.ended == "complete"


def test_the_holes_are_as_long_as_the_relay_knows(twice_killed, evidence):
    """Soak time goes on across both gaps as the clock of the relay board does, to half a second.

    The board knows nothing of soak time: it wrote down when it was told to switch on.
    """
    _, killed, relay, _, _ = twice_killed
    sessions = evidence.sessions()
    ends_s = [*(one.begins_at_s for one in sessions[1:]), math.inf]
    ahead_s = []
    for one, until_s, number in zip(sessions, ends_s, [0, *killed], strict=True):
        on_s = [m.t_s for m in evidence.marks("power") if m.detail["on"]]
        on_s = [t_s for t_s in on_s if one.begins_at_s <= t_s < until_s]
        heard_s = relay.on_at_s[relay.told[:number].count("on") :]
        # Of several the one that was put on record soonest after the board heard it.
        ahead_s.append(max(at - t_s for at, t_s in zip(heard_s, on_s, strict=False)))
    assert max(ahead_s) - min(ahead_s) < 0.5


def test_power_goes_off_before_it_comes_on_again(twice_killed):
    """Killed with the power on, the next word the relay hears is off, and off is the last."""
    _, killed, relay, _, _ = twice_killed
    told = relay.told
    assert [told[number - 1] for number in killed] == ["on", "on"]
    assert [told[number] for number in killed] == ["off", "off"]
    assert told[-1] == "off"


def test_starts_are_counted_on_and_none_twice(evidence):
    """Three starts were promised and three were watched to their end, numbered through."""
    numbers = [mark.detail["number"] for mark in evidence.marks("start ended")]
    assert numbers == [1, 2, 3]
    begun = [mark.detail for mark in evidence.marks("stretch begins") if mark.stretch == "starts"]
    assert [one["count"]["power_cycles"] for one in begun[1:]] == [1]


def test_observed_time_carries_on(evidence):
    """The last session owes only what was not observed before, and fifteen seconds were in all."""
    begun = [mark.detail for mark in evidence.marks("stretch begins") if mark.stretch == "run"]
    ended = [mark.detail for mark in evidence.marks("stretch ends") if mark.stretch == "run"]
    assert begun[0]["observed_s"] == 0
    assert begun[1]["observed_s"] > 2.5
    assert ended[-1]["observed_s"] == pytest.approx(15.0, abs=0.2)


def test_a_failure_free_end_is_not_stitched_over_the_gap(twice_killed, evidence):
    """Three seconds before the gap and twelve after it are not fifteen without a fault."""
    bench, _, _, code, err = twice_killed
    said = typed("--bench", str(bench), "judge", "last", "--json")
    verdicts = verdicts_as_recorded(evidence)
    assert verdicts["run/picture/failure-free end"] == "not shown", err
    assert verdicts["run/picture/no dropout"] == "met"
    assert verdicts["starts/power_cycles/starts"] == "met"
    assert said.code == code == ExitCode.INCOMPLETE


def test_the_operator_hears_how_long_nobody_looked(twice_killed):
    """The gap is said at the resume."""
    assert "nobody looked for" in twice_killed[4]


@pytest.mark.parametrize(
    ("number", "why"),
    [(signal.SIGINT, "Ctrl-C"), (signal.SIGHUP, "terminal was closed")],
)
def test_a_stopped_soak_ends_off_and_sealed(tmp_path, number, why):
    """Ctrl-C, or a closed terminal: off, sealed, graded, exit code 130."""
    with (
        Relay(tmp_path / "relay") as relay,
        thermometer(tmp_path / "thermometer"),
        played_unit(relay) as unit,
    ):
        bench = make_bench(tmp_path, unit.address, relay.link)
        process = started(bench, "run", "cycles", "--unit", "K1@left")
        until(lambda: relay.told.count("on") == 1)
        process.send_signal(number)
        _, err = process.communicate(timeout=LIMIT_S)
        evidence = evidence_of(bench)
        assert process.returncode == ExitCode.STOPPED, err
        assert relay.told[-1] == "off"
        assert not relay.is_on
    assert evidence.seal is not None
    assert evidence.seal.ended == "stopped"
    assert why in evidence.marks("stopped")[0].detail["why"]
    assert "Traceback" not in err
