"""What holds for every check that is found: on a good unit, on a faulty one, stopped half-way.

A new check is found by itself; it needs an entry in `TRIALS`: what is wrong with a unit that it
must tell from a good one.
"""

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, get_args

import pytest
import trio
from headers import wanted_of

from soak.bench.fixture import read_fixture
from soak.bench.model_sheet import read_model_sheet
from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools, open_instruments
from soak.checks.base import all_checks
from soak.clock import LeapingClock
from soak.desk.forecast.explaining import explain
from soak.desk.proof.clip import with_clip
from soak.desk.soaking.sight import make_watcher
from soak.errors import FixtureError
from soak.journal import MemoryJournal
from soak.judge.grade import judge
from soak.names import check_named
from soak.records import Role
from soak.roles import Given, Question
from soak.rules.core.verdict import Finding
from soak.run.in_hand import Wiring
from soak.run.plan import make_plan
from soak.run.script import script_from
from soak.run.soak import Ended, Soak
from soak.settings import checked
from soak.sim.hand import hand_of
from soak.sim.instruments import drivers_of
from soak.sim.scene import Scene
from soak.sim.unit import SimulatedUnit

SHEET = Path(__file__).parents[2] / "fixtures" / "models" / "ferrow-sp-40.toml"
GOOD = {"name": "good", "truth": "good", "truth_grade": "ready", "fault": "none"}
WIRED: Mapping[Role, str] = {
    "switch": '[switch]\ndriver = "simulated"\nsets_voltage = true\naccuracy_v = 0.05\n',
    "capture": '[capture]\ndriver = "simulated"\nport = "video"\n',
    "stick": '[stick]\ndriver = "simulated"\nport = "usb1"\npath = "through"\n',
    "probe": "".join(
        f'[probe.{spot}]\ndriver = "simulated"\nspot = "{spot}"\n'
        f"accuracy = 1.0\nguards = {guards}\n"
        for spot, guards in (("heatsink", "true"), ("outside", "true"), ("ambient", "false"))
    )
    + '[probe.usb5v]\ndriver = "simulated"\nunit = "V"\nat_port = "usb1"\naccuracy = 0.02\n'
    "every_s = 1.0\n"
    '[probe.supply]\ndriver = "simulated"\nunit = "A"\naccuracy = 0.02\nevery_s = 1.0\n',
    "link": '[link]\ndriver = "simulated"\nport = "usb1"\n',
    "network": '[network]\ndriver = "simulated"\nport = "network"\n'
    'serves = "http://192.0.2.7/clip"\n',
    "load": '[load]\ndriver = "simulated"\nat_port = "usb1"\ncurrent_a = 0.5\n',
    "button": '[button]\ndriver = "simulated"\n',
    "servo": '[servo]\ndriver = "simulated"\nat_port = "usb1"\n',
}


@dataclass(frozen=True)
class Trial:
    """How a check is tried.

    Attributes
    ----------
    settings : mapping
        Of the check, in a short script.
    fault : mapping
        What a scene says of the unit that the check must not let pass.
    says : mapping of question to answer
        What the operator of the faulty unit answers, where the fault is seen by eyes.
    good : mapping
        What a scene says of the good unit, where that needs saying.
    lasts : str
        Every picture of a coded clip is read: that takes its time.
    attended : bool
        Whether its stretch is to say that somebody is there.
    """

    settings: Mapping[str, Any] = field(default_factory=dict)
    fault: Mapping[str, Any] = field(default_factory=dict)
    says: Mapping[str, str] = field(default_factory=dict)
    good: Mapping[str, Any] = field(default_factory=dict)
    lasts: str = "30 min"
    attended: bool = False


