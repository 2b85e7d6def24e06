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
from soak.words import Message, Said, joined, just, msg

_KINDS: Mapping[type, Message] = {
    bool: msg("true or false"),
    int: msg("a whole number"),
    float: msg("a number"),
    str: msg("text"),
}
_LONGEST_SHOWN = 60
"""A wrong value is shown up to so many characters. Own choice: the line stays readable."""


@dataclass(frozen=True, slots=True)
class Takes:
    """Say in words what a type of ours takes, where its Python type does not tell.

    Attributes
    ----------
    kind : Message
        Such as "a duration".
    unit : str
        `s` or `B`, where its limits are written with a unit.
    example : Said
        As it stands in a file; said where no limits are.
    """

    kind: Message
    unit: str = ""
    example: Said = ""


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


def allowed(kind: Kind) -> Message:
    """Return what may stand in a place: its kind, its range with the unit, its words."""
    takes = next((mark for mark in kind.marks if isinstance(mark, Takes)), None)
    if takes is not None:
        limits = _limits(kind, takes.unit)
        if takes.example and not limits:
            return msg("{kind} such as {example}", kind=takes.kind, example=takes.example)
        return _limited(takes.kind, limits)
    if words := kind.words():
        *others, last = [show(word) for word in words if word != ""]
        if not others:
            return just(last)
        return msg("one of {words} or {last}", words=joined(", ", others), last=last)
    if kind.table is not None:
        return msg("a table with {keys}", keys=joined(", ", keys_of(kind.table)))
    if kind.named:
        return msg("a table with names of your own")
    if kind.listed:
        return _list(kind)
    limited = _limited(_KINDS.get(kind.of) or msg("a value"), _limits(kind, ""))
    unit = "" if kind.of is str else unit_named(kind.name)
    if unit == "1/h":
        return msg("{number} per hour", number=limited)
    shown = "°C" if unit == "degC" else unit
    return msg("{number}, in {unit}", number=limited, unit=shown) if unit else limited


def written(value: Any, unit: str) -> str:
    """Return a quantity as a file may hold it, with nothing rounded."""
    return write_bytes(value) if unit == "B" else write_duration(value)


def show(value: object) -> Message:
    """Return a value as it would stand in the file, cut if it is long."""
    if isinstance(value, bool | str):
        text = json.dumps(value, ensure_ascii=False)
    elif isinstance(value, dict):
        return msg("a table")
    elif isinstance(value, date | time):
        text = value.isoformat()
    elif isinstance(value, float) and value.is_integer():
        text = str(int(value))
    else:
        text = str(value)
    return just(text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}…")


def _list(kind: Kind) -> Message:
    number = {type(mark): mark for mark in kind.marks}
    least = number.get(MinLen)
    most = number.get(MaxLen)
    inner = kind.at(0)
    each = None if inner is None else msg("each {kind}", kind=allowed(inner))
    length = msg("a list")
    if least is not None:
        length = msg("a list of at least {count}", count=least.min_length)
        if most is not None and least.min_length == most.max_length:
            length = msg("a list of {count}", count=least.min_length)
    return joined(", ", [length, each])


def _limited(kind: Message, limits: "_Limits") -> Message:
    """Put the range behind the kind, and what else is asked of a number."""
    return joined(", ", [joined(" ", [kind, limits.range]), limits.multiple])


@dataclass(frozen=True, slots=True)
class _Limits:
    """The range in words, and of what a number is a multiple; None where nothing is asked."""

    range: Message | None
    multiple: Message | None = None

    def __bool__(self) -> bool:
        return self.range is not None or self.multiple is not None


def _limits(kind: Kind, unit: str) -> _Limits:
    limit: dict[Any, Any] = {
        type(mark): mark
        for mark in kind.marks
        if isinstance(mark, Ge | Gt | Le | Lt | MinLen | MaxLen | MultipleOf)
    }
    if kind.of is str:
        return _Limits(_characters(limit.get(MinLen), limit.get(MaxLen)))

    def shown(value: Any) -> str:
        return written(value, unit) if unit else f"{value:.10g}"

    low = shown(limit[Ge].ge) if Ge in limit and (limit[Ge].ge or not unit) else ""
    over = shown(limit[Gt].gt) if Gt in limit else ""
    top = shown(limit[Le].le) if Le in limit else ""
    below = shown(limit[Lt].lt) if Lt in limit else ""
    multiple = None
    if MultipleOf in limit:
        multiple = msg("a multiple of {number}", number=str(limit[MultipleOf].multiple_of))
    return _Limits(_range(low, over, top, below), multiple)


def _range(low: str, over: str, top: str, below: str) -> Message | None:
    if low and top:
        return msg("from {low} to {top}", low=low, top=top)
    if low and not below:
        return msg("of at least {low}", low=low)
    begin = msg("from {low}", low=low) if low else msg("above {low}", low=over) if over else None
    end = msg("up to {top}", top=top) if top else msg("below {top}", top=below) if below else None
    return joined(", ", [begin, end]) if begin or end else None


def _characters(least: MinLen | None, most: MaxLen | None) -> Message | None:
    if most is None:
        return None
    low = 0 if least is None else least.min_length
    if low:
        return msg("of {low} to {top} characters", low=low, top=most.max_length)
    return msg("of at most {top} characters", top=most.max_length)


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
