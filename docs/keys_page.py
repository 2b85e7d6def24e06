"""Pages of every key of every file that an operator writes, from the classes that read them."""

import inspect
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from soak.allowed import Kind, Takes, allowed, keys_of, show, written
from soak.bench.fixture import FixtureHead
from soak.bench.registry import Driver, drivers
from soak.checks.base import all_checks
from soak.desk.bench_card import Bench
from soak.desk.paper.details import Details
from soak.frozen.sheet import ModelSheet
from soak.frozen.wiring import ROLE_SETTINGS
from soak.run.script import ScriptHead, StretchHead
from soak.run.stop_early import PlanSettings
from soak.sim.instruments import simulated_drivers
from soak.sim.scene import Scene, read_scene

Table = type[BaseModel]
_MADE = """Made from the program by `make docs`; do not edit. A key that is not listed is refused,
and so is a value that is not allowed; all mistakes of a file are told at once.

A duration is text such as `"30 s"`, `"10 min"`, `"4 h"`, `"1 h 30 min"`, or a number of seconds; a
size is text such as `"256 MB"`, `"4 MiB"`, or a number of bytes. `NAME` stands for a name of your
own, – for nothing.
"""
_REQUIRED = "must be given"
_ENTRY = re.compile(r"^(\w+(?:, \w+)*)(?: : .*)?$")


def key_pages() -> dict[str, str]:
    """Return each page by its file's name."""
    return {
        "keys-fixture.md": _fixture(),
        "keys-script.md": _script(),
        "keys-model-sheet.md": _page(
            "a model sheet", "`fixtures/models/MODEL.toml`.", _section("", "", ModelSheet)
        ),
        "keys-bench.md": _page(
            "the bench file and of a job's details",
            "Both are read when a report is made; the details also when a soak begins.",
            [
                *_section("##", "`bench.toml`", Bench),
                *_section("##", "`details/JOB.toml`", Details),
            ],
        ),
        "keys-scene.md": _page(
            "a scene",
            "What is really wrong with a simulated unit and its bench, for trying things out.",
            _section("", "", Scene),
        ),
    }


def tables() -> Iterator[Table]:
    """Yield every class that an operator's file is read by; some more than once."""
    roots: list[Table] = [FixtureHead, ScriptHead, StretchHead, PlanSettings, ModelSheet, Bench]
    roots += [Details, Scene, *(one.settings for one in _drivers())]
    roots += [check.settings for check in all_checks().values()]
    while roots:
        table = roots.pop()
        yield table
        roots += [inner for _, inner in _inner(table)]


def meanings(table: Table) -> dict[str, str]:
    """Return what each key means: from `Attributes` of its class, or of one it derives from."""
    found: dict[str, str] = {}
    for base in reversed(table.__mro__):
        if base.__doc__ and issubclass(base, BaseModel):
            found |= dict(_attributes(inspect.cleandoc(base.__doc__)))
    return found


def _attributes(doc: str) -> Iterator[tuple[str, str]]:
    """Yield each name under the docstring's `Attributes`, as numpydoc writes them, and its text."""
    _, _, section = doc.partition("Attributes\n----------\n")
    names: list[str] = []
    text: list[str] = []
    for line in [*section.splitlines(), "end"]:
        if line.startswith(" ") or not line:
            text.append(line.strip())
            continue
        yield from ((name, " ".join(text).strip()) for name in names)
        entry = _ENTRY.match(line)
        names, text = (entry[1].split(", ") if entry else []), []
        if line != "end" and entry is None:
            return


def _drivers() -> Sequence[Driver]:
    return [*drivers().values(), *simulated_drivers(read_scene("good"), 0).values()]


def _fixture() -> str:
    parts = _section("##", "The top of the file", FixtureHead)
    for role, kind in ROLE_SETTINGS.items():
        path = f"[{role}.NAME]" if kind.named else f"[{role}]"
        parts += [f"## {role.capitalize()}: `{path}`\n", f"{_about(ROLE_SETTINGS[role])}\n"]
        kinds = [one for one in _drivers() if one.role == role]
        common = _rows(ROLE_SETTINGS[role])
        listed = ", ".join(f'"{one.kind}"' for one in kinds)
        common["driver"] = common["driver"].replace("| text |", f"| one of {listed} |")
        parts += ["Whatever drives it:\n", *_table(common)]
        parts += [part for one in kinds for part in _driver(one, common)]
    return _page("a fixture file", "Which instruments are wired to one unit.", parts)


