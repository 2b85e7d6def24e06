"""What a person judges: initials, photograph and power make an answer evidence."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from every_demand import header_of_all
from headers import header_with
from made_up_soak import MadeUpSoak

from soak.judge.grade import judge
from soak.judge.judging import judge_requirement
from soak.records import Seal, Session
from soak.rules.core.verdict import Finding, Verdict

_ALL = header_of_all()
HEADER = header_with(
    _ALL, model_sheet={**_ALL.model_sheet.model_dump(mode="json"), "holds_data": False}
)
(NEED,) = [one for one in HEADER.requirements if one.rule == "judged by hand"]
PICTURED = replace(NEED, params={**NEED.params, "photograph": True})
GOOD = {"answer": "yes", "by": "operator", "initials": "SM"}
LOOKED = [one for one in HEADER.requirements if one.rule == "answered"]


def soak(*answers: Mapping[str, Any], soak_id: str = "S1", needs: Any = (NEED,)) -> MadeUpSoak:
    """Return a soak with power from 10 s on, and answers to the card from 20 s on."""
    header = replace(HEADER, soak_id=soak_id, requirements=tuple(needs))
    made = MadeUpSoak(header, ends_s=600.0, seal=Seal(600.0, "complete"))
    day = f"2026-01-0{soak_id[1:]}T21:00:00Z"
    made.session_list.append(Session(1, "0", "b", day, 0.0, 0.0, "first start"))
    made.pieces["by_hand"] = [(0.0, 600.0)]
    made.mark(10.0, "power", on=True, channel="1", why="")
    for number, answer in enumerate(answers, 2):
        made.mark(number * 10.0, "answer", "by_hand", "by_hand", id=NEED.quantity, **answer)
    return made


def found(*soaks: MadeUpSoak) -> Finding:
    return judge_requirement(NEED, soaks)


def test_an_initialled_answer_as_wanted_is_met_by_hand():
    """The finding says whose hand it was."""
    finding = found(soak(GOOD))
    assert finding.verdict is Verdict.MET
    assert str(finding.judged_by) == "by hand, by SM"
    assert str(finding.because) == "Judged by hand, by SM: yes; yes is wanted."


@pytest.mark.parametrize(
    ("answer", "why"),
    [
        ({"answer": None, "by": "nobody"}, "nobody answered"),
        ({"answer": "done", "by": "x", "initials": "SM"}, "nobody answered"),
        ({"answer": "yes", "by": "operator"}, "nobody put initials to the answer"),
    ],
)
def test_silence_and_an_answer_without_initials_show_nothing(answer, why):
    """Nobody's answer is no answer."""
    finding = found(soak(answer))
    assert (finding.verdict, str(finding.why)) == (Verdict.NOT_SHOWN, why)


def test_an_answer_without_the_wanted_photograph_shows_nothing():
    """With it, it does."""
    finding = judge_requirement(PICTURED, [soak(GOOD)])
    assert (finding.verdict, str(finding.why)) == (
        Verdict.NOT_SHOWN,
        "no photograph came with the answer",
    )
    made = soak({**GOOD, "photograph": "x.jpg"})
    made.files["x.jpg"] = b"a picture"
    assert judge_requirement(PICTURED, [made]).verdict == "met"


@pytest.mark.parametrize("files", [{}, {"y.jpg": b"a picture"}, {"x.jpg": b""}])
def test_an_answer_whose_photograph_is_gone_shows_nothing(files):
    """It is named and not kept, or kept and no longer what was recorded."""
    made = soak({**GOOD, "photograph": "x.jpg"})
    made.files.update(files)
    finding = judge_requirement(PICTURED, [made])
    assert finding.verdict is Verdict.NOT_SHOWN
    assert "is not what was recorded any more" in str(finding.why)


def test_an_answer_while_the_power_was_off_shows_nothing():
    """The guard may have cut it meanwhile."""
    made = soak(GOOD)
    made.mark(15.0, "power", on=False, channel="1", why="")
    assert str(found(made).why) == "the unit had no power when it was answered"


@pytest.mark.parametrize("initials", [{"initials": "SM"}, {}])
def test_an_answer_against_the_unit_counts_always(initials):
    """Also without initials, and beside a good one in another soak."""
    bad = {"answer": "no", "by": "operator", **initials}
    assert found(soak(bad)).verdict is Verdict.NOT_MET
    assert found(soak(bad), soak(GOOD, soak_id="S2")).verdict is Verdict.NOT_MET


def test_a_function_that_failed_by_hand_keeps_the_job_failed():
    """It is no screw to be tightened: asking again in another soak does not undo it."""
    bad = {"answer": "no", "by": "operator", "initials": "SM"}
    other = replace(NEED, id="other", quantity="other")
    later = soak(soak_id="S2", needs=(other,))
    later.mark(30.0, "answer", "by_hand", "by_hand", **{**GOOD, "id": "other"})
    judgement = judge([soak(bad), later])
    assert judgement.because == "failed"


def test_cards_alone_make_a_unit_ready_and_the_reason_says_that_nothing_was_measured():
    """A bench without instruments is not shut out, and no reader is left in doubt."""
    made = soak(GOOD)
    sheet = made.header.model_sheet.model_dump(mode="json")
    for name, one in sheet["functions"].items():
        one["key"] = name == "sound"
    judgement = judge([made.with_header(model_sheet=sheet)])
    assert judgement.ready
    assert str(judgement.reason) == (
        "The 1 requirement that could be tested is met. All of it was judged by hand, by SM, and "
        "nothing by an instrument."
    )


def test_the_look_over_alone_shows_nothing():
    """Its questions are asked of every unit, and none is about what the unit does."""
    made = soak(needs=LOOKED)
    for need in LOOKED:
        answer = need.params["wanted"]
        made.mark(5.0, "answer", "look", "look", id=need.quantity, answer=answer, by="operator")
    made.pieces["look"] = [(0.0, 600.0)]
    judgement = judge([made])
    assert judgement.because == "incomplete"
    assert "Nothing could be tested" in str(judgement.reason)
