"""One demand by every rule, as the checks make them, on a bench that has every instrument."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from headers import placed, wanted_of

from soak.bench.model_sheet import read_model_sheet
from soak.checks.base import all_checks
from soak.records import Header, Requirement
from soak.rules.carried import CARRIED_WHOLE, CarriedTerms
from soak.rules.limits import AT_LEAST, SpotTerms
from soak.run.plan import make_plan
from soak.run.script import script_from

MODELS = Path(__file__).parents[2] / "fixtures" / "models"
BUTTON = {"text": "its power button", "hold_s": 0.5, "stops": True, "stop_limit_s": 30.0}
SHEET: Mapping[str, Any] = {
    **read_model_sheet(MODELS / "ferrow-sp-40.toml").model_dump(mode="json"),
    "button": {**BUTTON, "starts": True, "stays_off": False},
}
DEGC = {"unit": "degC", "accuracy": 1.0, "at_port": ""}
FIXTURE: Mapping[str, Any] = {
    "name": "all of it",
    "switch": {"driver": "simulated", "channel": "1", "sets_voltage": True, "accuracy_v": 0.05},
    "capture": {"driver": "simulated", "port": "video"},
    "stick": {"driver": "simulated", "port": "usb1", "path": "through"},
    "probe": {
        "outside": {**DEGC, "spot": "outside"},
        "heatsink": {**DEGC, "spot": "heatsink"},
        "ambient": {**DEGC, "spot": "ambient"},
        "usb5v": {"unit": "V", "accuracy": 0.02, "spot": "", "at_port": "usb1"},
        "supply": {"unit": "A", "accuracy": 0.02, "spot": "", "at_port": ""},
    },
    "link": {"driver": "simulated", "port": "usb1", "identity": {"cannot": {}}},
    "network": {"driver": "simulated", "port": "network", "serves": "http://192.0.2.7/clip"},
    "load": {"driver": "simulated", "at_port": "usb1", "current_a": 0.5},
    "button": {"driver": "simulated"},
    "servo": {"driver": "simulated", "at_port": "usb1", "force_n": 5.0},
}
UNIT = {"serial": "1", "tag": "S", "model": "x", "repairs": [], "wiped": None, "came_back": []}
ASKED: Mapping[str, Mapping[str, Any]] = {
    "by_hand": {"cards": {"sound": {"function": "sound", "question": "Does sound come?"}}},
    "coded_clip": {"frames": 60, "port": "usb2"},
    "current_draw": {},
    "link": {"at_least_speed_mbps": 480.0},
    "network": {"at_least_speed_mbps": 1000.0, "at_least_bytes_per_s": 1e6},
    "look": {},
    "picture": {
        "failure_free_s": "5 min",
        "seen_before": 3,
        "seen_before_in_s": "1 h",
        "tints": 0,
        "torn": 0,
        "sparkle_per_h": 1.0,
    },
    "port_power": {"droop_v": 0.3},
    "power_cycles": {"warm": 1, "quick": 1, "heat_cycles": 1},
    "reseat": {"times": 1, "new_plug_times": 0},
    "spots": {"steady": True, "like_reference_k": 5.0},
    "stood_in": {},
    "supply_margin": {"starts": 1, "times": 1, "breaks_s": [0.1]},
    "transfer": {"whole": True, "least_bytes_per_s": 25_000_000},
    "wiggle": {"port": "usb1", "repeats": 1},
}
"""What a script asks of each check, so that it makes all its demands."""

ATTENDED = frozenset({"by_hand"})
"""Checks that ask somebody who is there; they come first."""

PLANS: Mapping[str, tuple[Mapping[str, Any], str, Mapping[str, Any]]] = {
    "starts by plan": (
        {"of": "warm starts", "good": 0.01, "bad": 0.2},
        "power_cycles",
        {"off_s": 5, "on_s": 30},
    ),
    "hours by plan": ({"of": "hours", "good": "20 h", "bad": "1 h"}, "picture", {}),
}
LASTS = "10 min"


def header_of_all() -> Header:
    """Return the header of a soak that demands something by every rule, a stretch each check."""
    stretches = []
    for name, settings in sorted(ASKED.items(), key=lambda one: one[0] not in ATTENDED):
        stretch = {"name": name, "attended": name in ATTENDED, name: dict(settings)}
        if not all_checks()[name].ends_by_itself:
            stretch["lasts"] = LASTS
        stretches.append(stretch)
    for name, (plan, check, settings) in PLANS.items():
        stretches.append({"name": name, "plan": dict(plan), check: dict(settings)})
    script = script_from(
        {"name": "all", "not_after": "200 h", "stretch": stretches}, "all.toml", all_checks()
    )
    wanted = wanted_of("S1", "J1", UNIT, SHEET, FIXTURE, {}, 5, True)
    header = make_plan(script, wanted, {}).header
    return replace(header, requirements=(*header.requirements, carried(), warm(), *by_eye()))


def by_eye() -> list[Requirement]:
    """Return what is demanded by eye, where nothing is wired that could watch."""
    found: list[Requirement] = []
    for name in ("picture", "power_cycles", "wiggle"):
        check = all_checks()[name]
        asked = check.settings.model_validate({**ASKED[name], "by_eye": True})
        found += check(asked, placed(name, {}, SHEET, attended=True)).requirements()
    return [one for one in found if one.id.endswith("by eye")]


def warm() -> Requirement:
    """Return the demand, which no check makes, that a spot is at least so warm."""
    return AT_LEAST.demand(
        SpotTerms(spot="outside"),
        quantity="probe.outside",
        unit="degC",
        id="spots/spots/outside warm",
        check="spots",
        stretch="spots",
        limit=20.0,
        needs=frozenset({"probe"}),
    )


def carried() -> Requirement:
    """Return the demand on a pack that was carried by hand."""
    return CARRIED_WHOLE.demand(
        CarriedTerms(port="usb1", path="carried", over="service port", files=1, size_bytes=512),
        quantity="carried.damaged",
        id="transfer/carried/usb1",
        check="transfer",
        stretch="transfer",
        limit=0.0,
        needs=frozenset({"stick"}),
    )
