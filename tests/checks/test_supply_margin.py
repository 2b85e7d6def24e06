"""The supply's limits on simulated units: what is tried, what it is called, and what is left."""

import sys
from pathlib import Path

import pytest
import trio
from short_soak import SHEET, soak

sys.path.insert(0, str(Path(__file__).parent))
from headers import placed
from scripted_bench import ScriptedBench

from soak.bench.fixture import read_fixture
from soak.bench.model_sheet import read_model_sheet
from soak.bench.registry import drivers
from soak.checks.base import Done
from soak.checks.supply_margin import SupplyMargin, SupplyMarginSettings
from soak.clock import LeapingClock
from soak.errors import FixtureError, ScriptError
from soak.frozen.sheet import ModelSheet
from soak.records import State
from soak.settings import checked
from soak.sim.scene import read_scene

LOWEST_V, NOMINAL_V, HIGHEST_V, ACCURACY_V = 10.8, 12.0, 13.2, 0.05  # the model sheet, the fixture
FIXTURE = """\
[switch]
driver = "simulated"
sets_voltage = true
accuracy_v = 0.05
[capture]
driver = "simulated"
port = "video"
"""
SHORT = {"starts": 2, "hold_s": 30, "off_s": 10, "give_up_s": 60, "times": 2}


def tried(tmp_path, scene="good", **settings):
    """Try a unit of a scene."""
    told = read_scene(scene).model_dump(mode="json", exclude_unset=True)
    faults = {key: told[key] for key in ("supply", "button") if key in told}
    return soak(tmp_path, FIXTURE, {"supply_margin": {**SHORT, **settings}}, faults)


def degrees(found, what) -> list[str]:
    return [mark.detail["degree"] for mark in found.marks if mark.what == what]


def test_a_good_unit_is_tried_at_both_limits_and_never_beyond(tmp_path):
    """With the supply's accuracy on top, no voltage that was set lies outside the rated range."""
    found = tried(tmp_path)
    set_v = [mark.detail["volt"] for mark in found.marks if mark.what == "voltage"]
    assert (min(set_v) - ACCURACY_V, max(set_v) + ACCURACY_V) == pytest.approx(
        (LOWEST_V, HIGHEST_V)
    )
    assert degrees(found, "supply trial") == ["no effect"] * 4
    assert {found.verdict(f"supply_margin/{one}") for one in ("lowest", "highest")} == {"met"}


def test_breaks_are_as_long_as_stated_and_counted_by_length(tmp_path):
    """Each length as often as asked; what the marks of the power say agrees."""
    found = tried(tmp_path, starts=0, breaks_s=[0.1, 0.5])
    told = [mark.detail for mark in found.marks if mark.what == "short break"]
    assert [one["asked_s"] for one in told] == [0.1, 0.1, 0.5, 0.5]
    assert [one["off_s"] for one in told] == pytest.approx([0.1, 0.1, 0.5, 0.5], abs=1e-3)
    by_length = found.findings["it/supply_margin/short breaks"].detail["by_length"]
    assert [one["asked_s"] for one in by_length] == [0.1, 0.5]


def test_a_unit_that_rides_through_has_no_effect_and_one_that_restarts_recovers(tmp_path):
    """Degrees A and B of IEC 61000-4-11: 0.1 s is bridged, 0.5 s is a restart."""
    found = soak(
        tmp_path,
        FIXTURE,
        {"supply_margin": {**SHORT, "starts": 0, "times": 1, "breaks_s": [0.1, 0.5]}},
        {"supply": {"rides_through_s": 0.2}},
    )
    assert degrees(found, "short break") == ["no effect", "recovers by itself"]
    assert found.verdict("supply_margin/short breaks") == "met"


def test_the_unit_that_dies_in_short_breaks_needs_a_hand(tmp_path):
    """Degree C: dead after 0.1 s until the plug is pulled for longer; after 0.5 s it restarts."""
    found = tried(tmp_path, "dies_in_short_breaks", times=1, breaks_s=[0.1, 0.5])
    assert degrees(found, "short break") == ["needs a hand", "recovers by itself"]
    assert found.verdict("supply_margin/short breaks") == "not met"
    assert found.verdict("supply_margin/lowest") == "met"
    assert "0.1 s" in found.because("supply_margin/short breaks")


