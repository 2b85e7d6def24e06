"""JSON and the classes that say what stands in it: one reader, one writer.

Whoever wrote a journal may have known other keys than this program. So a key that a class does
not know is passed over, and one that is lacking has the default of its field, or nothing (no text,
no entry, zero) where the class has none. A file of an operator is read more strictly, by
`soak.settings`.
"""

import types
from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, dataclass, field, fields, is_dataclass
from enum import Enum
from functools import cache
from typing import (
    Annotated,
    Any,
    Literal,
    TypeVar,
    Union,
    dataclass_transform,
    get_args,
    get_origin,
    get_type_hints,
)

from pydantic import BaseModel

Json = Mapping[str, Any]
"""A canonical JSON object: no NaN, no objects of ours."""

T = TypeVar("T")

_OMITTED = "omitted"
_PLAIN = frozenset({str, float, int, bool, types.NoneType})
"""Types that JSON has too."""


def maybe(*, default: Any) -> Any:
    """Return a field that is not written where it has its default."""
    return field(default=default, metadata={_OMITTED: True})


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(maybe, field))
def kept(cls: type[T]) -> type[T]:
    """Make a class of what a journal keeps: frozen, named in words only."""
    return dataclass(frozen=True, slots=True, kw_only=True)(cls)


def read_as(cls: type[T], told: object, at: str = "") -> T:
    """Return what a JSON object says, as a class says it.

    Parameters
    ----------
    at : str
        Where it stands, for the message: `"fixture.switch"`.

    Raises
    ------
    ValueError
        If a value is not of its kind, or one is lacking that a dataclass cannot do without.
    """
    if not isinstance(told, Mapping):
        raise ValueError(f"{at or cls.__name__} is {told!r}")
    own: Callable[[Json], T] | None = getattr(cls, "of_json", None)
    if own is not None:
        return own(told)
    parts = _parts(cls)  # type: ignore[arg-type]  # a class can be hashed
    given: dict[str, Any] = {
        part.name: told[key]
        if type(told[key]) in part.as_is
        else _value(part.holds, told[key], f"{at}.{key}" if at else key)
        for key, part in parts.items()
        if key in told
    }
    if not issubclass(cls, BaseModel):
        try:
            return cls(**given)
        except TypeError as lacking:
            raise ValueError(f"{at or cls.__name__}: {lacking}") from None
    # Its own limits are those of a file that is written today.
    return cls.model_construct(**{part.name: part.nothing() for part in parts.values()} | given)


def as_json(told: Any) -> dict[str, Any]:
    """Return what a class says as a plain JSON object; one with an `as_json` of its own by that."""
    own = getattr(told, "as_json", None)
    if own is not None:
        return dict(own())
    return {
        key: plain(getattr(told, part.name))
        for key, part in _parts(type(told)).items()  # type: ignore[arg-type]  # as above
        if not (part.omitted and getattr(told, part.name) == part.default)
    }


def keys_of(cls: type) -> Mapping[str, tuple[type, bool] | None]:
    """Return the keys of a class; of one that holds classes, which, and whether under names."""
    return {key: _class_in(part.holds) for key, part in _parts(cls).items()}


def _class_in(kind: Any, named: bool = False) -> tuple[type, bool] | None:
    of = get_origin(kind) or kind
    if isinstance(of, type) and (is_dataclass(of) or issubclass(of, BaseModel)):
        return of, named
    shapes = (_class_in(choice, named or of is Mapping) for choice in get_args(kind))
    return next((shape for shape in shapes if shape is not None), None)


def plain(value: Any) -> Any:
    """Return a value as plain JSON."""
    if type(value) in _PLAIN:
        return value
    if isinstance(value, Mapping):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [plain(inner) for inner in value]
    if isinstance(value, BaseModel):
        return value.model_dump(mode="json")
    if is_dataclass(value):
        return as_json(value)
    if isinstance(value, Enum):
        return value.value
    return sorted(value) if isinstance(value, frozenset) else value


