"""What would harm a model is refused in one sentence, until the operator states otherwise."""

import pytest

from soak.bench.drivers.by_hand import HandButton, HandSwitch
from soak.checks.base import all_checks
from soak.desk.soaking.restraints import cautions, check, unguarded
from soak.errors import ScriptError, UsageError
from soak.frozen.fixture import Fixture
from soak.frozen.references import References, Stated
from soak.frozen.shape import read_as
from soak.frozen.sheet import ModelSheet
from soak.frozen.unit import UnitStated
from soak.run.script import script_from

BY_HAND = {"switch": HandSwitch(driver="by_hand")}
BARE = Fixture("bare", "bare.toml", wired=BY_HAND)
PRESSED = Fixture(
    "pressed", "pressed.toml", wired={**BY_HAND, "button": HandButton(driver="by_hand")}
)
SILENT = {"model": "SP", "picture_when_on": "moving", "start_s": 20, "functions": {}}
SAID = dict.fromkeys(("mains", "disk", "lithium_cell", "holds_data"), False)
K1 = read_as(UnitStated, {"tag": "K1", "model": "sp"})
WAKES = {"stops": False, "stays_off": True}


def sheet(**more):
    return ModelSheet.model_validate({**SILENT, **SAID, **more})


def script(attended=False, warm=0):
    stretch = {"name": "run", "lasts": "1 h", "attended": attended, "spots": {}}
    if warm:
        stretch["power_cycles"] = {"warm": warm}
    whole = {"name": "s", "not_after": "2 h", "stretch": [stretch]}
    return script_from(whole, "s.toml", all_checks())


def test_a_lithium_cell_does_not_soak_alone():
    """The refusal names the unit, the stretch and both ways out."""
    with pytest.raises(UsageError, match=r"K1: .*'run' runs alone.*--cell-out.*--attended"):
        check(sheet(lithium_cell=True), script(), K1, Stated(), BARE)


@pytest.mark.parametrize("stated", [Stated(cell_out=True), Stated(attended=True)])
def test_a_cell_that_is_out_or_watched_may_soak(stated):
    """Either statement is enough."""
    check(sheet(lithium_cell=True), script(), K1, stated, BARE)


def test_a_lithium_cell_may_soak_while_somebody_is_there():
    """A script with attended stretches only needs no statement."""
    check(sheet(lithium_cell=True), script(attended=True), K1, Stated(), BARE)


def test_a_disk_is_cut_off_five_times_and_not_six():
    """The cap lies where the page on cautions says."""
    check(sheet(disk=True), script(warm=5), K1, Stated(), BARE)
    with pytest.raises(ScriptError, match=r"s\.toml: cuts the power 6 times.*--hard-cuts"):
        check(sheet(disk=True), script(warm=6), K1, Stated(), BARE)
    check(sheet(disk=True), script(warm=6), K1, Stated(hard_cuts=True), BARE)


def test_short_breaks_and_starts_at_the_supplys_limits_are_cuts_too():
    """Two ends, each twice, one before: 5; with one break 6, by hand."""

    def limits(breaks_s):
        margin = {"starts": 2, "breaks_s": breaks_s, "times": 1}
        stretch = {"name": "run", "supply_margin": margin}
        whole = {"name": "s", "not_after": "2 h", "stretch": [stretch]}
        return script_from(whole, "s.toml", all_checks())

    check(sheet(disk=True), limits([]), K1, Stated(), BARE)
    with pytest.raises(ScriptError, match=r"cuts the power 6 times"):
        check(sheet(disk=True), limits([0.1]), K1, Stated(), BARE)


def test_solid_state_units_are_cut_off_as_often_as_the_script_says():
    """The cap is for disks only."""
    check(sheet(), script(warm=500), K1, Stated(), BARE)


def test_what_was_stated_is_read_back_from_the_header():
    """A resumed soak stands on the statements of its start."""
    told = {"stated": {"cell_out": True}}
    assert read_as(References, told).stated == Stated(cell_out=True)
    assert read_as(References, {}).stated == Stated()


@pytest.mark.parametrize("trip_degc", [20, 34.9, 201, 9000])
def test_a_trip_that_makes_no_sense_is_refused(trip_degc):
    """At room temperature it would trip at once, above 200 degC never in time."""
    with pytest.raises(ValueError, match="trip_degc"):
        sheet(spots={"sink": {"text": "heatsink", "trip_degc": trip_degc}})


def test_a_trip_that_no_probe_guards_is_said(tmp_path):
    """And so is a probe that guards by its silence only."""
    from soak.bench.fixture import read_fixture

    path = tmp_path / "f.toml"
    path.write_text(
        'name = "f"\n[probe.a]\ndriver = "number_file"\nfile = "/x"\nspot = "case"\nguards = true\n'
    )
    spots = {"sink": {"text": "heatsink", "trip_degc": 90}, "case": {"text": "case"}}
    said = " | ".join(unguarded(read_fixture(path), sheet(spots=spots)))
    assert "no probe guards heatsink: nothing cuts the power at 90 degC" in said
    assert "case guards by its silence only" in said
    assert "no switch is wired" in said


def test_a_disk_that_is_pressed_off_first_may_start_as_often_as_one_likes():
    """Sixty soft stops are no hard cut; knocked plugs stay hard ones."""
    soft = sheet(disk=True, button={"stops": True})
    check(soft, script(warm=60), K1, Stated(), PRESSED)
    with pytest.raises(ScriptError, match="cuts the power 60 times"):
        check(soft, script(warm=60), K1, Stated(), BARE)


def test_a_unit_that_stays_off_needs_somebody_to_press_it():
    """Sixty starts that never come would be blamed on it."""
    with pytest.raises(UsageError, match=r"stays off when power comes back.*add \[button\]"):
        check(sheet(button=WAKES), script(warm=3), K1, Stated(), BARE)
    check(sheet(button=WAKES), script(warm=3), K1, Stated(), PRESSED)


def test_silence_forbids_what_a_yes_would_and_no_statement_is_needed_beside_a_person():
    """Each silent key alone keeps a unit from running alone; attended stretches run."""
    for key in SAID:
        silent = ModelSheet.model_validate({**SILENT, **SAID, key: None})
        with pytest.raises(
            UsageError, match=rf"K1: fixtures/models/sp\.toml does not say {key} \("
        ):
            check(silent, script(), K1, Stated(cell_out=True), BARE)
        check(silent, script(), K1, Stated(attended=True), BARE)
        check(silent, script(attended=True), K1, Stated(), BARE)


def test_cautions_stand_where_the_sheet_is_silent():
    """Mains, cell and disk are warned of unless the sheet says that there is none."""
    plain = cautions([sheet()])
    silent = cautions([ModelSheet.model_validate(SILENT)])
    said = cautions([sheet(mains=True, lithium_cell=True, disk=True)])
    assert len(silent) == len(said) == len(plain) + 3
    assert all("as far as its sheet says" in line for line in silent[-3:])
    assert not any("as far as its sheet says" in line for line in said)
