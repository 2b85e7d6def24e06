"""What a key of a file may hold, in the words of whoever writes the file."""

import json
import types
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt, MaxLen, MinLen, MultipleOf
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from soak.quantities import unit_named, write_bytes, write_duration

_KINDS = {bool: "true or false", int: "a whole number", float: "a number", str: "text"}
_LONGEST_SHOWN = 60
"""A wrong value is shown up to so many characters. Own choice: the line stays readable."""


@dataclass(frozen=True, slots=True)
class Takes:
    """Say in words what a type of ours takes, where its Python type does not tell.

    Attributes
    ----------
    kind : str
        Such as "a duration".
    unit : str
        `s` or `B`, where its limits are written with a unit.
    example : str
        As it stands in a file; said where no limits are.
    """

    kind: str
    unit: str = ""
    example: str = ""


class FilledIn:
    """Mark a key that the program fills in: nobody writes it, so no list of keys names it."""


@dataclass(frozen=True, slots=True)
class Kind:
    """What one place of a file holds.

    Attributes
    ----------
    of : Any
        Its Python type, without None.
    marks : sequence
        What limits it: of pydantic, of annotated_types, `Takes`.
    name : str
        The key, whose end names the measurement unit.
    """

    of: Any
    marks: Sequence[Any] = ()
    name: str = ""

    @property
    def table(self) -> type[BaseModel] | None:
        """The class of a table with keys of its own; None for anything else."""
        is_table = isinstance(self.of, type) and issubclass(self.of, BaseModel)
        return self.of if is_table else None

    @property
    def named(self) -> bool:
        """Whether it is a table whose keys are names that the writer gives."""
        return _is_a(self.of, Mapping)

    @property
    def listed(self) -> bool:
        """Whether it is a list."""
        return _is_a(self.of, Sequence)

    def words(self) -> Sequence[str]:
        """Return the words that may stand here; none where it is not a choice of words."""
        return get_args(self.of) if get_origin(self.of) is Literal else ()

    def at(self, step: int | str) -> "Kind | None":
        """Return what stands at a key or a number of it; None if there is no such place."""
        if self.table is not None:
            field = self.table.model_fields.get(str(step))
            return None if field is None else kind_of(str(step), field)
        inner = [argument for argument in get_args(self.of) if argument is not Ellipsis]
        return _plain(inner[-1], (), self.name) if inner and (self.named or self.listed) else None

    def key(self) -> "Kind":
        """Return what a name in a table of names may be."""
        return _plain(get_args(self.of)[0], (), "")


def kind_of(name: str, field: FieldInfo) -> Kind:
    """Return what a key holds."""
    return _plain(field.annotation, field.metadata, name)


def keys_of(table: type[BaseModel]) -> Mapping[str, Kind]:
    """Return the keys that may be written in a table."""
    kinds = {name: kind_of(name, field) for name, field in table.model_fields.items()}
    return {
        name: kind
        for name, kind in kinds.items()
        if not any(isinstance(mark, FilledIn) for mark in kind.marks)
    }


def allowed(kind: Kind) -> str:
    """Return what may stand in a place: its kind, its range with the unit, its words."""
    takes = next((mark for mark in kind.marks if isinstance(mark, Takes)), None)
    if takes is not None:
        limits = _limits(kind, takes.unit)
        example = f" such as {takes.example}" if takes.example and not limits else ""
        return f"{takes.kind}{limits}{example}"
    if words := kind.words():
        shown = [show(word) for word in words if word != ""]
        listed = " or ".join(filter(None, [", ".join(shown[:-1]), shown[-1]]))
        return listed if len(shown) == 1 else f"one of {listed}"
    if kind.table is not None:
        return f"a table with {', '.join(keys_of(kind.table))}"
    if kind.named:
        return "a table with names of your own"
    if kind.listed:
        return _list(kind)
    unit = "" if kind.of is str else unit_named(kind.name)
    in_unit = {"": "", "degC": ", in °C", "1/h": " per hour"}.get(unit, f", in {unit}")
    return f"{_KINDS.get(kind.of, 'a value')}{_limits(kind, '')}{in_unit}"


