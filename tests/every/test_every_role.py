"""What holds for every role that an instrument can have: one entry, and the whole program knows it.

A new role is found by itself; it needs an entry in `WIRED`: how a simulated fixture wires it.
"""

import json
from collections.abc import Mapping
from dataclasses import fields
from inspect import getmembers, isfunction
from pathlib import Path
from typing import get_args, get_type_hints

import pytest
import trio
from made_up_soak import clean_night
from one_unit_bench import bench_with_k1

from soak.bench.fixture import read_fixture
from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools, drivers, open_instruments
from soak.clock import LeapingClock
from soak.derive.course import course_of
from soak.desk.bench_folder import BenchFolder
from soak.desk.morning.show import show
from soak.desk.soaking import run
from soak.frozen.wiring import ROLE_SETTINGS, field_of
from soak.instruments import ROLES, Instruments
from soak.journal import JournalEvidence, open_evidence
from soak.judge.judging import missing
from soak.names import source_named
from soak.records import Requirement, Role
from soak.roles import Question
from soak.sim.instruments import simulated_drivers
from soak.sim.scene import read_scene

WIRED: Mapping[Role, str] = {
    "switch": '[switch]\ndriver = "simulated"\n',
    "capture": '[capture]\ndriver = "simulated"\nport = "video"\n',
    "stick": '[stick]\ndriver = "simulated"\nport = "usb1"\npath = "through"\n',
    "probe": '[probe.outside]\ndriver = "simulated"\nspot = "outside"\naccuracy = 1.0\n',
    "link": '[link]\ndriver = "simulated"\nport = "usb1"\n',
    "network": '[network]\ndriver = "simulated"\nport = "network"\n',
    "load": '[load]\ndriver = "simulated"\nat_port = "usb1"\ncurrent_a = 0.5\n',
    "button": '[button]\ndriver = "simulated"\n',
    "servo": '[servo]\ndriver = "simulated"\nat_port = "usb1"\n',
}
SHORT = """
name = "short"
not_after = "1 h"
[[stretch]]
name = "on"
lasts = "2 min"
picture = {}
spots = {}
"""
every_role = pytest.mark.parametrize("role", get_args(Role))


def source_of(role: Role) -> str:
    """Return the source under which the fixture above records a role."""
    return "probe.outside" if role == "probe" else role


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a bench on which a unit was soaked with every role wired."""
    place = tmp_path_factory.mktemp("bench")
    bench_with_k1(place, 'name = "all"\nsimulated = "good"\n' + "".join(WIRED.values()))
    (place / "short.toml").write_text(SHORT)
    run.run(place, str(place / "short.toml"), ["K1@left.toml"], seed=3, may_sleep=False)
    return place


def soaked(bench: Path) -> JournalEvidence:
    """Return what that soak recorded."""
    return open_evidence(BenchFolder(bench).find_soak("last"))


@every_role
def test_a_soak_records_that_its_instrument_is_seen(bench: Path, role: Role) -> None:
    """An instrument that is wired is on record from the beginning of a soak, simulated or not."""
    assert role in WIRED
    assert soaked(bench).states(source_of(role))


@every_role
def test_soak_show_tells_what_its_instrument_was_seen_to_be(bench: Path, role: Role) -> None:
    """`soak show SOAK TIME` has a line for every instrument that is wired."""
    shown = show(bench, "last", "0:01:30", as_json=False)
    assert source_of(role) in [line.split()[0] for line in shown.splitlines() if line.strip()]


@every_role
def test_the_report_names_its_instrument(bench: Path, role: Role) -> None:
    """Whoever reads a report finds each instrument that was wired."""
    report = json.loads((BenchFolder(bench).find_soak("last") / "report.json").read_text())
    named = {one["name"] for one in report["instruments"]}
    assert source_named(source_of(role)) in named


@every_role
def test_it_has_one_entry_everywhere(role: Role) -> None:
    """The table, the settings and the opened instruments know the same roles."""
    assert set(ROLES) == set(ROLE_SETTINGS) == set(get_args(Role)) == set(WIRED)
    assert field_of(role) in {one.name for one in fields(Instruments)}


@every_role
def test_its_simulation_can_all_that_its_protocol_says(role: Role, tmp_path: Path) -> None:
    """Whatever a check may ask of an instrument, the simulated one can be asked."""
    (tmp_path / "one.toml").write_text(f'name = "one"\nsimulated = "good"\n{WIRED[role]}')
    simulated, clock = simulated_drivers(read_scene("good"), 1), LeapingClock()
    fixture = read_fixture(tmp_path / "one.toml", None, simulated)

    async def nobody(question: Question) -> None:
        raise AssertionError(question.text)

    async def main() -> None:
        tools = Tools(off_loop_for(clock), nobody, clock)
        async with open_instruments(fixture, tools, simulated) as instruments:
            (instrument,) = instruments.by_source().values()
            protocol = next(
                part
                for part in get_args(get_type_hints(Instruments)[field_of(role)])
                if part not in (str, type(None))
            )
            for name, _ in getmembers(protocol, isfunction):
                assert name.startswith("_") or callable(getattr(instrument, name)), name

    trio.run(main, clock=clock)


@every_role
def test_a_person_is_told_in_words_that_it_lacks(role: Role) -> None:
    """A requirement that needs what is not wired names it as people do."""
    lacks = Requirement("a", "look", "hot run", "It works", "", "answered", needs=frozenset({role}))
    night = clean_night().with_header(fixture={})
    assert missing(lacks, course_of(night)) == f"{ROLES[role].absent} was wired"


@every_role
def test_it_has_a_real_driver(role: Role) -> None:
    """What can be wired can be had: some driver of a real instrument plays each role."""
    assert role in {of for of, _ in drivers()}