def test_the_unit_that_fails_at_low_supply_is_met_at_the_highest_only(tmp_path):
    """It starts again by hand at nominal, so it needs one; breaks at nominal are no matter."""
    found = tried(tmp_path, "fails_at_low_supply", times=1)
    assert degrees(found, "supply trial") == ["needs a hand"] * 2 + ["no effect"] * 2
    assert found.verdict("supply_margin/lowest") == "not met"
    assert found.verdict("supply_margin/highest") == "met"
    assert found.verdict("supply_margin/short breaks") == "met"


def test_a_unit_that_never_starts_again_does_not_recover(tmp_path):
    """Degree D: also at nominal voltage and after a longer off it stays dark."""
    scene = {"start": {"fails_warm": 1.0, "fails_cold": 1.0}}
    found = soak(tmp_path, FIXTURE, {"supply_margin": {**SHORT, "starts": 1}}, scene)
    assert degrees(found, "supply trial") == ["does not recover"] * 2
    assert found.verdict("supply_margin/short breaks") == "not shown"


@pytest.mark.parametrize("stop_at_s", [2.0, 12.0, 20.0, 45.0, 70.0, 200.0, 300.0])
def test_stopped_at_any_time_it_is_off_and_nominal(tmp_path, stop_at_s):
    """The last thing a supply is told of its voltage is nominal, and it is told off before."""
    told = {"supply_margin": {**SHORT, "hold_s": 60}}
    found = soak(tmp_path, FIXTURE, told, stop_at_s=stop_at_s)
    volts = [mark.detail["volt"] for mark in found.marks if mark.what == "voltage"]
    assert not found.unit.powered
    assert volts[-1:] in ([], [NOMINAL_V])
    assert abs(found.unit.supply_v - NOMINAL_V) <= ACCURACY_V


def test_a_makers_promise_to_ride_through_is_held_to(tmp_path):
    """A break as short as the model sheet states must have no effect: a restart is not met."""
    sheet = read_model_sheet(SHEET)
    supply = sheet.supply.model_copy(update={"rides_through_s": 0.1})
    place = placed("it", {}, sheet.model_copy(update={"supply": supply}).model_dump(mode="json"))
    (demand,) = [
        one
        for one in SupplyMargin(SupplyMarginSettings(), place).requirements()
        if one.id.endswith("rides through")
    ]
    assert (demand.params["no_effect_up_to_s"], demand.params["promised"]) == (0.1, 3)


@pytest.mark.parametrize("breaks_s", [[0.001], [3.0]])
def test_a_break_that_is_none_is_refused(breaks_s):
    """Shorter than a supply is switched, or as long as an ordinary start: one sentence."""
    with pytest.raises(ScriptError, match=r"breaks_s\[1\]: .*a duration from 0.02 s to 2 s"):
        checked(SupplyMarginSettings, {"breaks_s": breaks_s}, "mine.toml", ScriptError)


def test_a_relay_is_refused_in_one_sentence(tmp_path):
    """A switch that sets no voltage cannot try the limits, and what to wire is said."""
    plain = FIXTURE.replace("sets_voltage = true\naccuracy_v = 0.05\n", "")
    with pytest.raises(ScriptError, match="sets no voltage; wire a supply"):
        soak(tmp_path, plain, {"supply_margin": SHORT})


def sheet_with(**supply) -> ModelSheet:
    found = read_model_sheet(SHEET)
    rated = ModelSheet.model_fields["supply"].annotation.__args__[0]
    return found.model_copy(update={"supply": rated(**supply) if supply else None})