def _driver(one: Driver, common: Mapping[str, str]) -> list[str]:
    """Return the part of a driver: the keys that its role does not say already."""
    module = sys.modules[one.settings.__module__].__doc__ or ""
    about = _about(one.settings) if one.kind == "simulated" else module.partition("\n\n")[0]
    rows = {name: row for name, row in _rows(one.settings).items() if name != "driver"}
    own = {name: row for name, row in rows.items() if common.get(name) != row}
    return [f'### {one.role.capitalize()} by `driver = "{one.kind}"`\n', f"{about}\n", *_table(own)]


def _script() -> str:
    parts = _section("##", "The top of the file", ScriptHead)
    parts += _section("##", "Stretch: `[[stretch]]`", StretchHead)
    parts += _section("##", "Plan: `[stretch.plan]`", PlanSettings)
    for name, check in sorted(all_checks().items()):
        at = f"stretch.{name}"
        parts += _section("##", f"Check: `[{at}]`", check.settings, at, about=_about(check))
    return _page("a script", "Which checks, in which order, how long, what is demanded.", parts)


def _page(of: str, about: str, parts: Sequence[str]) -> str:
    text = "\n".join([f"# Keys of {of}\n", f"{about}\n", _MADE, *parts])
    return re.sub(r"\n{3,}", "\n\n", text).rstrip("\n") + "\n"


def _section(level: str, title: str, table: Table, path: str = "", about: str = "") -> list[str]:
    """Return the part of a table, and those of the tables in it."""
    head = [f"{level} {title}\n"] if title else []
    parts = [*head, f"{about or _about(table)}\n", *_table(_rows(table))]
    for key, inner in _inner(table):
        at = f"{path}.{key}" if path else key
        parts += _section("###", f"`[{at}]`", inner, at)
    return parts


def _inner(table: Table) -> Iterator[tuple[str, Table]]:
    """Yield the tables in a table, by their key: `spots.NAME` where there are several by name."""
    for name, kind in keys_of(table).items():
        named = kind.named and kind.at("") is not None
        inner = kind.at("") if named else kind
        if inner is not None and inner.table is not None:
            yield (f"{name}.NAME" if named else name), inner.table


def _table(rows: Mapping[str, str]) -> list[str]:
    if not rows:
        return []
    required = sorted(rows.values(), key=lambda row: f"| {_REQUIRED} |" not in row)
    return ["| key | takes | if left out | meaning |", "|---|---|---|---|", *required, "\n"]


def _rows(table: Table) -> dict[str, str]:
    """Return the row of each key."""
    meaning, kinds = meanings(table), keys_of(table)
    found: dict[str, str] = {}
    for name, kind in kinds.items():
        field = table.model_fields[name]
        cells = [f"`{name}`", _takes(kind), _default(field, kind), meaning.get(name, "")]
        found[name] = f"| {' | '.join(one.replace('|', '&#124;') for one in cells)} |"
    return found


def _takes(kind: Kind) -> str:
    inner = kind.at("") if kind.named else None
    if inner is not None and inner.table is not None:
        return "tables, one for each NAME"
    return "a table" if kind.table is not None else allowed(kind)


def _default(field: FieldInfo, kind: Kind) -> str:
    if field.is_required():
        return _REQUIRED
    value = field.get_default(call_default_factory=True)
    if value is None or value in ("", (), {}):
        return "–"
    if isinstance(value, BaseModel):
        return "as its keys say"
    return "the usual ones" if isinstance(value, Mapping) else f"`{_shown(value, kind)}`"


def _shown(value: Any, kind: Kind) -> str:
    """Return a default as it would be written."""
    if isinstance(value, tuple):
        inner = [kind.at(number) for number in range(len(value))]
        parts = [_shown(one, of) for one, of in zip(value, inner, strict=True) if of is not None]
        return f"[{', '.join(parts)}]"
    unit = next((mark.unit for mark in kind.marks if isinstance(mark, Takes)), "")
    return f'"{written(value, unit)}"' if unit else show(value)


def _about(table: type) -> str:
    """Return what a class's docstring says before its attributes."""
    text = inspect.cleandoc(table.__doc__ or "")
    return text.partition("\n\nAttributes\n")[0]
