"""At a real terminal: Ctrl-C at any prompt, letters for a reading, nobody there."""

from pathlib import Path

import pytest
from patience import until
from soak_process import RELAY, Relay, new_bench
from terminal_bench import Terminal

from soak.errors import ExitCode
from soak.journal import open_evidence
from soak.run.guard.place import guard_folder
from soak.run.guard.process import kill_hung

FIXTURE = """\
name = "by hand"
{switch}
"""
PROBE = """\
[probe.outside]
driver = "by_hand"
text = "the thermometer"
spot = "outside"
every_s = 60
accuracy = 1.0
"""
BY_HAND = '[switch]\ndriver = "by_hand"\ntext = "the wall socket"\n'
ASKING = """\
name = "asks"
not_after = "5 min"
[[stretch]]
name = "look-over"
attended = true
[stretch.look]
"""
READS = """\
name = "reads"
not_after = "5 min"
[[stretch]]
name = "run"
lasts = "60 s"
attended = true
[stretch.spots]
limits = false
"""
YES_NO, NUMBER, DONE = "(yes or no)", "(a number in degC)", "(Enter when done, or no)"
ASKS = ("run", "asks", "--unit", "K1@hand", "--may-sleep", "--as-it-is")
READ = ("run", "reads", "--unit", "K1@hand", "--may-sleep", "--as-it-is")


@pytest.fixture
def relay(tmp_path: Path):
    with Relay(tmp_path / "relay") as found:
        yield found
        place = guard_folder(tmp_path / "bench" / "reports")
        if (place / "guard.lock").exists():
            kill_hung(place)  # where a test failed it would go on switching off for ever


def bench_of(folder: Path, fixture: str) -> Path:
    """Make a bench folder: a switch, or one and a probe that is read by hand."""
    path = folder / "bench"
    new_bench(path)
    (path / "fixtures" / "hand.toml").write_text(fixture)
    (path / "scripts").mkdir()
    (path / "scripts" / "asks.toml").write_text(ASKING)
    (path / "scripts" / "reads.toml").write_text(READS)
    return path


@pytest.fixture
def bench(tmp_path: Path, relay: Relay) -> Path:
    return bench_of(tmp_path, FIXTURE.format(switch=RELAY.format(relay=relay.link)))


@pytest.fixture
def reading_bench(tmp_path: Path, relay: Relay) -> Path:
    return bench_of(tmp_path, FIXTURE.format(switch=RELAY.format(relay=relay.link)) + PROBE)


def evidence_of(bench: Path):
    (folder,) = [one for one in (bench / "reports").iterdir() if one.name.startswith("K1-")]
    return open_evidence(folder)


def stopped_at(bench: Path, words: tuple[str, ...], prompt: str) -> None:
    """Press Ctrl-C at a prompt, and look for a clean end."""
    with Terminal(bench, *words) as terminal:
        terminal.until(prompt)
        terminal.ctrl_c()
        assert terminal.ended() == ExitCode.STOPPED
        assert "Traceback" not in terminal.shown


def test_ctrl_c_at_yes_or_no_ends_off_sealed_and_graded(bench, relay):
    """While the look-over waits: one plain line, code 130, the relay off."""
    stopped_at(bench, ASKS, YES_NO)
    assert relay.told[-1] == "off"
    seal = evidence_of(bench).seal
    assert seal is not None
    assert seal.ended == "stopped"


def test_ctrl_c_at_a_number_ends_off_sealed_and_graded(reading_bench, relay):
    """While the thermometer is to be read: the same."""
    stopped_at(reading_bench, READ, NUMBER)
    assert relay.told[-1] == "off"
    assert evidence_of(reading_bench).seal is not None


def test_ctrl_c_at_the_prompt_of_proving_ends_off(reading_bench, relay):
    """`soak prove` asks, too: code 130, no traceback, the relay off."""
    stopped_at(reading_bench, ("prove", "hand", "--model", "clip-player"), "degC")
    assert relay.told[-1:] in ([], ["off"])


def test_ctrl_c_where_the_operator_is_the_switch_asks_for_off_and_takes_the_answer(tmp_path):
    """The question that was open is gone; Enter confirms that the socket is off."""
    bench = bench_of(tmp_path, FIXTURE.format(switch=BY_HAND))
    with Terminal(bench, *ASKS) as terminal:
        terminal.until(YES_NO)
        terminal.ctrl_c()
        terminal.until("Switch the wall socket off now")
        terminal.until(DONE)
        terminal.type("")
        assert terminal.ended() == ExitCode.STOPPED
        assert "Traceback" not in terminal.shown
    assert evidence_of(bench).marks("power")[-1].detail["on"] is False


def test_letters_a_comma_and_fahrenheit_at_the_thermometers_prompt(reading_bench):
    """Letters are refused and asked again, a comma is a point, °F is told in degC."""
    with Terminal(reading_bench, *READ) as terminal:
        terminal.until(NUMBER)
        terminal.type("warm")
        terminal.until("'warm' is not an answer")
        terminal.until(NUMBER)
        terminal.type("70,7 F")
        terminal.until("that is 21.5 degC")
        terminal.until(NUMBER)
        terminal.type("70,7")  # the same, without its unit: 21.5 degC at the start of a cold unit
        terminal.until("If it shows Fahrenheit that is 21.5 degC")
        terminal.until(NUMBER)
        terminal.type("21,5")
        until(lambda: list(evidence_of(reading_bench).series("probe.outside")[1]) == [21.5])
        terminal.ctrl_c()
        assert terminal.ended() == ExitCode.STOPPED
    assert list(evidence_of(reading_bench).series("probe.outside")[1]) == [21.5]


def test_a_terminal_that_is_closed_ends_the_soak_as_ctrl_c_does(bench, relay):
    """The operator's window is gone with a question open: off, sealed, and why is on record."""
    with Terminal(bench, *ASKS) as terminal:
        terminal.until(YES_NO)
        terminal.hang_up()
        assert terminal.ended() == ExitCode.STOPPED
    assert relay.told[-1] == "off"
    evidence = evidence_of(bench)
    assert evidence.seal is not None
    assert "the terminal was closed" in evidence.marks("stopped")[0].detail["why"]


def test_an_operator_who_is_gone_is_waited_for_no_longer_than_the_script_says(bench):
    """Nobody answers the look-over: the soak goes on to its end, and silence is no answer."""
    script = bench / "scripts" / "asks.toml"
    script.write_text(ASKING.replace("[stretch.look]\n", "[stretch.look]\nwait_s = 1\n"))
    with Terminal(bench, *ASKS) as terminal:
        assert terminal.ended() == ExitCode.INCOMPLETE
    answers = evidence_of(bench).marks("answer")
    assert {mark.detail["answer"] for mark in answers} == {None}
    assert {mark.detail["by"] for mark in answers} == {"nobody"}
