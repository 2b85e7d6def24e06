"""A model sheet by questions: what nobody answers stays open, and nothing is stated for anybody."""

import tomllib
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from textwrap import wrap
from typing import Any

from soak.desk.beginning.answers import choice_of, limits_of, start_time, yes_no_open
from soak.desk.beginning.asking import Asking
from soak.desk.beginning.kept_file import Remarks, new_text, with_values
from soak.desk.bench_folder import BenchFolder
from soak.errors import FixtureError
from soak.frozen.fixture import Fixture
from soak.frozen.sheet import ModelSheet
from soak.language import language
from soak.outside import read_text
from soak.quantities import write_duration
from soak.reader import spoken_code
from soak.settings import checked
from soak.unsaid import MUST_SAY
from soak.words import Message, joined, msg

_ASKED: Mapping[str, Message] = {
    "mains": msg("Is the unit itself fed with mains voltage?"),
    "disk": msg("Does it hold a disk that spins?"),
    "lithium_cell": msg("Does it hold a lithium cell?"),
    "holds_data": msg("Can data of an owner be on it?"),
}
_OPTIONS: Mapping[str, str] = {
    "mains": "--mains",
    "disk": "--disk",
    "lithium_cell": "--lithium-cell",
    "holds_data": "--holds-data",
    "picture_when_on": "--picture",
    "start_s": "--start",
    "limits": "--limits",
}
"""By which option each key of a sheet is answered beforehand."""
_YES_NO_OPEN = msg("(yes or no; Enter leaves it open)")
_PICTURES: Mapping[str, Sequence[str]] = {
    "moving": ("bewegt", "moves", "film"),
    "still": ("steht", "stehend", "standbild"),
    "may blank": ("blank", "black", "screen saver", "schwarz", "bildschirmschoner"),
}
_COPIED = ("kind", "ports", "spots", "functions")
"""What is taken over from a like model's sheet."""
_CLAIMED_OF_SPOT = ("limit_degc", "rise_limit_k", "touched", "trip_degc")
"""What a spot's table says that a page claims, or that a guard acts on: never taken over."""
_CHECK_OF: Mapping[str, tuple[str, Message]] = {
    "video": ("picture", msg("shows a picture")),
    "usb": ("transfer", msg("carries data")),
    "network": ("network", msg("carries data over the network")),
    "power": ("power_cycles", msg("starts by itself when it gets power")),
    "sound": ("by_hand", msg("plays sound")),
}
"""Which check exercises a port of a kind, and what the unit does there."""
_WIDTH = 90
"""Of a remark in a file, columns: own choice. Decides nothing."""
_EVERY_SPOT = ("spots", msg("stays cool enough"))
_OPEN = msg(
    "mains, disk, lithium_cell, holds_data: true or false. What is left out is open: every page "
    "says so, and no unit of this model runs alone."
)
_NOT_ASKED = msg(
    "Not asked, so open: start_limit_s, rated_ambient_degc, button, supply, touched, rise_limit_k "
    "and trip_degc of a spot."
)
_FROM_WIRING = msg("From what is wired: give each a text as a buyer would say it.")
_KEY = msg("key = true: without it the unit is of no use, so every soak has to show it.")


@dataclass(frozen=True, slots=True)
class Described:
    """A model sheet as it will be written.

    Attributes
    ----------
    name : str
        Of its file, without `.toml`.
    data : mapping
        As the file holds it.
    text : str
        The file, with its remarks.
    """

    name: str
    data: Mapping[str, Any]
    sheet: ModelSheet
    text: str