@pytest.mark.parametrize(
    ("sheet", "fixture", "said"),
    [
        (sheet_with(), FIXTURE, "gives no rated supply; add .supply."),
        (
            sheet_with(lowest_v=11.98, nominal_v=12.0, highest_v=12.2),
            FIXTURE,
            "wider than the room between nominal and rated limits",
        ),
        (sheet_with(), FIXTURE.replace("accuracy_v = 0.05\n", ""), "accuracy_v is missing"),
        (
            read_model_sheet(SHEET),
            FIXTURE.replace(
                "sets_voltage",
                "rated = { lowest_v = 1.0, nominal_v = 2.0, highest_v = 50.0 }\nsets_voltage",
            ),
            "is not written here",
        ),
    ],
    ids=["no rated range", "too inaccurate", "no accuracy", "range in the fixture"],
)
def test_a_supply_that_cannot_be_set_rightly_is_refused(tmp_path: Path, sheet, fixture, said):
    """Before anything is switched: which file, which key, what to do."""
    from soak.sim.instruments import simulated_drivers

    file = tmp_path / "f.toml"
    file.write_text(f'name = "x"\nsimulated = "good"\n{fixture}')
    with pytest.raises(FixtureError, match=said):
        read_fixture(file, sheet, {**drivers(), **simulated_drivers(read_scene("good"), 1)})


@pytest.mark.parametrize(
    "rated",
    [
        {"lowest_v": 12.5, "nominal_v": 12.0, "highest_v": 13.0},
        {"lowest_v": 11.0, "nominal_v": 12.0, "highest_v": 61.0},
    ],
)
def test_a_model_sheet_holds_no_impossible_range(rated):
    """Out of order, or beyond extra-low voltage: refused."""
    with pytest.raises(ValueError, match=r"not in this order|less than or equal to 60"):
        sheet_with(**rated)


class BreakingBench(ScriptedBench):
    """A bench that can break the power and never loses the picture."""

    def __init__(self, *args, **more) -> None:
        super().__init__(*args, **more)
        self.broken: list[float] = []

    async def interrupt(self, for_s: float, why: str = "") -> float:
        self.broken.append(for_s)
        return for_s

    async def fed_v(self) -> float:
        return NOMINAL_V


@pytest.mark.parametrize(("blind", "made"), [([], 1), ([True, False], 2), ([True] * 99, 3)])
def test_a_break_that_was_not_seen_whole_is_made_again_three_times_at_most(blind, made):
    """What was not seen is marked so, and none is lost to a busy computer."""
    settings = SupplyMarginSettings(starts=0, breaks_s=[0.1], times=1, off_s=1)
    rated = {"lowest_v": LOWEST_V, "nominal_v": NOMINAL_V, "highest_v": HIGHEST_V}
    fixture = {"switch": {"sets_voltage": True, "accuracy_v": ACCURACY_V, "rated": rated}}
    check = SupplyMargin(settings, placed("it", fixture, {"functions": {}}))

    async def picture(bench):
        while True:
            yield State(bench.clock.now_s(), "capture", "picture" if bench.is_on else "no signal")
            await bench.switched.wait()

    clock = LeapingClock()
    bench = BreakingBench(clock, {"capture": picture})
    bench.blind = [flag for flag in blind for _ in ("capture", "switch")]

    async def main() -> None:
        await check.measure(bench, Done(), bench.said.append)

    trio.run(main, clock=clock)
    told = [mark.detail for mark in bench.marks("short break")]
    assert len(told) == made
    assert [bool(one.get("blind")) for one in told] == [*blind[:made], False][:made]


def test_a_resumed_soak_goes_on_after_the_trials_it_has():
    """Four starts and three of four breaks are done: the last break is made and nothing else."""
    settings = SupplyMarginSettings(starts=2, breaks_s=[0.1, 0.5], times=2, off_s=1)
    rated = {"lowest_v": LOWEST_V, "nominal_v": NOMINAL_V, "highest_v": HIGHEST_V}
    fixture = {"switch": {"sets_voltage": True, "accuracy_v": ACCURACY_V, "rated": rated}}
    check = SupplyMargin(settings, placed("it", fixture, {"functions": {}}))

    async def picture(bench):
        while True:
            state = "picture" if bench.is_on else "no signal"
            yield State(bench.clock.now_s(), "capture", state)
            await bench.switched.wait()

    clock = LeapingClock()
    bench = BreakingBench(clock, {"capture": picture})

    async def main() -> None:
        await check.measure(bench, Done(count=7), bench.said.append)

    trio.run(main, clock=clock)
    assert bench.broken == [0.5]
    assert [mark.detail["number"] for mark in bench.marks("short break")] == [4]
    assert [mark.what for mark in bench.said if mark.what == "supply trial"] == []
