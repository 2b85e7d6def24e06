"""A script that shows a repair within the time there is, on the instruments there are."""

import tomllib
from collections.abc import Callable, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from soak.checks.base import all_checks
from soak.desk.forecast.explaining import planned_on
from soak.desk.hands.proposals import kinds, proposal
from soak.desk.soaking.restraints import MOST_HARD_CUTS
from soak.errors import UsageError
from soak.frozen.fixture import Fixture
from soak.frozen.sheet import ModelSheet
from soak.language import language
from soak.quantities import write_duration
from soak.reader import spoken_code
from soak.run.plan import Plan
from soak.run.script import Script, find_script, read_script, script_from, shipped_scripts
from soak.words import Amount, Message, msg

FILLED = 0.9
"""Share of the time there is that is planned. Own choice: the rest is for answers that take a
while, starts that take longer and what has to be watched again; a soak that its latest end cuts
off has shown nothing."""
SHORTEST_NIGHT_S = 900.0
"""A last stretch that is watched for less is left out, s. Own choice: no fault of an hour shows."""
_NIGHT = "night"
_STARTS = "warm starts"
_HEAT_CYCLES = "heat cycles"
_BESIDE = ("picture", "spots", "transfer", "network")
"""Checks that run side by side through the last stretch."""
_FAULT_FREE = 0.8
"""Share of the last stretch that has to be free of faults where it is short, as in `evening`."""
_FAULT_FREE_S = 7200.0
"""The same in s where it is long, as in `overnight`."""


