"""TOML files and checked settings: one sentence with file, key path and nearest valid key.

Everything an operator writes (fixtures, model sheets, scripts, scenes) is read through here, so
that a typing mistake is found before anything starts and never ignored.
"""

import difflib
import tomllib
import types
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError

from soak.errors import FileError
from soak.quantities import parse_bytes, parse_duration

Seconds = Annotated[float, BeforeValidator(parse_duration)]
"""A duration in s; a file may write it as a number of seconds or as text, `"4 h"`."""

Bytes = Annotated[int, BeforeValidator(parse_bytes)]
"""A size in B; a file may write it as a number of bytes or as text, `"256 MB"`."""


class Settings(BaseModel):
    """Base of all settings: frozen, unknown keys refused, numbers finite, no silent conversions."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, allow_inf_nan=False, validate_default=True
    )


S = TypeVar("S", bound=BaseModel)


def read_toml(path: Path, error: type[FileError], kind: str) -> dict[str, Any]:
    """Read a TOML file.

    Raises
    ------
    FileError
        Of the given kind: no such file, a folder, not readable, not UTF-8, or not TOML.
    """
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise error(str(path), "", f"there is no such {kind}; check the name") from None
    except IsADirectoryError:
        raise error(str(path), "", f"is a folder; give the {kind} file in it") from None
    except UnicodeDecodeError:
        raise error(str(path), "", "is not UTF-8 text; save it as UTF-8") from None
    except OSError as fault:
        raise error(str(path), "", f"cannot be read: {fault.strerror}") from None
    except tomllib.TOMLDecodeError as fault:
        raise error(str(path), "", f"is not valid TOML: {fault}") from None


def checked(model: type[S], data: object, file: str, error: type[FileError], at: str = "") -> S:
    """Check `data` against `model`.

    Parameters
    ----------
    file : str
        Name of the file for the message.
    at : str
        Key path under which `data` stands in the file.

    Raises
    ------
    FileError
        Of the given kind, for the first mistake: file, key path, what to do, nearest valid key.
    """
    try:
        return model.model_validate(data)
    except ValidationError as fault:
        first = min(fault.errors(), key=lambda entry: entry["type"] != "extra_forbidden")
        location = [step for step in first["loc"] if not _is_tag(step)]
        key = _join(at, location)
        if first["type"] == "extra_forbidden":
            known = _fields_at(model, location[:-1])
            nearest = nearest_name(str(location[-1]), known)
            raise error(
                file, key, f"there is no such key{_among(known, nearest)}", nearest
            ) from None
        raise error(file, key, _plain(first)) from None


def nearest_name(name: str, known: Sequence[str]) -> str:
    """Return the known name closest to `name`, or an empty text if none is close."""
    return next(iter(difflib.get_close_matches(name, known, n=1, cutoff=0.6)), "")


def _is_tag(step: int | str) -> bool:
    return isinstance(step, str) and ("[" in step or step.startswith("function-"))


def _join(at: str, location: Sequence[int | str]) -> str:
    path = at
    for step in location:
        if isinstance(step, int):
            path += f"[{step + 1}]"
        else:
            path += f".{step}" if path else str(step)
    return path


def _among(known: Sequence[str], nearest: str) -> str:
    return "" if nearest or not known else f"; the keys here are {', '.join(known)}"


def _plain(entry: Mapping[str, Any]) -> str:
    if entry["type"] == "missing":
        return "is missing; add it"
    given = entry.get("input")
    shown = f" (given: {given!r})" if isinstance(given, str | int | float) else ""
    message = str(entry["msg"]).removeprefix("Value error, ")
    message = message.replace("Input should be", "should be")
    return f"{message}{shown}"


def _fields_at(model: type[BaseModel], location: Sequence[int | str]) -> list[str]:
    here: Any = model
    for step in location:
        if isinstance(here, type) and issubclass(here, BaseModel):
            field = here.model_fields.get(str(step))
            here = _inner(field.annotation) if field else None
        else:
            here = _inner(here)
    if isinstance(here, type) and issubclass(here, BaseModel):
        return list(here.model_fields)
    return []


def _inner(annotation: Any) -> Any:
    """Return the model inside `Sequence[Model]`, `Mapping[str, Model]`, `Model | None`."""
    origin = get_origin(annotation)
    if origin is None:
        return annotation
    inner = [part for part in get_args(annotation) if part not in (type(None), str)]
    if origin in (Union, types.UnionType) and len(inner) == 1:
        return _inner(inner[0]) if get_origin(inner[0]) else inner[0]
    return _inner(inner[-1]) if inner else None