OFTEN = {"per_hour": 60, "lasts_s": [2.0, 10.0]}
SOUND = {"function": "sound", "question": "Does sound come?"}
TRIALS: Mapping[str, Trial] = {
    "by_hand": Trial({"cards": {"sound": SOUND}}, says={"by hand sound": "no"}, attended=True),
    "coded_clip": Trial(
        {"frames": 60, "port": "usb2"},
        {"player": {"coded_frames": 60, "skips": 0.1}},
        good={"player": {"coded_frames": 60}},
        lasts="8 min",
    ),
    "current_draw": Trial(
        {"running_s": "2 min", "standby_s": "30 s", "settles_s": 10},
        {"supply": {"used_a": 1.4}},
    ),
    "link": Trial(
        {"at_least_speed_mbps": 480.0},
        {"data": {"falls_spot": "heatsink", "falls_above_degc": 40.0}},
    ),
    "network": Trial(
        {"fetch_every_s": "10 s"},
        {"network": {"falls_spot": "heatsink", "falls_above_degc": 40.0}},
    ),
    "look": Trial(says={"damage": "yes"}),
    "picture": Trial({"failure_free_s": "5 min"}, {"contacts": {"video": {"opens": OFTEN}}}),
    "power_cycles": Trial(
        {"warm": 12, "off_s": 20, "on_s": 40, "give_up_s": 60},
        {"start": {"fails_warm": 0.5, "fails_cold": 0.5}},
    ),
    "port_power": Trial({}, {"port_supply": {"open_v": 5.05, "ohm": 0.9}}),
    "reseat": Trial({"at_least_speed_mbps": 480.0}, {"link": {"plug_falls": 0.3}}),
    "spots": Trial(
        {},
        {
            "spots": {
                "heatsink": {"rise_k": 40.0, "tau_s": 200.0},
                "outside": {"rise_k": 42.0, "tau_s": 200.0},
            }
        },
    ),
    "stood_in": Trial({"read_bytes": 0}, {"start": {"fails_warm": 1.0, "fails_cold": 1.0}}),
    "supply_margin": Trial(
        {"starts": 2, "hold_s": "30 s", "breaks_s": [0.1, 0.5], "times": 2, "give_up_s": "60 s"},
        {"supply": {"starts_from_v": 11.4, "latches_s": [0.06, 0.2]}},
    ),
    "transfer": Trial(
        {"write_budget_bytes": "64 MB", "size_bytes": 16 << 20, "first_s": "1 min"},
        {"data": {"kind": "flips", "damage": OFTEN}},
    ),
    "wiggle": Trial(
        {"port": "video", "rest_s": 20, "repeats": 2},
        {"contacts": {"video": {"moved_cold": 1.0, "moved_hot": 1.0}}},
    ),
}
CHECKS = sorted(all_checks())
TRIED = [name for name in CHECKS if name in TRIALS]
every_check = pytest.mark.parametrize(
    "name",
    TRIED,  # on one worker: each is soaked once for all that is asked of it
)
"""Tests of one check share its soaks."""


@dataclass(frozen=True)
class Soaked:
    """What came of a soak."""

    unit: SimulatedUnit
    ended: Ended
    findings: Sequence[Finding]
    marks: Sequence[str]


@cache
def soaked(
    name: str,
    faulty: bool,
    stop_at_s: float = 1e9,
    missing: Role | None = None,
    lasts: str = "",
) -> Soaked:
    """Soak a simulated unit by a script of one check."""
    trial = TRIALS[name]
    scene = checked(
        Scene, {**GOOD, **(trial.fault if faulty else trial.good)}, "scene", FixtureError
    )
    unit, clock = SimulatedUnit(scene, 5), LeapingClock()
    said = trial.says if faulty else {}

    async def ask(question: Question) -> str | float | Given | None:
        if question.expects == "done":
            unit.pull("usb1")
            await trio.sleep(3.0)
            unit.plug("usb1")
        await trio.sleep(5.0)
        answer = said.get(question.id.rpartition("/")[2], question.wanted or "yes")
        return Given(answer, initials="AB") if question.initials else answer

    async def main() -> Soaked:
        return await _soak(name, trial, unit, clock, ask, stop_at_s, missing, lasts or trial.lasts)

    return trio.run(main, clock=clock)


async def _soak(name, trial, unit, clock, ask, stop_at_s, missing, lasts) -> Soaked:
    sheet, drivers = read_model_sheet(SHEET), drivers_of(unit)
    fixture = read_fixture(_fixture_file(missing), sheet, drivers)
    stretch = {"name": "it", "attended": trial.attended, name: dict(trial.settings)}
    if not all_checks()[name].ends_by_itself:
        stretch["lasts"] = lasts
    script = script_from(
        {"name": "short", "not_after": "6 h", "stretch": [stretch]}, "short.toml", all_checks()
    )
    tools = Tools(off_loop_for(clock), ask, clock)
    async with open_instruments(fixture, tools, drivers) as instruments:
        wanted = wanted_of(
            "S-1",
            "J-1",
            {
                "serial": "1",
                "tag": "S",
                "model": "x",
                "repairs": [],
                "wiped": None,
                "came_back": [],
            },
            sheet,
            fixture.opened(instruments.identities()),
            {},
            5,
            True,
        )
        plan = make_plan(script, wanted, {})
        journal = MemoryJournal(plan.header, clock=clock)
        watcher = with_clip(make_watcher(fixture, sheet), script)
        soak = Soak(plan, journal, Wiring(instruments, watcher, ask, clock, None, [hand_of(unit)]))

        async def stop() -> None:
            await trio.sleep(stop_at_s)
            soak.stop("stopped", "half-way")

        async with trio.open_nursery() as nursery:
            nursery.start_soon(stop)
            ended = await soak.run()
            nursery.cancel_scope.cancel()
    evidence = journal.evidence
    findings = [f for f in judge([evidence]).findings if f.requirement.check == name]
    return Soaked(unit, ended, findings, [mark.what for mark in evidence.marks()])


@cache
def _fixture_file(missing: Role | None) -> Path:
    import tempfile

    text = 'name = "simulated"\nsimulated = "good"\n'
    text += "".join(entry for role, entry in WIRED.items() if role != missing)
    file = Path(tempfile.mkdtemp(prefix="every-check-")) / "fixture.toml"
    file.write_text(text)
    return file


