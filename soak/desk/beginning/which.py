"""Which unit, which model, which fixture: known ones found as people type them, or new ones."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from soak.desk.beginning.answers import NOTHING
from soak.desk.beginning.asking import Asking, say
from soak.desk.beginning.describing import file_name, known_models
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import fixture_file
from soak.errors import FixtureError, LedgerError, SoakError, UsageError, told_of
from soak.frozen.sheet import ModelSheet
from soak.journal import open_evidence
from soak.ledger.entries import Unit
from soak.ledger.ledger import Ledger
from soak.settings import nearest_name
from soak.words import Message, joined, msg

_LIKE = re.compile(r"(.*?)\s+(?:like|wie)\s+(\S.*)", re.IGNORECASE)
_DIGITS = re.compile(r"\d+")


@dataclass(frozen=True, slots=True)
class Model:
    """A model: a sheet that is there, or a new one, perhaps like another.

    Attributes
    ----------
    name : str
        Of the sheet's file, without `.toml`.
    called : str
        As it was typed.
    like : str
        Sheet from which a new one takes over what no page claims; empty: from none.
    """

    name: str
    called: str
    is_new: bool = False
    like: str = ""


@dataclass(frozen=True, slots=True)
class Repaired:
    """What was repaired: in whose words, and which function or kind of port it gave back."""

    what: str
    function: str


def unit(asking: Asking, ledger: Ledger | None) -> tuple[str, Unit | None]:
    """Return what was typed for a unit, and the one that is there; None: it is a new one.

    Raises
    ------
    UsageError
        If nobody said which, or an unknown one has no model by which to add it.
    """
    new = asking.has("--model")

    def read(typed: str) -> tuple[str, Unit | None]:
        if not typed:
            raise UsageError(msg("a tag or a serial is needed, as on the type label"))
        try:
            return typed, ledger.find_unit(typed) if ledger else None
        except LedgerError as fault:
            if new or asking.somebody:
                say(msg("{why}: taken for a new one", why=told_of(fault)))
                return typed, None
            raise UsageError(
                msg("{why}. For a new unit give its serial and --model", why=told_of(fault))
            ) from None

    question = msg("Which unit?")
    hint = msg("(its tag; of a new one the serial on its label)")
    return asking.ask("UNIT", question, hint, read)


def model(asking: Asking, bench: BenchFolder) -> Model:
    """Return the model of a new unit; one that no sheet is of is new, too."""
    known = known_models(bench)
    typed_before = ""

    def read(typed: str) -> Model:
        nonlocal typed_before
        called, like = typed, ""
        if match := _LIKE.fullmatch(typed):
            called, like = match[1], like_sheet(match[2], known)
        name = file_name(called)
        if not name:
            raise UsageError(msg("a model's name is needed, as on the type label"))
        if name in known and not like:
            return Model(known[name], called)
        near = nearest_name(name, list(known))
        mistyped = near and not like and _DIGITS.findall(near) == _DIGITS.findall(name)
        if mistyped and typed_before != typed:
            typed_before = typed
            raise UsageError(
                msg(
                    "there is no sheet of {model}; did you mean {near}? For a new model type it "
                    "once more, or: {model} like {near}",
                    model=called,
                    near=known[near],
                )
            )
        if name in known:
            raise UsageError(msg("there is a sheet of {model} already", model=called))
        return Model(name, called, is_new=True, like=like)

    hint = msg("(a new one is asked about next)")
    if known:
        hint = msg(
            "(there is {known}; a new one is asked about next, or: NEW like {first})",
            known=joined(", ", sorted(known.values())),
            first=sorted(known.values())[0],
        )
    return asking.ask("--model", msg("Which model is it?"), hint, read)


def like_sheet(typed: str, known: Mapping[str, str]) -> str:
    """Return the sheet that a new one is to be like; empty if none was said.

    Raises
    ------
    UsageError
        If there is none of that name.
    """
    name = file_name(typed)
    if name in known or not typed:
        return known.get(name, "")
    near = nearest_name(name, list(known))
    sentence = msg("there is no sheet of {model}", model=typed)
    if near:
        sentence = msg(
            "there is no sheet of {model}; did you mean {near}?", model=typed, near=known[near]
        )
    raise UsageError(sentence)


def fixture(asking: Asking, bench: BenchFolder, tag: str) -> Path:
    """Return the fixture: the only one, the one of the unit's last soak, or the one that is said.

    Raises
    ------
    FixtureError
        If the bench has none.
    """
    folder = bench.path / "fixtures"
    files = sorted(file for file in folder.rglob("*.toml") if bench.models not in file.parents)
    names = [file.relative_to(folder).with_suffix("").as_posix() for file in files]

    def read(typed: str) -> Path:
        name = typed.strip()
        spelled = {known.casefold(): known for known in names}
        name = spelled.get(name.casefold().removesuffix(".toml"), name)
        try:
            return fixture_file(bench, Path(name))
        except FixtureError:
            near = nearest_name(name, names)
            hint = msg("did you mean {near}?", near=near)
            if not near:
                hint = msg("there are {names}", names=joined(", ", names))
            raise UsageError(
                msg("there is no fixture {name}; {hint}", name=repr(name), hint=hint)
            ) from None

    if not asking.has("--fixture"):
        if not names:
            sentence = msg("this bench has no fixture yet; make one with `soak find`")
            raise FixtureError(str(folder), "", sentence)
        if len(names) == 1:
            return files[0]
        if (last := _last_used(bench, tag)) is not None:
            return last
    hint = joined("", ["(", joined(", ", names), ")"])
    return asking.ask("--fixture", msg("On which fixture is it?"), hint, read)


def _last_used(bench: BenchFolder, tag: str) -> Path | None:
    """Return the fixture of a unit's last soak, where it is still there."""
    for soak in reversed(bench.soaks() if tag else ()):
        if soak.startswith(f"{tag}-"):
            try:
                file = Path(open_evidence(bench.find_soak(soak)).header.fixture.file)
                return fixture_file(bench, file)
            except SoakError:
                return None
    return None


