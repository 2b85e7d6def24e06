"""Which functions the findings exercise, and what a grade makes of those that none did."""

import pytest
from made_up_soak import SHEET, clean_night, demand

from soak.judge.functions import some_of
from soak.judge.grade import judge
from soak.rules.core.verdict import Verdict

PICTURE = demand(
    "no dropout", "capture", needs=frozenset({"capture"}), shows_repair=frozenset({"video"})
)
DATA = demand(
    "no wrong data", "transfer.stick.damaged", check="transfer",
    needs=frozenset({"stick"}), shows_repair=frozenset({"usb"}),
)  # fmt: skip
VIDEO = {"text": "shows a picture", "key": True, "check": "picture"}
USB = {"text": "reads a stick", "key": True, "check": "transfer"}
SOUND = {"text": "plays sound", "key": True, "check": ""}


def night(functions, *demands, stick=True, left_out=(), **more):
    """Return a clean night of a model with these functions."""
    soak = clean_night(**more).demanding(*demands)
    fixture = {k: v for k, v in soak.header.fixture.as_json().items() if stick or k != "stick"}
    sheet = {**SHEET, "functions": functions}
    references = {"left_out": list(left_out)}
    return soak.with_header(fixture=fixture, model_sheet=sheet, references=references)


def verdicts(judgement):
    return {one.name: one.verdict for one in judgement.functions}


def test_a_key_function_whose_requirement_is_not_tested_counts_as_untested():
    """Nothing speaks against the unit, and it is not ready; the function and why are named."""
    judgement = judge([night({"video": VIDEO, "usb": USB}, PICTURE, DATA, stick=False)])
    assert judgement.grade == "not ready: incomplete"
    assert judgement.reason.startswith("The key function 'reads a stick' was not tested: ")
    assert "no stick was wired" in judgement.reason
    assert verdicts(judgement) == {"video": Verdict.MET, "usb": Verdict.NOT_TESTED}


@pytest.mark.parametrize(
    ("function", "why"),
    [
        ({**SOUND}, "no check of the model sheet exercises it"),
        ({**SOUND, "check": "link"}, "the check 'link watched' is not part of the script"),
        ({**SOUND, "check": "transfer"}, "the check 'data written and read back' runs, but not"),
        ({**SOUND, "check": "spots"}, "the check 'temperatures' finds nothing wired"),
    ],
)
def test_why_nothing_exercised_a_function_is_said(function, why):
    """So that who reads it knows whether to wire, to script, or to write into the model sheet."""
    soak = night({"video": VIDEO, "usb": USB, "sound": function}, PICTURE, DATA)
    judgement = judge([soak])
    assert judgement.because == "incomplete"
    assert why in judgement.reason


def test_a_secondary_function_untested_is_listed_and_blocks_nothing():
    """The unit is ready, and what came of each function stands in the judgement."""
    judgement = judge([night({"video": VIDEO, "sound": {**SOUND, "key": False}}, PICTURE)])
    assert judgement.grade == "ready"
    assert verdicts(judgement)["sound"] is Verdict.NOT_TESTED


def test_a_left_out_function_makes_it_ready_as_far_as_tested():
    """The grade, how far it goes, and what was left out."""
    judgement = judge([night({"video": VIDEO, "sound": SOUND}, PICTURE, left_out=["sound"])])
    assert (judgement.ready, judgement.grade) == (True, "ready, as far as tested")
    assert judgement.as_far_as == "as far as tested: shows a picture"
    assert "leaves out 1 key function, which was not tested: plays sound." in judgement.reason


def test_a_left_out_function_that_was_tested_needs_no_word():
    """The claim was narrower than the evidence: nothing is qualified."""
    soak = night({"video": VIDEO, "usb": USB}, PICTURE, DATA, left_out=["usb"])
    assert judge([soak]).grade == "ready"


def test_a_left_out_function_that_failed_still_fails_the_unit():
    """Leaving it out is no way around what was seen."""
    soak = night({"video": VIDEO, "usb": USB}, PICTURE, DATA, left_out=["video"])
    soak.spell("capture", 3600.0, 3605.0, "no signal")
    assert judge([soak]).because == "failed"


def test_a_model_sheet_without_key_functions_claims_no_more_than_was_tested():
    """Nobody said what the unit is for, so the grade says what was looked at."""
    judgement = judge([night({"video": {**VIDEO, "key": False}}, PICTURE)])
    assert judgement.grade == "ready, as far as tested"
    assert "marks no function as key" in judgement.reason


def test_more_against_a_unit_never_narrows_into_ready():
    """Not shown is not untested: a hole in the evidence of a left-out function stays a hole."""
    soak = night({"video": VIDEO, "usb": USB}, PICTURE, DATA, left_out=["video"])
    soak.spell("capture", 3600.0, 9000.0, "blind")
    assert judge([soak]).because == "incomplete"


def test_a_list_of_functions_says_how_many_more():
    """A headline names three."""
    assert some_of(["a", "b", "c"]) == "a, b and c"
    assert some_of(["a", "b", "c", "d", "e"]) == "a, b, c and 2 more"