def described(
    asking: Asking,
    bench: BenchFolder,
    model: str,
    like: str,
    fixture: Fixture | None,
) -> Described:
    """Ask for what a sheet of a new model needs.

    Parameters
    ----------
    model : str
        As people call it; the file is named after it.
    like : str
        Name of a sheet from which functions, ports and spots are taken over; empty: none.
    fixture : Fixture or None
        What is wired says which ports and spots there are at least.

    Raises
    ------
    FixtureError
        If the like sheet cannot be used, or what comes out cannot.
    """
    name = file_name(model)
    data: dict[str, Any] = {"model": model}
    data |= _taken_over(bench, like) if like else {}
    for key, question in _ASKED.items():
        answer = asking.ask(_OPTIONS[key], question, _YES_NO_OPEN, yes_no_open)
        if answer is not None:
            data[key] = answer
    question = msg("What does a good one show when it is on?")
    hint = msg("(moving, still, or blank: a screen saver)")
    data["picture_when_on"] = asking.ask(
        _OPTIONS["picture_when_on"], question, hint, choice_of(_PICTURES)
    )
    question = msg("How long does it take from power to its picture, or to work?")
    start_s = asking.ask(_OPTIONS["start_s"], question, msg("(such as 20 s)"), start_time)
    data["start_s"] = write_duration(start_s)
    _with_what_is_wired(data, fixture)
    _with_limits(data, asking)
    return _of_new(bench, name, data, like)


def with_port(new: Described, bench: BenchFolder, kind: str, like: str) -> Described:
    """Return the sheet of a new model with a port of a kind, and what the unit does there."""
    data = deepcopy(dict(new.data))
    _add_port(data, kind, kind)
    return _of_new(bench, new.name, data, like)


def port_kinds(sheet: ModelSheet) -> list[str]:
    """Return the kinds of port that a sheet has none of, and that a repair may be of."""
    there = {port.kind for port in sheet.ports.values()}
    return [kind for kind in _CHECK_OF if kind not in {*there, *sheet.functions}]


def _of_new(bench: BenchFolder, name: str, data: Mapping[str, Any], like: str) -> Described:
    sheet = checked(ModelSheet, data, str(bench.models / f"{name}.toml"), FixtureError)
    ordered = {
        key: data[key] for key in (*ModelSheet.model_fields,) if data.get(key) not in (None, {})
    }
    ordered.setdefault("functions", {})
    text = new_text(ordered, _remarks(str(data["model"]), ordered, like))
    return Described(name, data, sheet, text)


def asked_again(asking: Asking, bench: BenchFolder, name: str) -> Described:
    """Ask for what a sheet that is there leaves open; its remarks stay.

    Raises
    ------
    FixtureError
        If the sheet cannot be used.
    """
    sheet = bench.model_sheet(name)
    file = bench.models / f"{name}.toml"
    text = read_text(file)
    data = tomllib.loads(text)
    for key, question in _ASKED.items():
        if data.get(key) is None or asking.has(_OPTIONS[key]):
            answer = asking.ask(_OPTIONS[key], question, _YES_NO_OPEN, yes_no_open)
            if answer is not None:
                data[key] = answer
    _with_limits(data, asking)
    sheet = checked(ModelSheet, data, str(file), FixtureError)
    return Described(name, data, sheet, with_values(text, data, {}, str(file)))


def left_open(sheet: ModelSheet) -> list[Message]:
    """Return what a sheet leaves open that a page would print, or a guard act on."""
    points = [MUST_SAY[key] for key in _ASKED if getattr(sheet, key) is None]
    for name, spot in sheet.spots.items():
        if spot.limit_degc is None and spot.rise_limit_k is None:
            points.append(msg("how warm {spot} may get (limit_degc)", spot=name))
        if spot.trip_degc is None:
            points.append(msg("where the guard cuts the power at {spot} (trip_degc)", spot=name))
    return points


def file_name(model: str) -> str:
    """Return the name of the file of a model's sheet: small letters, digits, dashes."""
    letters = "".join(sign if sign.isalnum() else "-" for sign in model.strip().casefold())
    return "-".join(part for part in letters.split("-") if part)


def known_models(bench: BenchFolder) -> dict[str, str]:
    """Return the sheets of a bench, by their files' names as people may spell them."""
    return {file_name(file.stem): file.stem for file in sorted(bench.models.glob("*.toml"))}