LeftOut = dict[str, Message]
"""What is left out of a proposal and why, by the stretch."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """A script that fits.

    Attributes
    ----------
    data : mapping
        As its file holds it; empty for a script that comes with the program.
    left_out : sequence of Message
        What the proposal for the repair has besides, and why that is left out here.
    """

    script: Script
    plan: Plan
    data: Mapping[str, Any]
    left_out: Sequence[Message] = ()


def after_repair(
    kind: str, port: str, time_s: float, *, sheet: ModelSheet, fixture: Fixture, file: str
) -> Fitted:
    """Return the proposal for a repair, made to fit.

    The last stretch takes what the others leave; where that is too little, they are shortened one
    after the other.

    Raises
    ------
    UsageError
        If the shortest takes longer.
    """
    whole = tomllib.loads(language(spoken_code()).say(proposal(kind, port)))
    whole["not_after"] = write_duration(time_s)
    left_out: LeftOut = {}
    added = () if _stretch(whole, _STARTS) else (_no(_STARTS),)
    _with_key_functions(whole, sheet, fixture, file=file)
    _without_instruments(whole, sheet, fixture, file=file, left_out=left_out)
    if sheet.disk is not False:
        _few_cuts(whole, left_out)
    wanted_s = FILLED * time_s
    for shorten in (_nothing, *_SHORTER, *added):
        shorten(whole, left_out)
        plan = _filled(whole, wanted_s, sheet=sheet, fixture=fixture, file=file)
        if plan is not None:
            script = script_from(whole, file, all_checks())
            return Fitted(script, plan, whole, list(left_out.values()))
    shortest = _planned(whole, file, sheet, fixture)
    raise UsageError(
        msg(
            "{time} is too short: the shortest soak after a repair of this kind takes {shortest}",
            time=Amount(time_s, "s"),
            shortest=Amount(_takes_s(shortest) / FILLED, "s"),
        )
    )


def that_comes_with(time_s: float, sheet: ModelSheet, fixture: Fixture, bench: Path) -> Fitted:
    """Return the longest of the general scripts that fits.

    Raises
    ------
    UsageError
        If none does.
    """
    fitting: list[Fitted] = []
    shortest_s = float("inf")
    for name in _GENERAL:
        script = read_script(find_script(name, bench))
        plan = planned_on(fixture, script, sheet)
        needed_s = _takes_s(plan) / FILLED
        shortest_s = min(shortest_s, needed_s)
        if needed_s <= time_s:
            head = script.head.model_copy(update={"not_after": min(time_s, script.head.not_after)})
            no_listing = msg("what goes with a listing: this is a first look")
            left_out = [] if head.listing else [no_listing]
            fitting.append(Fitted(replace(script, head=head), plan, {}, left_out))
    if not fitting:
        raise UsageError(
            msg(
                "{time} is too short: the shortest soak takes {shortest}",
                time=Amount(time_s, "s"),
                shortest=Amount(shortest_s, "s"),
            )
        )
    return fitting[-1]


_GENERAL = [name for name in ("quick", "evening", "overnight") if name in shipped_scripts()]
"""Scripts that need no repair to be asked about, the shortest first."""


def kind_of(function: str, words: str, sheet: ModelSheet) -> tuple[str, str]:
    """Return which proposal shows a repair, and at which port; an empty kind if none does."""
    said = words.casefold()
    for kind, marks in _BY_WORD.items():
        if any(mark in said for mark in marks):
            return kind, ""
    port = sheet.functions[function].port if function in sheet.functions else ""
    kind = sheet.ports[port].kind if port in sheet.ports else ""
    return (kind, port) if kind in kinds() else ("", port)


_BY_WORD: Mapping[str, Sequence[str]] = {
    "fan": ("fan ", "fan,", "lüfter", "ventilator"),
    "thermal compound": ("compound", "thermal paste", "wärmeleitpaste", "wärmepaste"),
    "storage": ("storage", "ssd", "emmc", "massenspeicher", "festplatte"),
}
"""Repairs that no port tells, by what people call them in either language."""


def _filled(
    data: dict[str, Any], wanted_s: float, *, sheet: ModelSheet, fixture: Fixture, file: str
) -> Plan | None:
    """Give the last stretch what time is left; None if the rest alone takes too long."""
    night = _stretch(data, _NIGHT)
    others = _without_night(data)
    rest_s = wanted_s - (_takes_s(_planned(others, file, sheet, fixture)) if others else 0.0)
    if rest_s < (SHORTEST_NIGHT_S if night else 0.0):
        return None
    if night is not None:
        lasts_s = rest_s // 60 * 60
        night["lasts"] = write_duration(lasts_s)
        if "failure_free_s" in night.get("picture", {}):
            free_s = min(_FAULT_FREE_S, _FAULT_FREE * lasts_s)
            night["picture"]["failure_free_s"] = round(free_s // 60 * 60)
    return _planned(data, file, sheet, fixture)


def _planned(data: Mapping[str, Any], file: str, sheet: ModelSheet, fixture: Fixture) -> Plan:
    script = script_from({**data, "not_after": 14 * 86400}, file, all_checks())
    return planned_on(fixture, script, sheet)


def _takes_s(plan: Plan) -> float:
    return sum(part.expected_s for part in plan.stretches)


def _with_key_functions(
    data: dict[str, Any], sheet: ModelSheet, fixture: Fixture, *, file: str
) -> None:
    """Let the script exercise every key function that something wired can show.

    Without that no unit is ready by it, however well its repair is shown.
    """
    wanted = {function.check for function in sheet.functions.values() if function.key}
    lacking = wanted - {check for entry in data["stretch"] for check in entry}
    beside = [check for check in _BESIDE if check in lacking]
    beside = [check for check in beside if _runs(check, sheet, fixture, file)]
    night = _stretch(data, _NIGHT) or {"name": _NIGHT, "lasts": "1 h"}
    night |= {check: {} for check in beside}
    if beside and night not in data["stretch"]:
        data["stretch"].append(night)
    if "power_cycles" in lacking and _runs("power_cycles", sheet, fixture, file):
        alone = [entry for entry in data["stretch"] if not entry.get("attended")]
        at = data["stretch"].index(alone[0]) if alone else len(data["stretch"])
        data["stretch"].insert(at, _few_starts())


def _few_starts() -> dict[str, Any]:
    """Return a stretch of as many starts as harm nothing."""
    return {"name": _STARTS, "power_cycles": {"warm": MOST_HARD_CUTS}, "picture": {}}


def _runs(check: str, sheet: ModelSheet, fixture: Fixture, file: str) -> bool:
    """Tell whether this fixture can run a check."""
    settings = {"warm": 1} if check == "power_cycles" else {}
    entry = {"name": "trial", "lasts": "1 h", check: settings}
    plan = _planned({"name": "trial", "stretch": [entry]}, file, sheet, fixture)
    return any(running.name == check for part in plan.stretches for running in part.checks)


def _without_instruments(
    data: dict[str, Any],
    sheet: ModelSheet,
    fixture: Fixture,
    *,
    file: str,
    left_out: LeftOut,
) -> None:
    """Leave out the stretches of which this fixture can run nothing."""
    plan = _planned(data, file, sheet, fixture)
    for part in plan.stretches:
        if not part.checks:
            why = next(iter(part.skipped.values()))
            name = part.stretch.name
            left_out[name] = msg("left out: {stretch}, {why}", stretch=repr(name), why=why)
            _remove(data, name)


def _few_cuts(data: dict[str, Any], left_out: LeftOut) -> None:
    """Keep starts few where a disk may be in the unit."""
    free = MOST_HARD_CUTS
    for entry in data["stretch"]:
        cycles = entry.get("power_cycles", {})
        for kind in ("warm", "cold"):
            if kind in cycles:
                planned = cycles[kind]
                cycles[kind] = min(planned, free)
                free -= cycles[kind]
                if cycles[kind] < planned:
                    left_out[entry["name"]] = msg(
                        "{stretch}: {count} of {planned} starts, for the unit may hold a disk",
                        stretch=repr(entry["name"]),
                        count=str(cycles[kind]),
                        planned=str(planned),
                    )
    for entry in list(data["stretch"]):
        cycles = entry.get("power_cycles")
        if cycles is not None and not any(cycles.get(kind) for kind in ("warm", "cold")):
            _remove(data, entry["name"])


def _remove(data: dict[str, Any], name: str) -> None:
    data["stretch"] = [entry for entry in data["stretch"] if entry["name"] != name]


def _stretch(data: Mapping[str, Any], name: str) -> dict[str, Any] | None:
    return next((entry for entry in data["stretch"] if entry["name"] == name), None)


def _without_night(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return a copy without its last stretch; empty if nothing else is in it."""
    rest = deepcopy(dict(data))
    _remove(rest, _NIGHT)
    return rest if rest["stretch"] else {}


