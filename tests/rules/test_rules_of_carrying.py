"""The rules on data carried by hand and on a stick that is stood in: met, not met, not shown."""

from dataclasses import replace

import numpy as np
import pytest
from headers import header_with
from made_up_soak import FIXTURE, HOT_S, STARTS_S, MadeUpSoak, clean_night, demand

from soak.judge.explain.timeline import events
from soak.judge.grade import judge
from soak.judge.judging import judge_requirement
from soak.records import Seal, Session, State
from soak.rules.core.verdict import Verdict

CARRIED = demand(
    "carried whole",
    "carried.damaged",
    stretch="carry",
    check="carried",
    unit="B",
    needs=frozenset({"stick"}),
    shows_repair=frozenset({"usb2"}),
    params={"port": "usb2", "path": "carried", "files": 3},
)


def carry(*came: str, soak_id: str = "C1", utc: str = "2026-01-06T09:00:00Z", **more: object):
    """Return the record of a carry whose files came so: whole, changed, in place, missing."""
    night = clean_night(soak_id)
    script = {
        "name": "carry",
        "beside": True,
        "stretches": [{"name": "carry", "lasts_s": 0.0, "checks": {"carried": {}}}],
    }
    fixture = {"name": "by hand", "stick": {"driver": "carried", "path": "carried", "port": "usb2"}}
    header = header_with(
        night.header, script=script, fixture=fixture, requirements=(CARRIED,), quantities=()
    )
    soak = MadeUpSoak(header, seal=Seal(3.0, "complete"), ends_s=3.0)
    soak.session_list.append(Session(1, "0", "boot", utc, 0.0, 0.0, "first start"))
    soak.mark(0.0, "stretch begins", "carry")
    soak.pieces["carry"] = [(0.0, 2.0)]
    for number, what in enumerate(came):
        copies = []
        if what in ("whole", "changed"):
            damaged = 512 if what == "changed" else 0
            kinds = {"zeros": 1} if damaged else {}
            copies = [{"original": False, "damaged_bytes": damaged, "kinds": kinds}]
        detail = {"file": number, "name": f"F{number}", "length_bytes": 1000, "came": what}
        soak.mark(
            1.0,
            "carried",
            "carry",
            "carried",
            copies=copies,
            **{"original_whole": True, **detail, **more},
        )
    soak.mark(2.0, "stretch ends", "carry", because="done")
    return soak


def verdict(*soaks) -> Verdict:
    """Judge the demand over these carries."""
    return judge_requirement(CARRIED, list(soaks)).verdict


@pytest.mark.parametrize(
    ("came", "wanted"),
    [
        (["whole"] * 3, Verdict.MET),
        (["whole", "changed", "whole"], Verdict.NOT_MET),
        (["whole", "missing", "changed"], Verdict.NOT_MET),
        (["whole", "missing", "whole"], Verdict.NOT_SHOWN),
        (["whole", "in place", "whole"], Verdict.NOT_SHOWN),
        (["in place"] * 3, Verdict.NOT_SHOWN),
        ([], Verdict.NOT_SHOWN),
    ],
)
def test_a_carry_is_judged_by_what_came(came, wanted):
    """A changed copy counts against the unit; a file that did not come is a hole."""
    finding = judge_requirement(CARRIED, [carry(*came)])
    assert finding.verdict == wanted
    assert finding.because.endswith(".")


def test_a_changed_file_whose_original_is_changed_too_is_not_charged():
    """Then the stick is at fault, or nobody knows; a carry with another stick can show it."""
    doubtful = carry("changed", "whole", original_whole=False)
    assert verdict(doubtful) == Verdict.NOT_SHOWN
    assert verdict(doubtful, carry("whole", "whole", soak_id="C2")) == Verdict.MET


def test_pieces_of_two_carries_are_never_put_together():
    """Each brought what the other lacked: still no carry was whole."""
    first, second = carry("whole", "missing"), carry("missing", "whole", soak_id="C2")
    assert verdict(first, second) == Verdict.NOT_SHOWN


