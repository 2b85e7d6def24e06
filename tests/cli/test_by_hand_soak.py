"""A bench with nothing but hands that mends sound sockets: cards answered at a terminal."""

import json
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
import pytest
from soak_process import RELAY, Relay, new_bench, started
from terminal_bench import Terminal

from soak.errors import ExitCode
from soak.journal import open_evidence
from soak.ledger.ledger import Ledger
from soak.measure.photograph import prepared

SHEET = """\
model = "clip player"
picture_when_on = "may blank"
start_s = "20 s"
mains = false
disk = false
lithium_cell = false
holds_data = false
[ports.sound]
text = "sound output"
kind = "sound"
[functions.sound]
text = "plays sound on both sides"
key = true
check = "by_hand"
port = "sound"
"""
SCRIPT = """\
name = "sound"
not_after = "10 min"
[[stretch]]
name = "look-over"
attended = true
[stretch.look]
[[stretch]]
name = "sound"
attended = true
[stretch.by_hand]
wait_s = {wait_s}
[stretch.by_hand.cards.sound]
function = "{function}"
question = "Play the test clip: does sound come on both sides?"
photograph = {photograph}
"""
FIXTURE = """\
name = "bare"
[switch]
driver = "by_hand"
text = "the wall socket"
"""
RUN = ("run", "sound", "--unit", "K1@bare", "--as-it-is")
YES_NO, DONE, INITIALS = "(yes or no", "(Enter when done", "Initials"
CARD = "does sound come on both sides?"


def bench_of(folder: Path, function: str = "sound", photograph: str = "false", wait_s: int = 60):
    """Make a bench with a socket switched by hand, and a unit whose sound was mended."""
    path = folder / "bench"
    new_bench(path)
    (path / "fixtures" / "models" / "clip-player.toml").write_text(SHEET)
    (path / "fixtures" / "bare.toml").write_text(FIXTURE)
    (path / "scripts").mkdir()
    told = {"function": function, "photograph": photograph, "wait_s": wait_s}
    (path / "scripts" / "sound.toml").write_text(SCRIPT.format(**told))
    Ledger(path / "ledger.sqlite").record_repair("K1", what="new sound socket", function="sound")
    return path


def folder_of(bench: Path) -> Path:
    (folder,) = [one for one in (bench / "reports").iterdir() if one.name.startswith("K1-")]
    return folder


def looked_over(terminal: Terminal) -> None:
    """Answer the look-over, and switch the unit on by hand."""
    for answer in ("yes", "no", "yes"):
        terminal.until(YES_NO)
        terminal.type(answer)
    switched(terminal)


def switched(terminal: Terminal) -> None:
    """Do and confirm what the hand at the socket is asked for."""
    terminal.until(DONE)
    terminal.type("")


def test_a_mended_sound_socket_is_ready_by_hand_and_every_page_says_by_whom(tmp_path):
    """Nothing is wired: the card shows the function and its repair, and the initials go along."""
    bench = bench_of(tmp_path)
    with Terminal(bench, *RUN) as terminal:
        looked_over(terminal)
        terminal.until(CARD)
        terminal.type("yes")
        terminal.until(INITIALS)
        terminal.type("SM")
        switched(terminal)
        terminal.until("ready: ")
        terminal.until("by hand, by SM")
        assert terminal.ended() == ExitCode.DONE
    folder = folder_of(bench)
    with Terminal(bench, "report", folder.name) as terminal:
        assert terminal.ended() == ExitCode.DONE
    for page in ("report.html", "report-buyer.html", "listing.txt", "report.csv"):
        assert "by hand, by SM" in (folder / page).read_text(), page
    data = json.loads((folder / "report.json").read_text())
    assert data["shown"] == ["plays sound on both sides (by hand, by SM)"]
    assert "by hand, by SM" in data["repairs"][0]["shown_by"][0]
    assert "nothing by an instrument" in data["grade"]["reason"]


def test_no_fails_the_function_and_the_unit(tmp_path):
    """A function that does not work is a failure, not a screw that is loose."""
    bench = bench_of(tmp_path)
    with Terminal(bench, *RUN) as terminal:
        looked_over(terminal)
        terminal.until(CARD)
        terminal.type("no")
        terminal.until(INITIALS)
        terminal.type("SM")
        switched(terminal)
        assert terminal.ended() == ExitCode.FAILED


def test_a_card_nobody_answers_shows_nothing(tmp_path):
    """Silence is a hole: not ready, incomplete, and the repair stays not shown."""
    bench = bench_of(tmp_path, wait_s=1)
    with Terminal(bench, *RUN) as terminal:
        looked_over(terminal)
        terminal.until(CARD)
        switched(terminal)
        assert terminal.ended() == ExitCode.INCOMPLETE