def _nothing(data: dict[str, Any], left_out: LeftOut) -> None:
    """Leave the proposal whole."""


def _fewer(name: str, check: str, key: str, count: int) -> Callable[..., None]:
    """Return what does something fewer times."""

    def shorten(data: dict[str, Any], left_out: LeftOut) -> None:
        entry = _stretch(data, name)
        settings = entry.get(check, {}) if entry else {}
        if settings.get(key, 0) > count:
            left_out[name] = msg(
                "for want of time, {stretch} has {count} of {planned}",
                stretch=repr(name),
                count=str(count),
                planned=str(settings[key]),
            )
            settings[key] = count

    return shorten


def _no(begins: str, ends: str = "") -> Callable[..., None]:
    """Return what leaves stretches out."""

    def shorten(data: dict[str, Any], left_out: LeftOut) -> None:
        for entry in list(data["stretch"]):
            name = entry["name"]
            if name.startswith(begins) and name.endswith(ends) and len(data["stretch"]) > 1:
                left_out[name] = msg("for want of time: no {stretch}", stretch=repr(name))
                _remove(data, name)

    return shorten


def _warm_for_cold(data: dict[str, Any], left_out: LeftOut) -> None:
    """Put a few warm starts in the place of those for which the unit has to cool down."""
    for number, entry in enumerate(data["stretch"]):
        if entry["name"] == _HEAT_CYCLES:
            few = [] if _stretch(data, _STARTS) else [_few_starts()]
            data["stretch"][number : number + 1] = few
            left_out[_HEAT_CYCLES] = msg(
                "for want of time: no {stretch}, warm starts instead", stretch=repr(_HEAT_CYCLES)
            )
            return


_SHORTER = (
    _fewer(_HEAT_CYCLES, "power_cycles", "cold", 2),
    _fewer(_STARTS, "power_cycles", "warm", 20),
    _warm_for_cold,
    _no("wiggle", "hot"),
    _fewer(_STARTS, "power_cycles", "warm", 5),
    _fewer("reseat", "reseat", "times", 5),
    _no(_NIGHT),
)
"""What is given up first for want of time: what takes longest, and last what shows the repair."""