def test_a_changed_file_is_an_event_of_the_unit():
    """Tables and reports say what happened first; a stick at fault is no event."""
    assert [one.text for one in events(carry("whole", "changed"))] == ["file F1 changed"]
    assert events(carry("changed", original_whole=False)) == []


def test_a_changed_file_is_not_washed_off_by_a_later_carry():
    """Passing on the second try does not hide the first."""
    finding = judge_requirement(
        CARRIED, [carry("changed", "whole"), carry("whole", "whole", soak_id="C2")]
    )
    assert finding.verdict == Verdict.NOT_MET
    assert "1 file came changed in C1, " in finding.because


def test_a_carry_over_another_port_shows_nothing():
    """What crossed one port says nothing of the next."""
    other = replace(CARRIED, params={**CARRIED.params, "port": "usb1"})
    assert judge_requirement(other, [carry("whole")]).verdict == Verdict.NOT_SHOWN


def test_a_carry_after_the_night_does_not_take_the_nights_place():
    """What the newest soak demands is still demanded when data is carried afterwards."""
    night = clean_night().demanding(demand("no dropout", "capture", needs=frozenset({"capture"})))
    night.spell("capture", STARTS_S + 60, STARTS_S + HOT_S / 2, "blind")
    judged = judge([night, carry("whole")])
    assert judged.because == "incomplete"
    assert [one.requirement.rule for one in judged.findings] == ["no dropout", "carried whole"]


def test_a_good_night_and_a_whole_carry_are_ready_together():
    """The repair is shown by the carry, everything else by the night."""
    repairs = [{"what": "port 2 re-soldered", "function": "usb2"}]
    unit = {"serial": "KY-1", "repairs": repairs, "wiped": None}
    night = clean_night().demanding(demand("no dropout", "capture")).with_header(unit=unit)
    assert judge([night]).because == "incomplete"
    assert judge([night, carry("whole")]).ready
    assert judge([night, carry("changed")]).because == "failed"


def test_a_carry_alone_makes_nothing_ready():
    """Beside what? There is no soak."""
    judged = judge([carry("whole")])
    assert (judged.ready, judged.because) == (False, "incomplete")
    assert "soak it" in judged.reason


def stood_in(total: float | None, driver: str = "stood_in", rule: str = "taken in", limit=20.0):
    """Return the finding on a night in which the stand-in counted so much."""
    name = "stood_in.enumerations"
    need = demand(rule, name, limit, check="picture", needs=frozenset({"link"}))
    fixture = {**FIXTURE, "link": {"driver": driver, "port": "usb2"}}
    night = clean_night().with_header(fixture=fixture).demanding(need)
    night.state_list.append(State(0.0, "link", "seen"))
    if total is not None:
        t_s = STARTS_S + np.linspace(1, HOT_S - 1, 10)
        night.readings[name] = (t_s, np.full(10, total / 10))
    return judge_requirement(need, [night])


@pytest.mark.parametrize("rule", ["taken in", "read by the unit"])
def test_counts_of_a_stand_in_are_judged_by_their_sum(rule):
    """As many as demanded are met, one less is not, none known is not shown."""
    assert stood_in(20.0, rule=rule).verdict == Verdict.MET
    finding = stood_in(19.0, rule=rule)
    assert (finding.verdict, finding.margin) == (Verdict.NOT_MET, pytest.approx(-1.0))
    assert stood_in(0.0, rule=rule).verdict == Verdict.NOT_MET
    assert stood_in(None, rule=rule).verdict == Verdict.NOT_SHOWN


def test_a_link_on_the_benchs_own_computer_is_no_stand_in():
    """There the unit is the device: its port as a host is not tested."""
    assert stood_in(20.0, driver="usb_link").verdict == Verdict.NOT_TESTED


@pytest.mark.parametrize(("total", "said"), [(1.0, "once"), (21.0, "21 times"), (0.0, "0 times")])
def test_times_that_a_stick_was_taken_in_are_said_as_they_are(total, said):
    """Once is once, and 21 times are not "2once"."""
    finding = stood_in(total)
    assert finding.because == f"The unit took in the stick {said}; at least 20 demanded."
