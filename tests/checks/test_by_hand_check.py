"""By hand: cards that name functions, asked in order, with initials."""

import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from headers import placed
from scripted_bench import measured

from soak.checks.base import Done, asks_person
from soak.checks.by_hand import ByHand, ByHandSettings
from soak.checks.look import LookSettings
from soak.errors import ScriptError

SOUND = {"function": "sound", "question": "Does sound come on both sides?"}
TRAY = {"function": "tray", "question": "Does the tray jam?", "wanted": "no", "photograph": True}
SHEET = {
    "model": "clip player",
    "functions": {
        "sound": {"text": "plays sound", "check": "by_hand"},
        "tray": {"text": "takes a disc", "check": ""},
    },
}


def check(*, attended: bool = True, **cards: dict[str, Any]) -> ByHand:
    place = placed("hands", {}, SHEET, attended=attended)
    return ByHand(ByHandSettings.model_validate({"cards": cards, "wait_s": 30}), place)


def test_each_card_is_asked_in_order_with_initials_and_its_photograph():
    """Also after one that was answered otherwise than wanted: the rest is evidence, too."""
    bench = measured(check(sound=SOUND, tray=TRAY), answers={"hands/by hand sound": "no"})
    sound, tray = bench.asked
    assert (sound.text, sound.wanted, sound.wait_s) == (SOUND["question"], "yes", 30)
    assert (sound.initials, sound.photograph) == (True, "")
    assert (tray.wanted, tray.photograph) == ("no", "must")


def test_what_was_answered_before_a_crash_is_not_asked_again():
    """A resumed stretch goes on with the second card."""
    (question,) = measured(check(sound=SOUND, tray=TRAY), done=Done(count=1)).asked
    assert question.id == "hands/by hand tray"


def test_a_card_demands_its_function_and_shows_its_repair():
    """Whatever check the model sheet names for it, or none."""
    sound, tray = check(sound=SOUND, tray=TRAY).requirements()
    assert sound.shows_repair == {"sound"}
    assert sound.text == "Plays sound: Does sound come on both sides? (yes)"
    assert tray.text == "Takes a disc: Does the tray jam? (no)"
    assert tray.params["photograph"] is True


def test_a_function_that_the_model_has_not_is_refused_with_the_nearest():
    """Before anything starts."""
    with pytest.raises(ScriptError, match=r"no function 'sond'.*did you mean sound"):
        check(sound={**SOUND, "function": "sond"}).requirements()


def test_a_stretch_that_runs_alone_asks_nobody():
    """A card needs somebody who is there."""
    with pytest.raises(ScriptError, match="attended = true"):
        check(attended=False, sound=SOUND).requirements()


def test_it_is_judged_with_the_power_on():
    """It reads no instrument, and its stretch has power all the same."""
    assert asks_person(check(sound=SOUND))


def test_no_card_is_no_check():
    """A check that asks nothing is a mistake in the script."""
    with pytest.raises(ValueError, match="asks nothing; add a card, or every_function = true"):
        ByHandSettings(cards={})


def test_every_function_is_asked_of_once():
    """Those that no card names come after the cards, in the order of the model sheet."""
    asked = ByHandSettings.model_validate({"cards": {"loud": SOUND}, "every_function": True})
    cards = asked.asked_of(["tray", "sound", "fan"])
    assert [(name, card.function) for name, card in cards.items()] == [
        ("loud", "sound"),
        ("tray", "tray"),
        ("fan", "fan"),
    ]


def test_the_look_over_says_where_a_function_is_asked_for():
    """It comes before power, where no function can be judged."""
    with pytest.raises(ValueError, match=r"write it as \[stretch.by_hand.cards.sound\]"):
        LookSettings.model_validate({"cards": {"sound": SOUND}})
