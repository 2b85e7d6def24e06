"""What soaks cost the bench's own cables and sticks."""

from dataclasses import replace

import pytest
from headers import fixture_of
from sqlalchemy import create_engine, inspect

from soak.ledger.bench_wear import WORN_FILLINGS, WORN_FROM, PartWear
from soak.ledger.ledger import Ledger
from soak.ledger.schema import BENCH_WEAR, STEPS
from soak.records import Mark

FIXTURE = {
    "name": "bay 1",
    "capture": {"cable": "H3", "plug": "hdmi"},
    "stick": {
        "cable": "A7",
        "plug": "usb-a",
        "identity": {"stick_id": "77", "claims_bytes": 1_000},
    },
}


@pytest.fixture
def take_in(ledger, soaked):
    ledger.add_unit(tag="S1", serial="SP40-0017", model="Ferrow SP-40")

    def take(number, fixture=FIXTURE, **more):
        evidence = soaked(ledger, "S1", f"soak-{number}", fixture=fixture, **more)
        ledger.ingest(evidence)
        return evidence

    return take


def by_part(ledger):
    return {part.part: part for part in ledger.bench_wear()}


def test_a_soak_is_one_plug_in_of_each_cable_and_its_writes_are_the_sticks(ledger, take_in):
    """Two soaks: two plug-ins of either cable, twice 3000 B on the stick by its id."""
    take_in(1)
    take_in(2)
    found = by_part(ledger)
    assert {name: part.plugged for name, part in found.items()} == {"H3": 2, "A7": 2, "77": 0}
    assert (found["77"].written_bytes, found["77"].size_bytes) == (6000, 1000)
    assert found["77"].soaks == 2


def test_plug_ins_on_cue_wear_the_cable_that_was_plugged(ledger, soaked):
    """Three marks of A7, one of a new plug: A7 was plugged in four times, once to begin with."""
    ledger.add_unit(tag="S1", serial="SP40-0017", model="Ferrow SP-40")
    cues = [Mark(float(t), "plugged in", "reseat", "reseat", {"cable": "A7"}) for t in (1, 2, 3)]
    cues.append(Mark(4.0, "plugged in", "reseat", "reseat", {"cable": "new plug"}))
    ledger.ingest(soaked(ledger, "S1", "soak-1", fixture=FIXTURE, marks=cues))
    assert {name: part.plugged for name, part in by_part(ledger).items()} == {
        "A7": 4,
        "H3": 1,
        "77": 0,
    }


def test_the_same_journal_taken_in_twice_wears_once(ledger, take_in):
    """Whoever is unsure may take it in again."""
    ledger.ingest(take_in(1))
    assert by_part(ledger)["A7"].plugged == 1


def test_a_simulated_soak_wears_nothing(ledger, take_in):
    """No cable was plugged in."""
    take_in(1, simulated=True)
    assert ledger.bench_wear() == []


def test_parts_without_a_name_are_not_kept(ledger, take_in):
    """A fixture that names no cable costs nothing that could be told apart."""
    take_in(1, {"name": "bay 1", "capture": {"cable": "", "plug": ""}})
    assert ledger.bench_wear() == []


def test_a_stick_written_over_too_often_is_warned_of_on_its_fixture_only(ledger, take_in):
    """3000 B a soak on 1000 B: worn after 100 soaks, said on the fixture where it lies."""
    for number in range(WORN_FILLINGS * 1000 // 3000):
        assert ledger.worn(fixture_of(FIXTURE)) == []
        take_in(number)
    (warning,) = ledger.worn(fixture_of(FIXTURE))
    assert "stick 77" in warning
    assert "take a new one" in warning
    assert ledger.worn(fixture_of({**FIXTURE, "name": "bay 2"})) == []


@pytest.mark.parametrize(("plug", "from_plugs"), [("usb-a", 1000), ("usb-c", 6600), ("hdmi", 1000)])
def test_a_cable_counts_as_worn_from_the_plug_ins_of_its_plug(plug, from_plugs):
    """1500, 10 000 rated mating cycles of USB plugs: public encyclopaedia text; rest own choice."""
    assert WORN_FROM[plug] == from_plugs
    fresh = PartWear("A7", plug, "bay 1", 1, from_plugs - 1, 0, 0)
    assert fresh.warning == ""
    assert "worn" in replace(fresh, plugged=from_plugs).warning


def carried(pack):
    """Return the fixture of a pack of 16 MB that came back on the stick of this file system."""
    identity = {"pack": pack, "file_system": "1A2B-3C4D", "packed_bytes": 16_000_000}
    return {"name": "carried by hand", "stick": {"path": "carried", "identity": identity}}


def test_a_pack_wears_its_stick_once_however_often_it_is_unpacked(ledger, take_in):
    """Two packs of 16 MB, one of them unpacked twice and taken in again: 32 MB were written."""
    first = [take_in(1, carried("182DW04")), take_in(2, carried("182DW04"))]
    take_in(3, carried("1GAKE01"))
    for evidence in first:
        ledger.ingest(evidence)
    assert by_part(ledger)["1A2B-3C4D"].written_bytes == 32_000_000


def test_an_older_ledger_gets_the_table_of_wear_and_keeps_its_units(tmp_path):
    """The first step of the schema makes the table a new file has; nothing else is touched."""
    file = tmp_path / "ledger.sqlite"
    Ledger(file).add_unit(tag="S1", model="Ferrow SP-40")
    engine = create_engine(f"sqlite:///{file}")
    with engine.begin() as connection:
        connection.exec_driver_sql("DROP TABLE bench_wear")
        STEPS[0](connection)
        made = [column["name"] for column in inspect(connection).get_columns("bench_wear")]
    engine.dispose()
    assert made == [column.name for column in BENCH_WEAR.columns]
    ledger = Ledger(file)
    assert [unit.tag for unit in ledger.list_units()] == ["S1"]
    assert ledger.bench_wear() == []