def test_every_check_has_its_trial():
    """A check that nobody ever saw find a fault is not yet one."""
    assert sorted(TRIALS) == CHECKS


def test_every_check_has_its_words():
    """Pages in other languages say what was done, not what the key of a script is."""
    assert [name for name in CHECKS if check_named(name) == name] == []


@every_check
def test_a_good_unit_meets_the_demands(name):
    """On a good unit nothing is not met, and something is met."""
    verdicts = [finding.verdict.value for finding in soaked(name, faulty=False).findings]
    assert "met" in verdicts
    assert "not met" not in verdicts


@every_check
def test_its_fault_is_not_let_pass(name):
    """On a unit with the fault the check is for, something is not met."""
    verdicts = [finding.verdict.value for finding in soaked(name, faulty=True).findings]
    assert "not met" in verdicts


@every_check
@pytest.mark.parametrize("stop_at_s", [3.0, 45.0, 400.0])
def test_stopped_half_way_it_leaves_the_bench_off(name, stop_at_s):
    """Whenever the soak is stopped, the unit is without power afterwards and it is on record."""
    found = soaked(name, faulty=False, stop_at_s=stop_at_s)
    assert not found.unit.powered
    assert found.ended.how in ("stopped", "complete")
    assert "off proved" in found.marks


@every_check
def test_what_it_needs_is_asked_for(name):
    """Without an instrument it needs, it runs not at all and its demands are not tested."""
    for role in all_checks()[name].needs:
        found = soaked(name, faulty=True, missing=role, lasts="1 min")
        assert {finding.verdict.value for finding in found.findings} <= {"not tested"}
        assert not found.unit.powered


@every_check
def test_its_name_is_the_key_in_a_script(name):
    """The check's name is that of its module, and its settings know no other keys."""
    check = all_checks()[name]
    assert check.name == name
    assert name in check.__module__.split(".")
    assert check.settings.model_config["extra"] == "forbid"
    assert check.settings.model_config["frozen"] is True


UNIT_LAST = re.compile(r"_(s|k|degc|bytes|bytes_per_s|per_h|hz|v|a|w|n|mbps)$")
DIMENSIONLESS = re.compile(r"\b(share|chance|number of|allowed)\b", re.IGNORECASE)


@every_check
def test_each_number_carries_its_unit_last(name):
    """A float's name ends in its measurement unit, or its docstring says it is a share."""
    settings = all_checks()[name].settings
    nameless = [
        field_name
        for field_name, info in settings.model_fields.items()
        if float in (info.annotation, *get_args(info.annotation))
        and not UNIT_LAST.search(field_name)
        and not DIMENSIONLESS.search(described(settings, field_name))
    ]
    assert nameless == []


@every_check
def test_each_setting_is_explained(name):
    """The docstring of the settings says something of every field, and of nothing else."""
    settings = all_checks()[name].settings
    silent = [key for key in settings.model_fields if not described(settings, key)]
    assert silent == []


def described(settings: type, key: str) -> str:
    """Return what the numpydoc attributes of a class say of one field."""
    entries = re.split(r"\n    (?=\w[\w, ]* : )", settings.__doc__ or "")
    for entry in entries[1:]:
        names, _, text = entry.partition(" : ")
        if key in re.split(r",\s*", names):
            return text.partition("\n")[2].strip()
    return ""


@every_check
def test_the_check_itself_is_explained(name):
    """Class and module say what is checked, in words that end like a sentence."""
    check = all_checks()[name]
    assert (check.__doc__ or "").strip().splitlines()[0].endswith(".")


@every_check
def test_every_demand_names_its_check_and_a_text(name):
    """Requirements are data: unique ids below stretch and check, a text a buyer can read."""
    found = [finding.requirement for finding in soaked(name, faulty=False).findings]
    assert len({one.id for one in found}) == len(found)
    assert all(one.id.startswith(f"it/{name}/") for one in found)
    assert all(one.text[0].isupper() for one in found)


def inline(value: object) -> str:
    """Write a setting as TOML, on one line."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key} = {inline(told)}" for key, told in value.items()) + "}"
    return json.dumps(value)


@every_check
def test_it_is_explained_on_a_fixture_with_everything_wired(name, tmp_path):
    """Where no fixture is named, `soak script explain` leaves no check out for want of a part."""
    head = 'name = "it"\nnot_after = "9 h"\n[[stretch]]\nname = "it"\nlasts = "1 h"'
    head += f"\nattended = {json.dumps(TRIALS[name].attended)}"
    settings = [f"{key} = {inline(told)}" for key, told in TRIALS[name].settings.items()]
    file = tmp_path / "it.toml"
    file.write_text("\n".join([head, f"[stretch.{name}]", *settings]))
    told = json.loads(explain(tmp_path, str(file), "", "", as_json=True))
    assert [stretch["skipped"] for stretch in told["stretches"]] == [{}]
