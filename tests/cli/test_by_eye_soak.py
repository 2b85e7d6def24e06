"""No capture is wired: somebody at the terminal looks whether the picture comes."""

from pathlib import Path

import pytest
from as_recorded import judged_as_recorded
from soak_process import RELAY, Relay, new_bench
from terminal_bench import Terminal

from soak.errors import ExitCode
from soak.journal import open_evidence
from soak.report import model
from soak.report.contents.wording import as_tested
from soak.rules.core.verdict import Judgement, Verdict

SHEET = """\
model = "clip player"
picture_when_on = "may blank"
start_s = "1 s"
start_limit_s = "1 s"
mains = false
disk = false
lithium_cell = false
holds_data = false
[functions.start]
text = "starts when it gets power"
key = true
check = "power_cycles"
"""
SCRIPT = """\
name = "starts"
not_after = "10 min"
[[stretch]]
name = "starts"
attended = {attended}
[stretch.power_cycles]
warm = 2
off_s = 0.1
on_s = 1
by_eye = true
eye_wait_s = {wait_s}
"""
RUN = ("run", "starts", "--unit", "K1@eye", "--may-sleep", "--as-it-is")
NONE = "the switch is a pseudo-terminal"
GONE, THERE = "is the picture gone?", "is the picture there?"


@pytest.fixture
def relay(tmp_path: Path):
    with Relay(tmp_path / "relay") as found:
        yield found


def bench_of(folder: Path, relay: Relay, attended: str = "true", wait_s: int = 120) -> Path:
    """Make a bench with a relay and nothing that sees a picture."""
    path = folder / "bench"
    new_bench(path)
    (path / "fixtures" / "models" / "clip-player.toml").write_text(SHEET)
    wired = RELAY.format(relay=relay.link)
    (path / "fixtures" / "eye.toml").write_text(f'name = "eye"\n{wired}')
    (path / "scripts").mkdir()
    (path / "scripts" / "starts.toml").write_text(SCRIPT.format(attended=attended, wait_s=wait_s))
    return path


def looked(terminal: Terminal, *answers: str) -> None:
    """Answer the questions of two starts: gone, there, gone, there."""
    for number, answer in enumerate(answers):
        terminal.until((GONE, THERE)[number % 2])
        terminal.type(answer)
        if number == 0:
            terminal.until("Initials")
            terminal.type("SM")


def judged(bench: Path) -> tuple[Judgement, model.Tested]:
    """Judge the soak as on a real relay; return that, and its starts by eye as a page has them."""
    (folder,) = [one for one in (bench / "reports").iterdir() if one.name.startswith("K1-")]
    judgement = judged_as_recorded(open_evidence(folder))
    (starts,) = [
        one
        for one in judgement.findings
        if one.requirement.id == "starts/power_cycles/starts by eye"
    ]
    return judgement, as_tested(starts)


def test_starts_that_came_are_ready_by_eye_and_no_time_is_claimed(tmp_path, relay):
    """What the capture would have timed stays not tested, and is said."""
    bench = bench_of(tmp_path, relay)
    with Terminal(bench, *RUN) as terminal:
        looked(terminal, "yes", "yes", "yes", "yes")
        terminal.until(NONE)
        assert terminal.ended() == ExitCode.INCOMPLETE
    judgement, starts = judged(bench)
    assert judgement.ready
    assert "judged by eye, by SM" in judgement.reason
    assert str(starts.found) == "2 of 2 worked, by eye, by SM"
    assert "nobody knows how long a start took" in str(starts.because)
    assert (str(starts.bound), starts.bound_high) == ("", None)
    untested = [one for one in judgement.findings if one.verdict is Verdict.NOT_TESTED]
    assert any("within 1 s" in one.requirement.text for one in untested)


@pytest.mark.parametrize(
    ("first", "last", "because"), [("no", "yes", "failed"), ("yes", "no", "incomplete")]
)
def test_a_start_that_showed_nothing_fails_the_unit(tmp_path, relay, first, last, because):
    """One of two; where it is the last, nobody knows whether its power came."""
    bench = bench_of(tmp_path, relay)
    with Terminal(bench, *RUN) as terminal:
        looked(terminal, "yes", first, "yes", last)
        terminal.ended()
    assert judged(bench)[0].because == because


def test_a_start_nobody_saw_is_not_counted_and_that_is_said(tmp_path, relay):
    """The second is not answered: not shown, and one more was not seen."""
    bench = bench_of(tmp_path, relay, wait_s=3)
    with Terminal(bench, *RUN) as terminal:
        looked(terminal, "yes", "yes", "yes")
        terminal.until(THERE)
        assert terminal.ended() == ExitCode.INCOMPLETE
    judgement, starts = judged(bench)
    assert judgement.because == "incomplete"
    assert "only 1 of 2 were seen" in str(starts.because)


def test_a_relay_that_does_not_open_counts_for_no_start(tmp_path, relay):
    """The picture did not go: what follows is no start, and it speaks of the relay first."""
    bench = bench_of(tmp_path, relay)
    with Terminal(bench, *RUN) as terminal:
        looked(terminal, "no", "yes", "yes", "yes")
        assert terminal.ended() == ExitCode.INCOMPLETE
    judgement, _ = judged(bench)
    assert judgement.because == "incomplete"
    assert "look at the relay and its wiring" in judgement.reason


def test_a_stretch_that_runs_alone_is_refused(tmp_path, relay):
    """Nobody would be there to look."""
    bench = bench_of(tmp_path, relay, attended="false")
    with Terminal(bench, *RUN) as terminal:
        terminal.until("power_cycles.by_eye: asks the operator; say attended = true")
        assert terminal.ended() == ExitCode.USAGE
    assert relay.told == []
