"""Whatever is asked, is said in the reader's language: no word of a question is a plain text."""

import pytest
import trio
from marked_language import marked, plain_words
from short_soak import soak

from soak.reader import spoken
from soak.roles import Question

SWITCH = '[switch]\ndriver = "simulated"\n'
CAPTURE = '[capture]\ndriver = "simulated"\nport = "video"\n'
LINK = '[link]\ndriver = "simulated"\nport = "usb1"\n'
SUPPLY = '[probe.supply]\ndriver = "simulated"\nunit = "A"\naccuracy = 0.02\nevery_s = 1.0\n'
HEATSINK = '[probe.heatsink]\ndriver = "simulated"\nspot = "heatsink"\naccuracy = 1.0\n'
IDLE = {"running_s": 60, "idle_s": 60, "standby_s": 0, "settles_s": 10}
WIGGLE = {"port": "video", "rest_s": 20, "repeats": 1}
STARTS = {"warm": 1, "cold": 1, "by_eye": True, "off_s": 10, "on_s": 40, "cold_on_s": 40}
NAMES = ("video output", "video", "usb1", "XX", "ambient", "Type-C")


@pytest.mark.parametrize(
    ("fixture", "checks", "lasts"),
    [
        pytest.param(SWITCH + CAPTURE, {"look": {}}, "", id="look-over"),
        pytest.param(SWITCH + CAPTURE + SUPPLY, {"current_draw": IDLE}, "", id="left alone"),
        pytest.param(
            SWITCH + LINK,
            {"reseat": {"times": 1, "new_plug_times": 1, "type_c": True}},
            "",
            id="reseat",
        ),
        pytest.param(
            SWITCH + CAPTURE,
            {"wiggle": WIGGLE},
            "",
            id="wiggle",
        ),
        pytest.param(
            SWITCH,
            {
                "attended": True,
                "wiggle": {**WIGGLE, "by_eye": True},
            },
            "",
            id="wiggle by eye",
        ),
        pytest.param(SWITCH, {"attended": True, "power_cycles": STARTS}, "", id="starts by eye"),
        pytest.param(
            SWITCH, {"attended": True, "picture": {"by_eye": True}}, "30 min", id="by eye"
        ),
        pytest.param(HEATSINK, {"spots": {}}, "1 min", id="no switch"),
    ],
)
def test_no_question_of_a_soak_is_a_plain_text(tmp_path, fixture, checks, lasts):
    """Every letter of what a check asks comes out of the catalogue, but for names."""
    asked: list[Question] = []

    async def answers(unit, question):
        asked.append(question)
        await trio.sleep(1.0)
        return question.wanted or "yes"

    soak(tmp_path, fixture, checks, lasts=lasts, answer=answers)
    with marked():
        left = {one.id: plain_words(spoken(one.text), *NAMES) for one in asked}
    assert asked
    assert {name: words for name, words in left.items() if words} == {}
