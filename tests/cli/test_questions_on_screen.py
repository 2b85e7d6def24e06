"""The window of soaks that run: the units and the question apart, on screens wide and narrow."""

import getpass
import re

import pytest
from guarded_bench import GuardedBench
from screen_bench import ASKS, ScreenTerminal
from typed_bench import typed

from soak.errors import ExitCode
from soak.journal import open_evidence

ONE = ("run", "asks", "--unit", "K1@f1", "--may-sleep", "--as-it-is")
TWO = (*ONE, "--unit", "K2@f2")
LEFT = re.compile(r"(\d+ min(?: \d+ s)?) left")
COLOUR = re.compile(rb"\x1b\[[0-9;]*m")
SCREWS, CRACKS, LABEL = "every screw back in?", "cracks, burns", "match the serial"


@pytest.fixture
def bench(tmp_path):
    with GuardedBench(tmp_path / "bench") as made:
        (made.folder / "scripts" / "asks.toml").write_text(ASKS)
        yield made


def answers(bench: GuardedBench) -> list[tuple[object, str]]:
    """Return what is on record as answered, and by whom."""
    marks = open_evidence(bench.soak_folder()).marks("answer")
    return [(mark.detail["answer"], mark.detail["by"]) for mark in marks]


def left_over(screen: ScreenTerminal) -> None:
    """Wait until what stands on the screen was written over with a later time."""
    first = LEFT.findall(screen.words)
    screen.until(lambda: LEFT.findall(screen.words)[:1] not in ([], first[:1]))


def apart(screen: ScreenTerminal) -> None:
    """Look for a foot that is whole and stands there once."""
    assert sum(set(row) == {"-"} for row in screen.rows) == 1, screen.text
    assert screen.words.count("QUESTION") == 1, screen.text
    assert sum(row.startswith(">") for row in screen.rows) == 1, screen.text
    foot = screen.words.rpartition("---")[2]
    for words in ("K1 look-over", "K2 look-over"):
        assert foot.count(words) == 1, screen.text
    assert foot.count("nothing against it so far") == 2, screen.text
    assert foot.count("heatsink 40.0 °C") == 2, screen.text


@pytest.mark.parametrize("columns", [40, 60, 120])
def test_a_question_and_the_units_stand_apart_on_every_screen(bench, columns):
    """Two units ask: one at a time, named, rung, with the time left; half an answer stays there."""
    environment = {"NO_COLOR": "1"} if columns == 60 else {}
    with ScreenTerminal(bench.folder, *TWO, columns=columns, environment=environment) as screen:
        screen.until("1 more question waits")
        screen.until(lambda: screen.words.count("heatsink 40.0 °C") == 2)
        whose = re.search(r"(K\d), serial SN-\d · QUESTION, \d+ min to answer", screen.words)
        assert whose is not None, screen.text
        assert screen.came.count(b"\a") == 1
        screen.type("yee\x7f")
        screen.until("> ye")
        left_over(screen)
        apart(screen)
        assert f"{SCREWS} (yes or no)" in screen.words
        screen.resize(50)
        screen.until(lambda: screen.words.endswith("(yes or no) > ye"))
        left_over(screen)
        apart(screen)
        screen.type("s\n")
        screen.until(f"{SCREWS} yes (operator)")
        screen.until(lambda: screen.came.count(b"\a") == 2)
        screen.type("\x03")
        assert screen.ended() == ExitCode.STOPPED
        assert screen.words.count("QUESTION") == 0, screen.text
        assert screen.echoes()
    assert not COLOUR.search(screen.came)


def test_a_window_that_was_halted_holds_up_no_soak(bench):
    """Somebody pressed Ctrl-S: readings go on record, and the guard is told that all is well."""
    with ScreenTerminal(bench.folder, *ONE) as screen:
        screen.until("(yes or no)")
        screen.type("\x13")
        folder = bench.soak_folder()
        for _ in range(2):  # written at once, and again after what was yet to be written
            before = len(open_evidence(folder).series("probe.heatsink")[0])
            bench.until(
                lambda so_far=before: (
                    len(open_evidence(folder).series("probe.heatsink")[0]) > so_far + 15
                )
            )
        screen.type("\x11")
        screen.type("\x03")
        assert screen.ended() == ExitCode.STOPPED


def test_what_is_no_screen_gets_whole_lines_and_the_questions_name_the_unit(bench):
    """Into a file: no sign moves a cursor, each line is whole, and how to answer is said."""
    bench.run(verb=TWO)
    bench.until(lambda: bench.said().count("Answer with: ") == 2)
    for tag, serial in (("K1", "SN-1"), ("K2", "SN-2")):
        assert f"{tag}, serial {serial}, QUESTION, 50 min to answer: Is the unit" in bench.said()
    assert not {"\x1b", "\r", "\a"} & set(bench.said())
    assert bench.said().endswith("\n")


def test_a_terminal_that_cannot_be_written_over_gets_whole_lines_too(bench):
    """TERM=dumb: nothing moves a cursor; what is typed is an answer, or a note."""
    with ScreenTerminal(bench.folder, *ONE, environment={"TERM": "dumb"}) as screen:
        screen.until("K1, serial SN-1, QUESTION, 50 min to answer: Is the unit")
        screen.until("(yes or no)")
        screen.type("note the lamp was moved\n")
        screen.until("K1: noted")
        screen.type("yes\n")
        screen.until(CRACKS)
        assert b"\x1b" not in screen.came
        screen.type("stop\n")
        assert screen.ended() == ExitCode.STOPPED
    notes = open_evidence(bench.soak_folder()).marks("note")
    assert [mark.detail["text"] for mark in notes] == ["the lamp was moved"]


def test_two_who_joined_see_answer_note_and_stop(bench):
    """One comes once a question was answered, both see whose answer counts, one window closes."""
    with ScreenTerminal(bench.folder, *ONE) as screen:
        screen.until(SCREWS)
        screen.type("yes\n")
        screen.until(CRACKS)
        with (
            ScreenTerminal(bench.folder, "join", "last") as other,
            ScreenTerminal(bench.folder, "join", "last", columns=60) as third,
        ):
            for joined in (other, third):
                joined.until(f"{SCREWS} yes (operator)")
                joined.until("K1, serial SN-1 · QUESTION, ")
                joined.until(CRACKS)
                joined.until("heatsink 40.0 °C")
                assert LEFT.search(joined.words), joined.text
            other.type("no\n")
            screen.until(LABEL)
            joins = getpass.getuser()
            for window in (screen, other, third):
                window.until(f"damaged cord? no ({joins})")
                window.until(LABEL)
            said = typed("--bench", str(bench.folder), "answer", "last", "look-over/damage", "yes")
            assert said.code == ExitCode.USAGE
            assert f"was answered already: no ({joins})" in said.sentence
            other.hang_up()
            screen.type("yes\n")
            third.type("no\n")  # at the same moment: the first that comes counts
            third.until(lambda: len(answers(bench)) == 3)
            answer, by = answers(bench)[2]
            for window in (screen, third):
                window.until(f"serial number shown above? {answer} ({by})")
            if answer == "yes":
                third.type("note I leaned on the bench\n")
                third.until("K1: noted")
                third.type("stop wrong cable\n")
            third.until("it has ended: stopped")
            assert third.ended() == ExitCode.DONE
        assert screen.ended() == ExitCode.STOPPED