def _taken_over(bench: BenchFolder, like: str) -> dict[str, Any]:
    bench.model_sheet(like)  # says what is wrong with it
    data = tomllib.loads(read_text(bench.models / f"{like}.toml"))
    copied = {key: data[key] for key in _COPIED if key in data}
    for spot in copied.get("spots", {}).values():
        for key in _CLAIMED_OF_SPOT:
            spot.pop(key, None)
    return copied


def _with_what_is_wired(data: dict[str, Any], fixture: Fixture | None) -> None:
    """Add ports, spots and functions that are wired and that the sheet does not have yet."""
    data.setdefault("ports", {})
    spots: dict[str, Any] = data.setdefault("spots", {})
    functions: dict[str, Any] = data.setdefault("functions", {})
    if fixture is None:
        return
    for _, _, wired in fixture.entries():
        at = wired.at_unit
        port = str(getattr(wired, at.key) or "") if at else ""
        if at and port and at.kind and port not in data["ports"]:
            _add_port(data, port, at.kind)
    checks = {function.get("check") for function in functions.values()}
    if fixture.switch and "power_cycles" not in checks:
        functions["start"] = _function(*_CHECK_OF["power"])
    for probe in fixture.probes.values():
        if probe.spot and probe.spot != "ambient":
            spots.setdefault(probe.spot, {"text": probe.spot})
    if spots and "spots" not in checks:
        functions["cooling"] = _function(*_EVERY_SPOT)


def _add_port(data: dict[str, Any], port: str, kind: str) -> None:
    data["ports"][port] = {"text": port, "kind": kind}
    function = {**_function(*_CHECK_OF[kind]), "port": port}
    data["functions"].setdefault(port, function)


def _function(check: str, does: Message) -> dict[str, Any]:
    return {"text": _written(does), "key": True, "check": check}


def _with_limits(data: dict[str, Any], asking: Asking) -> None:
    """Ask, in one question, how warm the spots may get of which that is not said."""
    spots = data.get("spots", {})
    bare = [name for name, spot in spots.items() if "limit_degc" not in spot]
    if not bare:
        return
    question = msg("How warm may it get, at {spots}?", spots=joined(", ", bare))
    hint = msg("(in °C, such as 80; Enter leaves it open)")
    if len(bare) > 1:
        hint = msg("(in °C, in this order, such as 80 60; ? leaves one open, Enter all)")
    for name, degc in asking.ask("--limits", question, hint, limits_of(bare)).items():
        spots[name]["limit_degc"] = int(degc) if degc.is_integer() else degc


def _remarks(model: str, data: Mapping[str, Any], like: str) -> Remarks:
    """Return the remarks of a new sheet."""
    head = msg(
        "Model sheet of {model}, begun by questions; change what you like, soak keeps remarks.",
        model=model,
    )
    came = _FROM_WIRING
    if like:
        came = msg("Taken over from {like}: look it through.", like=like)
    first = next((key for key in ("mains", "disk", "picture_when_on") if key in data), "model")
    remarks: dict[tuple[str, ...], Sequence[Message]] = {(): (head, _NOT_ASKED), (first,): (_OPEN,)}
    for table in ("ports", "functions", "spots"):
        for name in list(data.get(table, {}))[:1]:
            remarks[table, name] = (came, _KEY) if table == "functions" else (came,)
    return remarks_of(remarks)


def remarks_of(remarks: Mapping[tuple[str, ...], Sequence[Message]]) -> Remarks:
    """Return remarks in the language of the bench, in lines that fit an editor."""
    return {
        path: [line for told in lines for line in wrap(_written(told), _WIDTH)]
        for path, lines in remarks.items()
    }


def _written(told: Message) -> str:
    """Say what goes into a file, in the language that is spoken at the bench."""
    return language(spoken_code()).say(told)
