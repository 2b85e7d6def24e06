"""By eye: what is asked where nothing watches, when, and what is refused."""

import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from headers import placed
from scripted_bench import measured

from soak.checks.base import all_checks, asks_person, needed
from soak.errors import ScriptError

SHEET = {
    "start_s": 20.0,
    "start_limit_s": 40.0,
    "picture_when_on": "still",
    "functions": {
        "video": {"check": "picture", "port": "video"},
        "start": {"check": "power_cycles", "port": ""},
    },
    "ports": {"sound": {"text": "sound output", "kind": "sound"}},
}
CAPTURE = {"capture": {"driver": "x", "port": "video"}}


def check(name: str, fixture: Any = None, **settings: Any) -> Any:
    found = all_checks()[name]
    given = {"attended": True, "cycled": False} | settings.pop("place", {})
    place = placed("it", fixture or {}, SHEET, **given)
    return found(found.settings.model_validate({"by_eye": True, **settings}), place)


def rules(made: Any) -> list[str]:
    return [one.rule for one in made.requirements() if "capture" not in one.needs]


def test_each_start_is_asked_for_after_the_start_limit():
    """Off, gone?, on, 40 s later: there? No picture is waited for, and none timed."""
    made = check("power_cycles", warm=2, off_s=5, on_s=50)
    answers = {f"it/{what} by eye {n}": "yes" for what in ("off", "start") for n in (1, 2)}
    bench = measured(made, answers=answers)
    assert [one.id for one in bench.asked] == [
        "it/off by eye 1",
        "it/start by eye 1",
        "it/off by eye 2",
        "it/start by eye 2",
    ]
    assert all(one.initials for one in bench.asked)
    # off, its answer after 1 s, on after 5 s, on for 50 s
    assert bench.told == [(0.0, False), (5.0, True), (55.0, False), (60.0, True)]
    assert [one.detail["by"] for one in bench.marks("off proved")] == ["eye", "eye"]
    assert bench.marks("start") == []
    assert rules(made) == ["starts by eye", "off proved"]
    assert needed(made) == {"switch"}


@pytest.mark.parametrize(("answer", "mark"), [("no", "off not proved"), (None, "")])
def test_an_off_that_was_not_seen_is_not_proved(answer, mark):
    """No says that it was none; silence says nothing."""
    made = check("power_cycles", warm=1)
    answers = {} if answer is None else {"it/off by eye 1": answer}
    bench = measured(made, answers=answers)
    marks = [one.what for one in bench.said if one.what.startswith("off ")]
    assert marks == ([mark] if mark else [])


def test_the_picture_is_looked_at_again_and_again():
    """First when it must have started, then once a minute, also where nobody answered."""
    made = check("picture", look_every_s=60)
    bench = measured(made, answers={"it/picture by eye 1": "yes"}, stop_after_s=200.0)
    assert [one.id for one in bench.asked] == [f"it/picture by eye {n}" for n in (1, 2, 3)]
    assert {one.wait_s for one in bench.asked} == {60}
    assert rules(made) == ["picture by eye"]
    assert next(one for one in made.requirements() if one.rule == "picture by eye").shows_repair


def test_each_movement_is_asked_for_and_so_is_rest():
    """Seven movements and one rest; what is asked names the port in the model's words."""
    made = check("wiggle", port="sound", repeats=1, rest_s=10)
    answers = {"it/rest": "done", "it/round 1": "done"}
    asked = [one for one in measured(made, answers=answers).asked if one.initials]
    assert len(asked) == 8
    assert asked[0].id == "it/sound by eye rest 0"
    assert "sound output" in asked[0].text
    (need,) = [one for one in made.requirements() if one.rule == "moved by eye"]
    assert need.params["promised"] == 8


@pytest.mark.parametrize("name", ["power_cycles", "picture", "wiggle"])
def test_where_an_instrument_watches_nobody_is_asked(name):
    """The instrument sees more than an eye."""
    more = {"wiggle": {"port": "video"}, "power_cycles": {"warm": 1}}.get(name, {})
    made = check(name, CAPTURE, **more)
    assert not asks_person(made)
    assert "capture" in needed(made) or name == "wiggle"
    assert all(not one.rule.endswith("by eye") for one in made.requirements())


@pytest.mark.parametrize("name", ["power_cycles", "picture", "wiggle"])
def test_a_stretch_that_runs_alone_is_refused(name):
    """Whatever is wired: a script that asks somebody who is not there is a mistake."""
    more = {"port": "sound"} if name == "wiggle" else {}
    with pytest.raises(ScriptError, match=f"{name}.by_eye: asks the operator"):
        check(name, place={"attended": False}, **more).requirements()


def test_looks_do_not_go_with_power_cycles():
    """The picture is gone while the power is, and no look may fall there."""
    with pytest.raises(ScriptError, match="switches the power"):
        check("picture", place={"cycled": True}).requirements()


def test_starts_by_eye_go_with_no_plan():
    """A plan's error rates are those of starts that were measured."""
    with pytest.raises(ScriptError, match="goes with no plan"):
        check("power_cycles", warm=1, place={"plan": {"of": "starts"}}).requirements()
