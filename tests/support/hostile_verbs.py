"""All verbs with hostile words: a verb or option that is new is covered by itself."""

import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer
from hostile_input import NUMBERS, TEXTS

from soak.cli.app import app

ON_FIXTURE = "K4@fixtures/real.toml"
"""Its adapters are not there: what begins a soak is refused, and none runs here for long."""
USUAL: Mapping[str, str] = {
    "soak": "K1",
    "one": "K1",
    "other": "K1",
    "script": "scripts/brief.toml",
    "fixture": "fixtures/sim.toml",
    "unit": "K1",
    "model": "ferrow-sp-40",
    "port": "video",
    "function": "video",
    "kind": "video",
    "entry": "1",
    "question": "look-over/closed",
    "said": "yes",
    "shown": "50",
    "emissivity": "0.95",
    "warranty": "1 year",
    "per_hour": "8",
    "failed_here": "0.1",
    "came_back": "0.1",
    "seen": "3",
    "seen_in": "2 h",
    "passes": "0.5",
    "good": "0.02",
    "bad": "0.2",
    "frames": "5",
    "serial": "SP40-9",
    "table": "lives.csv",
}
"""What is typed in the other places of a command, by the name of the place; else a word."""
USUAL_OF: Mapping[tuple[str, str], str] = {
    ("unit repair", "kind"): "repair",
    ("evidence hours", "good"): "0.02",
}
TAKES_LONG = frozenset({"demo"})
NO_NUMBERS = frozenset({"no number", "too large", "empty", "C1", "a line more"})


@dataclass(frozen=True)
class Verb:
    """A verb, and the places of its command line."""

    name: str
    places: Sequence[Any]

    @property
    def long(self) -> bool:
        """Whether it goes on for long by itself once nothing is wrong: it gets only such."""
        return self.name in TAKES_LONG

    def words(self, changed: str = "", value: str = "", last: bool = True) -> list[str]:
        """Return the command with one place's value changed, all others as usual."""
        options: list[str] = []
        arguments: list[str] = []
        for place in self.places:
            if place.param_type_name == "argument":
                if place.required or place.name == changed:
                    arguments.append(value if place.name == changed else self.usual(place))
            elif place.name == changed:
                options += [place.opts[0], value]
            elif place.required:
                options += [place.opts[0], self.usual(place)]
        return [*self.name.split(), *options, *(["--", *arguments] if arguments else [])]

    def usual(self, place: Any) -> str:
        """Return what is usually typed in a place."""
        if "UNIT@FIXTURE" in f"{place.metavar} {place.help}":
            return ON_FIXTURE
        own = USUAL_OF.get((self.name, place.name))
        return own or USUAL.get(place.name, "word")

    def takes(self) -> Iterator[tuple[str, str]]:
        """Yield each place that takes a value, and what: `text`, `number` or `file`."""
        for place in self.places:
            kind = place.type_descriptor.annotation if hasattr(place, "type_descriptor") else bool
            if kind is bool or place.name == "help":
                continue
            if kind in (int, float):
                yield place.name, "number"
            elif kind is Path or "FILE" in str(place.metavar) or _named_file(place):
                yield place.name, "file"
            else:
                yield place.name, "text"


def _named_file(place: Any) -> bool:
    words = f"{place.metavar} {place.help}".lower()
    return any(word in words for word in ("file", "folder", "fixture", "script", "table"))


def verbs() -> Sequence[Verb]:
    """Return all verbs of the program."""
    return list(_walk(typer.main.get_command(app), ()))


def _walk(command: Any, path: tuple[str, ...]) -> Iterator[Verb]:
    inner = getattr(command, "commands", None)
    if inner is None:
        yield Verb(" ".join(path), command.params)
        return
    for name, one in inner.items():
        yield from _walk(one, (*path, name))


@dataclass(frozen=True)
class Case:
    """A command with something hostile in it."""

    verb: str
    what: str
    words: Sequence[str]


def cases(verb: Verb, files: Mapping[str, Path], share: int = 1, least: int = 0) -> Sequence[Case]:
    """Return commands of a verb: one in `share` of what there is, as if by lot, but the same."""
    each = [Case(verb.name, what, words) for what, words in _all(verb, files)]
    each.sort(key=lambda case: zlib.crc32(f"{verb.name}/{case.what}".encode()))
    return each[: max(least, len(each) // share)]


def _all(verb: Verb, files: Mapping[str, Path]) -> Iterator[tuple[str, list[str]]]:
    for name, text in TEXTS.items():
        if not verb.long:
            yield f"--bench {name}", ["--bench", text, *verb.words()]
        yield f"beside: {name}", [*verb.words(), text]
        yield f"option: {name}", [*verb.name.split(), f"--{text}"]
    for name, file in files.items():
        if not verb.long:
            yield f"--bench file {name}", ["--bench", str(file), *verb.words()]
    for place, kind in verb.takes():
        for name in NUMBERS if kind == "number" else TEXTS:
            if not verb.long or name in NO_NUMBERS:
                yield f"{place}: {name}", verb.words(place, TEXTS[name])
        for name, file in files.items() if kind == "file" else ():
            yield f"{place} file {name}", verb.words(place, str(file))
