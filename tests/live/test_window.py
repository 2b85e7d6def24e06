"""The foot of a screen, the keys before it, and a question that nobody answers."""

import io

import pyte
import pytest
import trio
from hypothesis import given
from hypothesis import strategies as st
from trio.testing import MockClock

from soak.live.foot import Foot, Size, cut, filled, narrow, tail, width
from soak.live.keys import LineInHand
from soak.live.operator import TerminalOperator
from soak.live.window import Window
from soak.roles import Question
from soak.words import msg

SIGNS = st.text("ab ·°C漢é", max_size=30).map(str.strip)
ROWS = st.lists(SIGNS, min_size=1, max_size=4)
LINES = st.lists(st.text("ab.", max_size=30), max_size=3)
STEPS = st.lists(st.tuples(LINES, ROWS, st.sampled_from([(40, 12), (61, 9)])), max_size=8)


def standing(screen: pyte.Screen) -> list[str]:
    """Return the rows of a screen; a wide sign's second column holds nothing."""
    return [row.rstrip() for row in screen.display]


@given(STEPS)
def test_whatever_is_said_the_foot_stands_once_below_all_that_stays(steps):
    """Lines, rows, sizes in any order: what is shown is the last lines, the rows, the cursor."""
    foot = Foot()
    screen = pyte.Screen(40, 12)
    stream = pyte.Stream(screen)
    kept = list[str]()
    for lines, rows, (columns, height) in steps:
        screen.resize(height, columns)
        fit = [cut(row, columns) for row in rows]
        kept += lines
        stream.feed(foot.painted(lines, fit, Size(columns, height)).replace("\n", "\r\n"))
        shown = standing(screen)
        at = screen.cursor.y + 1
        assert shown[at - len(fit) : at] == fit
        assert not any(shown[at:])
        above = shown[: at - len(fit)]
        assert above == kept[len(kept) - len(above) :]
        assert screen.cursor.x == width(fit[-1])


def test_only_what_changed_is_written():
    """Over a slow line: of a foot of eighty columns, the row that changed and the last."""
    foot = Foot()
    rows = ["-" * 79, "K1  59 min left", "K2  59 min left", "> "]
    foot.painted([], rows, Size(80, 24))
    assert foot.painted([], rows, Size(80, 24)) == ""
    changed = foot.painted([], [*rows[:2], "K2  58 min left", "> "], Size(80, 24))
    assert changed == "\r\x1b[3A\n\nK2  58 min left\x1b[K\n> \x1b[K"


@given(st.lists(SIGNS.filter(bool), min_size=1, max_size=9), st.integers(12, 90), st.integers(1, 4))
def test_no_row_is_wider_than_the_screen(parts, columns, most):
    """Whatever a unit is called and whatever is said of it, also in wide signs."""
    rows = filled(parts, columns, most, "    ")
    assert len(rows) <= most
    text = " ".join(parts) * 3
    for row in [*rows, *narrow(text, columns), cut(text, columns), tail(text, columns)]:
        assert width(row) < columns


@pytest.mark.parametrize(
    ("keys", "lines", "rest"),
    [
        (["yes\n"], ["yes"], ""),
        (["yee\x7fs\r"], ["yes"], ""),
        (["no way\x17", "\x15", "41,5"], [], "41,5"),
        (["note one two\x17", "three\n"], ["note one three"], ""),
        (["a\x1b[D\x1b[1;5C\x1bOAb", "\x1b[", "3~c\n"], ["abc"], ""),
        (["über 漢\x08\n", "\x00\x01\tx\n"], ["über ", "x"], ""),
        (["41.5 '/home/me/spot one.jpg'\n"], ["41.5 '/home/me/spot one.jpg'"], ""),
    ],
)
def test_a_line_is_edited_as_terminals_do(keys, lines, rest):
    """Rub out, a word, all of it; arrows and other keys put nothing into an answer."""
    hand = LineInHand()
    assert [line for part in keys for line in hand.take(part)] == lines
    assert hand.text == rest


class Terminal(io.StringIO):
    """A terminal that keeps what it was sent, and when the bell rang."""

    def __init__(self) -> None:
        super().__init__()
        self.rang_s: list[float] = []

    def isatty(self) -> bool:
        return True

    def write(self, text: str) -> int:
        self.rang_s += [round(trio.current_time())] * text.count("\a")
        return super().write(text)


@pytest.mark.parametrize("kind", ["xterm", "dumb"])
def test_a_question_that_nobody_answers_stays_and_is_repeated_more_and_more_seldom(
    kind, monkeypatch
):
    """Rung at once, after 1, 3, 7, 15 minutes; where no foot shows it, it is said again as well."""
    monkeypatch.setenv("TERM", kind)
    monkeypatch.setattr("sys.stdin", type("Tty", (), {"isatty": lambda self: True})())
    out = Terminal()
    window = Window(out)
    monkeypatch.setattr(window, "typed", Silent())
    asked = Question("1", msg("Is it closed?"), "yes/no", wait_s=1000.0, whose=msg("K1, serial 7"))

    async def main() -> None:
        with trio.move_on_after(asked.wait_s):
            await TerminalOperator(window)(asked)

    trio.run(main, clock=MockClock(autojump_threshold=0))
    assert out.rang_s == [0, 60, 180, 420, 900]
    text = out.getvalue()
    assert "K1, serial 7" in text
    if kind == "dumb":
        assert text.count("Is it closed? (yes or no)") == 5
        assert "K1, serial 7, QUESTION, 100 s to answer: asked again: Is it closed?" in text


class Silent:
    """Keys that nobody presses."""

    def forget(self) -> None:
        """Nothing was typed."""

    async def next(self) -> str | None:
        await trio.sleep_forever()
        return None