def test_a_card_that_names_no_function_of_the_model_is_refused_before_anything(tmp_path):
    """One sentence with the nearest name; nothing is begun."""
    bench = bench_of(tmp_path, function="sond")
    with Terminal(bench, *RUN) as terminal:
        terminal.until("did you mean sound")
        assert terminal.ended() == ExitCode.USAGE
    assert not (bench / "reports").exists() or not list((bench / "reports").iterdir())


@pytest.mark.parametrize("typed", ["yes", "yes nowhere.jpg"])
def test_a_wanted_photograph_is_asked_for_until_it_comes(tmp_path, typed):
    """A card that wants a photograph takes no answer without one."""
    bench = bench_of(tmp_path, photograph="true")
    with Terminal(bench, *RUN) as terminal:
        looked_over(terminal)
        terminal.until(CARD)
        terminal.type(typed)
        terminal.until("photograph", "cannot be read")
        terminal.until(CARD)
        terminal.ctrl_c()
        switched(terminal)
        assert terminal.ended() == ExitCode.STOPPED
    answers = open_evidence(folder_of(bench)).marks("answer")
    assert [mark.detail["answer"] for mark in answers if mark.check == "by_hand"] == []


def test_an_answer_whose_photograph_was_swapped_shows_nothing_any_more(tmp_path):
    """The card wants a photograph: with another one in its place nothing stands on the answer."""
    bench = bench_of(tmp_path, photograph="true")
    for name, light in (("back", 200), ("other", 90)):
        cv2.imwrite(str(tmp_path / f"{name}.png"), np.full((40, 60, 3), light, np.uint8))
    with Terminal(bench, *RUN) as terminal:
        looked_over(terminal)
        terminal.until(CARD)
        terminal.type(f"yes {tmp_path / 'back.png'}")
        terminal.until(INITIALS)
        terminal.type("SM")
        switched(terminal)
        assert terminal.ended() == ExitCode.DONE
    [kept] = (folder_of(bench) / "kept").iterdir()
    kept.write_bytes(prepared((tmp_path / "other.png").read_bytes()))
    with Terminal(bench, "judge", folder_of(bench).name) as terminal:
        terminal.until("is not what was recorded any more")
        assert terminal.ended() == ExitCode.INCOMPLETE


def test_a_card_is_answered_from_another_terminal_with_initials_only(tmp_path):
    """Nobody sits at the soak's own terminal: `soak answer` wants to know who judged."""
    bench = bench_of(tmp_path)
    with Relay(tmp_path / "relay") as relay:
        wired = f'name = "bare"\n{RELAY.format(relay=relay.link)}'
        (bench / "fixtures" / "bare.toml").write_text(wired)
        with started(bench, *RUN) as soak:
            asking = (line for line in soak.stderr or () if "soak answer" in line)
            for number, line in enumerate(asking):
                question = line.partition("soak answer K1-")[2].partition("'")[2].partition("'")[0]
                given = "no" if "damage" in question else "yes"
                words = ["answer", folder_of(bench).name, question, given]
                if number == 3:
                    assert "--by INITIALS" in line
                    assert "say who with --by" in said(bench, words, ExitCode.USAGE)
                    words += ["--by", "SM"]
                said(bench, words, ExitCode.DONE)
        assert soak.returncode == ExitCode.DONE
    evidence = open_evidence(folder_of(bench))
    assert evidence.marks("answer")[-1].detail["initials"] == "SM"


def said(bench: Path, words: Sequence[str], code: ExitCode) -> str:
    """Run `soak` to its end, which is this one; return what it says of its mistakes."""
    with started(bench, *words) as process:
        _, told = process.communicate()
    assert process.returncode == code, told
    return told


EVERY = """\
name = "every"
not_after = "10 min"
[[stretch]]
name = "by hand"
attended = true
[stretch.by_hand]
every_function = true
"""


def test_hands_alone_try_every_function_of_the_model(tmp_path):
    """Nobody wrote a card: each is asked about in usual words, and what was tried is shown."""
    bench = bench_of(tmp_path)
    more = '[functions.buttons]\ntext = "obeys its buttons"\nkey = true\n'
    sheet = bench / "fixtures" / "models" / "clip-player.toml"
    sheet.write_text(SHEET + more)
    (bench / "scripts" / "every.toml").write_text(EVERY)
    with Terminal(bench, "run", "every", "--unit", "K1@bare", "--as-it-is") as terminal:
        switched(terminal)
        for number, function in enumerate(("plays sound on both sides", "obeys its buttons")):
            terminal.until(f"Try it as its buyer would: {function}. Does it work?")
            terminal.type("yes")
            if not number:
                terminal.until(INITIALS)
                terminal.type("SM")
        switched(terminal)
        assert terminal.ended() == ExitCode.DONE
    with Terminal(bench, "report", folder_of(bench).name) as terminal:
        assert terminal.ended() == ExitCode.DONE
    data = json.loads((folder_of(bench) / "report.json").read_text())
    assert sorted(data["shown"]) == [
        "obeys its buttons (by hand, by SM)",
        "plays sound on both sides (by hand, by SM)",
    ]
