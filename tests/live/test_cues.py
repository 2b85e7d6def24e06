"""Cues for hands on a plug: what is written, rung and spoken, and when."""

from io import StringIO

from soak.live.cues import Cues
from soak.live.window import Window
from soak.records import Mark, State

LOST = {"capture": frozenset({"black", "no signal"}), "link": frozenset({"gone"})}
LEFT = {"port": "video", "movement": "left", "repeat": 1, "cue": "lean it left", "lasts_s": 10.0}


class Screen(StringIO):
    """A terminal that somebody sits at."""

    def isatty(self) -> bool:
        return True


def cued(out: StringIO) -> tuple[Cues, list[str]]:
    spoken: list[str] = []
    cues = Cues(LOST, Window(out), spoken.append)
    cues.watch(Mark(10.0, "movement begins", "wiggle", "wiggle", LEFT))
    return cues, spoken


def test_a_movement_is_written_large_rung_once_and_spoken():
    """Eyes are on the plug: a bell and a voice reach the operator."""
    out = Screen()
    _, spoken = cued(out)
    assert "L E F T" in out.getvalue()
    assert out.getvalue().count("\a") == 1
    assert spoken == ["lean it left"]


def test_a_loss_is_told_at_once_and_names_the_movement():
    """Three bells while the hand is still where it opens; once for one loss, however it looks."""
    out = Screen()
    cues, spoken = cued(out)
    cues.watch(State(12.0, "capture", "black", 0.0, {}))
    cues.watch(State(12.2, "capture", "no signal", 0.0, {}))
    assert out.getvalue().count("LOST at left: capture black") == 1
    assert out.getvalue().count("\a") == 1 + 3
    assert spoken[-1] == "lost"
    cues.watch(State(12.5, "capture", "picture", 0.0, {}))
    assert "capture back after 0.50 s" in out.getvalue()


def test_outside_a_wiggle_nothing_is_said():
    """A loss in the night wakes nobody through the bell."""
    out = Screen()
    Cues(LOST, Window(out)).watch(State(12.0, "capture", "no signal", 0.0, {}))
    assert out.getvalue() == ""


def test_no_bell_goes_into_a_pipe():
    """A log file holds text."""
    out = StringIO()
    cued(out)
    assert "\a" not in out.getvalue()