def written(value: Any, unit: str) -> str:
    """Return a quantity as a file may hold it, with nothing rounded."""
    return write_bytes(value) if unit == "B" else write_duration(value)


def show(value: object) -> str:
    """Return a value as it would stand in the file, cut if it is long."""
    if isinstance(value, bool | str):
        text = json.dumps(value, ensure_ascii=False)
    elif isinstance(value, dict):
        return "a table"
    elif isinstance(value, date | time):
        text = value.isoformat()
    elif isinstance(value, float) and value.is_integer():
        text = str(int(value))
    else:
        text = str(value)
    return text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}…"


def _list(kind: Kind) -> str:
    number = {type(mark): mark for mark in kind.marks}
    least = number.get(MinLen)
    most = number.get(MaxLen)
    inner = kind.at(0)
    of = "" if inner is None else f", each {allowed(inner)}"
    if least is not None and most is not None and least.min_length == most.max_length:
        return f"a list of {least.min_length}{of}"
    return f"a list{of}" if least is None else f"a list of at least {least.min_length}{of}"


def _limits(kind: Kind, unit: str) -> str:
    """Return the range in words, with a space before; empty if there is none."""
    limit: dict[Any, Any] = {
        type(mark): mark
        for mark in kind.marks
        if isinstance(mark, Ge | Gt | Le | Lt | MinLen | MaxLen | MultipleOf)
    }
    if kind.of is str:
        return _characters(limit.get(MinLen), limit.get(MaxLen))

    def shown(value: Any) -> str:
        return written(value, unit) if unit else f"{value:.10g}"

    low = shown(limit[Ge].ge) if Ge in limit and (limit[Ge].ge or not unit) else ""
    over = shown(limit[Gt].gt) if Gt in limit else ""
    top = shown(limit[Le].le) if Le in limit else ""
    below = shown(limit[Lt].lt) if Lt in limit else ""
    range = _range(low, over, top, below)
    if MultipleOf in limit:
        range += f", a multiple of {limit[MultipleOf].multiple_of}"
    return range


def _range(low: str, over: str, top: str, below: str) -> str:
    if low and top:
        return f" from {low} to {top}"
    if low and not below:
        return f" of at least {low}"
    begin = f" from {low}" if low else f" above {over}" if over else ""
    end = f" up to {top}" if top else f" below {below}" if below else ""
    return f"{begin},{end}" if begin and end else begin or end


def _characters(least: MinLen | None, most: MaxLen | None) -> str:
    if most is None:
        return ""
    low = 0 if least is None else least.min_length
    if low:
        return f" of {low} to {most.max_length} characters"
    return f" of at most {most.max_length} characters"


def _plain(annotation: Any, marks: Sequence[Any], name: str) -> Kind:
    """Return a type without `Annotated` and None, with all that was said of it."""
    while True:
        origin = get_origin(annotation)
        parts = get_args(annotation)
        if origin is Annotated:
            annotation = parts[0]
            marks = [*marks, *_flat(parts[1:])]
        elif origin in (Union, types.UnionType) and len(_not_none(parts)) == 1:
            annotation = _not_none(parts)[0]
        else:
            return Kind(annotation, marks, name)


def _not_none(parts: Sequence[Any]) -> list[Any]:
    return [part for part in parts if part is not types.NoneType]


def _flat(marks: Sequence[Any]) -> list[Any]:
    return [
        inner
        for mark in marks
        for inner in (mark.metadata if isinstance(mark, FieldInfo) else [mark])
    ]


def _is_a(of: Any, kind: type) -> bool:
    origin = get_origin(of)
    return isinstance(origin, type) and issubclass(origin, kind)