@dataclass(frozen=True, slots=True)
class _Part:
    """One key of a class.

    Attributes
    ----------
    name : str
        Of its field.
    holds : Any
        Its type.
    default : Any
        `MISSING` where it has none.
    omitted : bool
        Whether it is not written where it has its default.
    as_is : frozenset of type
        Values of these are taken as they are: nearly all are, and there are thousands of marks.
    """

    name: str
    holds: Any
    default: Any = MISSING
    omitted: bool = False
    as_is: frozenset[type] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "as_is", _as_is(self.holds))

    def nothing(self) -> Any:
        """Return what it has if it is lacking."""
        if self.default is not MISSING:
            return self.default
        kind = get_origin(self.holds) or self.holds
        empty = _EMPTY.get(kind)
        return None if empty is None else empty()


_EMPTY: Mapping[Any, Callable[[], Any]] = {
    kind: kind for kind in (str, float, int, bool, tuple, frozenset)
} | {Literal: str, Mapping: dict, Sequence: tuple}
"""What a key without a default has where it is lacking."""


def _as_is(kind: Any) -> frozenset[type]:
    of = get_origin(kind) or kind
    if of in (Union, types.UnionType):
        return frozenset().union(*map(_as_is, get_args(kind)))
    if of is Literal:
        return frozenset({str})
    return frozenset({of} & _PLAIN)


@cache
def _parts(cls: Any) -> Mapping[str, _Part]:
    """Return the keys of a class."""
    if issubclass(cls, BaseModel):
        return {
            name: _Part(
                name,
                one.annotation,
                MISSING if one.is_required() else one.get_default(call_default_factory=True),
            )
            for name, one in cls.model_fields.items()
        }
    hints = get_type_hints(cls, include_extras=True)
    return {
        field.name.rstrip("_"): _Part(
            field.name, hints[field.name], field.default, bool(field.metadata.get(_OMITTED))
        )
        for field in fields(cls)
    }


def _value(kind: Any, value: Any, at: str) -> Any:
    """Return a value as its type says."""
    of = get_origin(kind) or kind
    if of is Annotated:
        return _value(get_args(kind)[0], value, at)
    if of in (Union, types.UnionType):
        return _one_of(get_args(kind), value, at)
    if of in (Mapping, dict) and isinstance(value, Mapping):
        inner = (get_args(kind) or (str, Any))[1]
        return {key: _value(inner, one, f"{at}.{key}") for key, one in value.items()}
    if of in (Sequence, tuple, frozenset) and isinstance(value, list | tuple | frozenset):
        inner = (get_args(kind) or (Any,))[0]
        made = [_value(inner, one, f"{at}[{n}]") for n, one in enumerate(value, 1)]
        return frozenset(made) if of is frozenset else tuple(made)
    if isinstance(of, type) and (is_dataclass(of) or issubclass(of, BaseModel)):
        return read_as(of, value, at)
    return _scalar(of, value, at)


def _scalar(kind: Any, value: Any, at: str) -> Any:
    if kind is float and isinstance(value, int) and not isinstance(value, bool):
        return float(value)  # canonical JSON writes 12.0 as 12
    if kind is int and isinstance(value, float) and value.is_integer():
        return int(value)
    if kind is str and isinstance(value, bool | int | float):
        return str(value)
    if kind is Any or (kind is Literal and isinstance(value, str)):
        return value  # a word of another version is for its reader to judge
    if isinstance(kind, type) and issubclass(kind, Enum):
        return kind(value)
    if (
        isinstance(kind, type)
        and isinstance(value, kind)
        and isinstance(value, bool) <= (kind is bool)
    ):
        return value
    raise ValueError(f"{at} is {value!r}")


def _one_of(kinds: Sequence[Any], value: Any, at: str) -> Any:
    """Return a value by the first of several types that it is of; as text only if it is of none."""
    if value is None and types.NoneType in kinds:
        return None
    fault_text = ""
    for kind in sorted(kinds, key=lambda kind: kind is str and not isinstance(value, str)):
        try:
            return _value(kind, value, at)
        except ValueError as fault:
            fault_text = fault_text or str(fault)
    raise ValueError(fault_text)
