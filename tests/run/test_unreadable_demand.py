"""A demand that this version cannot read: refused before a soak, and no reason to give power."""

import sys
from dataclasses import replace
from pathlib import Path

import pytest

from soak.checks.base import all_checks
from soak.checks.look import Look
from soak.errors import ScriptError
from soak.run.plan import make_plan
from soak.run.script import script_from

sys.path.insert(0, str(Path(__file__).parent))
from headers import wanted_of
from small_bench import FIXTURE, SHEET, Faults, run_small_soak

LOOK = {
    "name": "small",
    "not_after": "1 h",
    "stretch": [
        {"name": "look-over", "look": {}},
        {"name": "run", "lasts": "5 min", "spots": {}},
    ],
}


def newer(need):
    """Return a demand with a parameter of another version."""
    if need.rule != "answered":
        return need
    return replace(need, params={**need.params, "asked_twice": True})


class NewerLook(Look):
    """A check of somebody's own that was written for another version."""

    def requirements(self):
        return [newer(need) for need in super().requirements()]


async def as_wanted(question):
    """Answer as a good unit would be answered for."""
    return question.wanted


def test_a_demand_that_cannot_be_read_is_refused_when_the_header_is_made(monkeypatch):
    """It would be asked, and its answer heeded by nobody."""
    monkeypatch.setattr("soak.checks.look.THE_CHECK", NewerLook)
    script = script_from(LOOK, "small.toml", all_checks())
    wanted = wanted_of("S-1", "J-1", {"tag": "S"}, SHEET, FIXTURE, {}, 1, True)
    with pytest.raises(ScriptError, match=r"look-over/look/closed.*asked_twice is unknown"):
        make_plan(script, wanted, {})


def test_a_look_over_that_cannot_be_read_ends_the_soak_before_power():
    """Nobody knows which answer was wanted, so none lets the unit go on."""

    def planned(plan):
        needs = tuple(map(newer, plan.header.requirements))
        return replace(plan, header=replace(plan.header, requirements=needs))

    ran = run_small_soak(Faults(), LOOK, ask=as_wanted, planned=planned)
    assert ran.ended.how == "stopped"
    assert "look-over/look/closed" in ran.ended.why
    assert "asked_twice is unknown" in ran.ended.why
    assert not any(on for _, on in ran.world.told)


def test_a_look_over_answered_as_wanted_lets_the_soak_go_on():
    """What is stopped above goes on where its demands can be read."""
    ran = run_small_soak(Faults(), LOOK, ask=as_wanted)
    assert ran.ended.how == "complete"
    assert any(on for _, on in ran.world.told)
