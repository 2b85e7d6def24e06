"""The look-over: cards in order, a wrong answer ends it, and so does silence."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from headers import placed
from scripted_bench import measured

from soak.checks.base import Done
from soak.checks.look import Look, LookSettings

AS_WANTED = {"first/closed": "yes", "first/damage": "no", "first/label": "yes"}


def check(**settings):
    return Look(LookSettings(**settings), placed("first", {}, {}))


def asked(answers, done=None, **settings):
    bench = measured(check(**settings), answers=answers, done=done)
    return [question.id for question in bench.asked]


def test_every_card_is_asked_in_order():
    """Closed, damage, label: all three when each is answered as wanted."""
    assert asked(AS_WANTED) == ["first/closed", "first/damage", "first/label"]


@pytest.mark.parametrize(
    ("wrong", "number"), [({"first/closed": "no"}, 1), ({"first/damage": "yes"}, 2)]
)
def test_a_wrong_answer_ends_the_asking(wrong, number):
    """After an answer that rules the unit out no further card is put."""
    assert len(asked({**AS_WANTED, **wrong})) == number


def test_silence_ends_the_look_over():
    """Nobody's answer is none that a unit may get power by."""
    assert len(asked({"first/closed": "yes"})) == 2


def test_what_was_answered_before_a_crash_is_not_asked_again():
    """A resumed look-over goes on with the third card."""
    assert asked(AS_WANTED, done=Done(count=2)) == ["first/label"]


def test_own_cards_take_the_place_of_the_usual_ones():
    """A script's own card is asked with its wanted answer, and becomes a demand."""
    card = {"text": "Does the fan turn freely by hand?", "wanted": "yes"}
    own = check(cards={"fan": card}, wait_s=60)
    bench = measured(own, answers={"first/fan": "yes"})
    [question] = bench.asked
    assert (question.text, question.wanted, question.wait_s) == (card["text"], "yes", 60)
    [demand] = own.requirements()
    assert (demand.quantity, demand.params["wanted"]) == ("first/fan", "yes")


def test_a_wanted_answer_is_yes_or_no():
    """A card that wants `maybe` is refused."""
    with pytest.raises(ValueError, match="wanted"):
        check(cards={"x": {"text": "x?", "wanted": "maybe"}})