def repaired(asking: Asking, sheet: ModelSheet, others: Sequence[str]) -> Repaired | None:
    """Return what was repaired; None for nothing.

    Parameters
    ----------
    others : sequence of str
        Kinds of port that the sheet has none of, but that may have been repaired.
    """
    names = [*sheet.functions, *others]
    question = msg("What was repaired?")
    hint = msg("(one of these, and what was done: {names}; or nothing)", names=joined(", ", names))
    return asking.ask("--repaired", question, hint, _repair_of(sheet, names))


def _repair_of(sheet: ModelSheet, names: Sequence[str]) -> Callable[[str], Repaired | None]:
    by_word = _by_word(sheet, names)

    def read(typed: str) -> Repaired | None:
        text = typed.strip()
        if text.casefold() in NOTHING:
            return None
        words = [word.casefold() for word in re.findall(r"[\w]+", text)]
        named = [by_word[word] for word in words if word in by_word]
        if not named:
            near = next(filter(None, (nearest_name(w, list(by_word)) for w in words)), "")
            raise UsageError(_which_one(text, names, near))
        return Repaired(text, named[0])

    return read


def _by_word(sheet: ModelSheet, names: Sequence[str]) -> dict[str, str]:
    """Return by which words a function is told: its name, its port, the kind of that, its part."""
    by_word: dict[str, str] = {}
    for name, function in sheet.functions.items():
        port = sheet.ports.get(function.port)
        for word in filter(None, (function.port, port.kind if port else "")):
            by_word.setdefault(word.casefold(), name)
        for word in _PARTS.get(function.check, ()):
            by_word.setdefault(word, name)
    for name in names:
        by_word[name.casefold()] = name
        for word in _PORTS.get(name, ()):
            by_word.setdefault(word, name)
    return by_word


_PARTS: Mapping[str, Sequence[str]] = {
    "picture": ("picture", "bild"),
    "power_cycles": ("inlet", "netzbuchse", "strombuchse", "starts"),
    "transfer": ("storage", "ssd", "speicher", "festplatte"),
    "network": ("ethernet", "lan", "netzwerk"),
    "spots": ("fan", "paste", "compound", "lüfter", "wärmeleitpaste", "heatsink", "kühlkörper"),
    "by_hand": ("audio", "ton", "klang"),
}
"""What people call the part behind what a check exercises, in either language."""
_PORTS: Mapping[str, Sequence[str]] = {
    "sound": ("audio", "ton", "klang"),
    "network": ("ethernet", "lan", "netzwerk"),
    "power": ("inlet", "netzbuchse", "strombuchse", "strom"),
}


def _which_one(text: str, names: Sequence[str], near: str) -> Message:
    if not text:
        return msg("name one of: {names}; or nothing", names=joined(", ", names))
    if near:
        return msg("{typed} names none of them; did you mean {near}?", typed=repr(text), near=near)
    return msg(
        "{typed} names none of them: put one of {names} in front",
        typed=repr(text),
        names=joined(", ", names),
    )
