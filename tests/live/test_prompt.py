"""What an operator types: understood, refused in words, and never taken for another answer."""

import io
import queue

import pytest
import trio
from marked_language import marked, plain_words, speaking, wide
from patience import LIMIT_S

from soak.live.operator import TerminalOperator
from soak.live.prompt import initials_of, taken, understood, why_not
from soak.live.window import Window
from soak.reader import spoken
from soak.roles import Question
from soak.words import Message, msg

DEGC = Question("probe.x.1", "Read the thermometer: how many degC?", "number", "degC")
YES_NO = Question("look.1", "Is it closed?", "yes/no", soak="K1-20260105-2000")


@pytest.mark.parametrize(
    ("typed", "value"),
    [("41.5", 41.5), (" 41,5 ", 41.5), ("41,5 degC", 41.5), ("41 °C", 41.0), ("-3C", -3.0)],
)
def test_a_reading_is_understood_as_people_write_it(typed, value):
    """Point or comma, with the measurement unit or without."""
    assert understood(DEGC, typed) == value


@pytest.mark.parametrize(
    "typed", ["", "warm", "4l.5", "41.5.2", "41 5", "nan", "inf", "1e3", "106 F"]
)
def test_what_is_no_reading_is_none(typed):
    """Letters, two numbers, and what Python would take for a number."""
    assert understood(DEGC, typed) is None


def test_fahrenheit_is_told_what_it_is_in_celsius():
    """(106 - 32) / 1.8 = 41.1 (NIST SP 811, B.8); it is not taken, only said."""
    assert "41.1 degC" in why_not(DEGC, "106 °F")
    assert "'warm' is not an answer" in why_not(DEGC, "warm")


class Keyboard:
    """Lines that a test types, one at a time; reading waits until there is one."""

    def __init__(self) -> None:
        self._lines: queue.Queue[str | None] = queue.Queue()

    def type(self, line: str | None) -> None:
        self._lines.put(line)

    def read(self) -> str:
        line = self._lines.get()
        if line is None:
            raise EOFError
        return line


class Screen(io.StringIO):
    """A screen before which somebody sits who types one line at each prompt."""

    def __init__(self, keyboard: Keyboard, enough: str) -> None:
        super().__init__()
        self.keyboard, self.enough = keyboard, enough
        self.lines, self.scope = list[str | None](), trio.CancelScope()

    def write(self, text: str) -> int:
        if self.enough and self.enough in text:
            self.scope.cancel()
        if text.endswith((") ", "Initials: ")) and self.lines:
            self.keyboard.type(self.lines.pop(0))
        return super().write(text)


def asked(questions, monkeypatch, enough=""):
    """Ask in turn: (question, how long it waits, what is typed at it); return answers, screen.

    A question is left, too, once `enough` is shown.
    """
    monkeypatch.setattr("sys.stdin", type("Tty", (), {"isatty": lambda self: True})())
    keyboard = Keyboard()
    screen = Screen(keyboard, enough)
    monkeypatch.setattr("builtins.input", keyboard.read)
    operator = TerminalOperator(Window(screen))

    async def main() -> list[object]:
        answers: list[object] = []
        for question, wait_s, typed in questions:
            screen.lines = list(typed)
            answer = None
            with trio.move_on_after(wait_s) as screen.scope:
                answer = await operator(question)
            answers.append(answer)
        keyboard.type(None)  # let the reading thread go
        return answers

    return trio.run(main), screen.getvalue()


def test_the_answer_to_the_next_question_is_not_swallowed_by_one_that_timed_out(monkeypatch):
    """Nobody answers the first; what is typed to the second is its answer."""
    answers, _ = asked([(DEGC, 0.05, []), (YES_NO, LIMIT_S, ["yes"])], monkeypatch)
    assert answers == [None, "yes"]


def test_a_wrong_answer_is_told_and_asked_again(monkeypatch):
    """Letters to a number, a number to yes or no."""
    answers, screen = asked(
        [(DEGC, LIMIT_S, ["hot", "41,5"]), (YES_NO, LIMIT_S, ["41", "no"])], monkeypatch
    )
    assert answers == [41.5, "no"]
    assert "'hot' is not an answer" in screen
    assert "'41' is not an answer" in screen


def test_a_terminal_that_hung_up_leaves_the_question_to_other_terminals(monkeypatch):
    """The end of input is no answer, no crash and no busy loop; how to answer is said."""
    answers, screen = asked([(YES_NO, LIMIT_S, [None])], monkeypatch, enough="soak answer")
    assert answers == [None]
    assert screen.count("soak answer K1-20260105-2000 'look.1'") == 1


JUDGED = Question("it/by hand sound", "Does sound come?", "yes/no", initials=True)


def test_initials_are_asked_for_once_and_somebody_else_can_take_over(monkeypatch):
    """A word that is none is asked for again; "by AB" before an answer makes it AB's."""
    typed = [["yes", "no", "S. M."], ["no"], ["by AB", "yes"]]
    answers, screen = asked([(JUDGED, LIMIT_S, one) for one in typed], monkeypatch)
    assert [(one.value, one.initials) for one in answers] == [
        ("yes", "S. M."),
        ("no", "S. M."),
        ("yes", "AB"),
    ]
    assert screen.count("Initials: ") == 2
    assert "judged by S. M." in screen


@pytest.mark.parametrize(
    ("typed", "answer"),
    [("ja", "yes"), ("J", "yes"), ("NEIN", "no"), ("n", "no"), ("Yes", "yes"), ("NO", "no")],
)
def test_yes_and_no_are_taken_in_every_language(typed, answer):
    """Whichever the screen speaks, in capitals too."""
    assert understood(YES_NO, typed) == answer
    done = Question("switch.1", msg("Is it on?"), "done")
    assert understood(done, typed) == {"yes": "done", "no": "no"}[answer]
    assert understood(done, "Fertig") == "done"


def test_somebody_whose_initials_mean_yes_elsewhere_can_sign():
    """JA is a name at an English bench, and none where it is a yes."""
    assert initials_of("JA") == "JA"
    with speaking("de"):
        assert initials_of("JA") == ""
        assert initials_of("JB") == "JB"


SOAK = "K1-20260105-2000"
QUESTIONS = [
    Question(
        "1",
        msg("Is it on?"),
        expects,
        unit="degC",
        photograph=photograph,
        initials=signed,
        soak=SOAK,
    )
    for expects in ("done", "yes/no", "number")
    for photograph in ("", "may", "must")
    for signed in (False, True)
]


@pytest.mark.parametrize("question", QUESTIONS)
def test_what_stands_beside_a_question_is_said_in_the_readers_language(question, monkeypatch):
    """Hints, what answers a bad answer, and how to answer elsewhere are no plain texts either."""
    with marked():
        typed = ["???", "106 F", "yes x.jpg", "5 x.jpg", None]
        _, screen = asked([(question, LIMIT_S, typed)], monkeypatch, enough=wide("soak answer"))
        bad = [taken(question, one) for one in ("yes", "5", "yes x.jpg", "5 x.jpg")]
        told = [spoken(one) for one in bad if isinstance(one, Message)]
    assert wide("Answer with") in screen
    left = plain_words(
        "\n".join([screen, *told]),
        "x.jpg",
        "No such file or directory",
        "106 F",
        "yes x",
        "yes",
        SOAK,
    )
    assert left == []
