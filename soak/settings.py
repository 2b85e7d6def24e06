"""TOML files and checked settings: all mistakes of a file at once, each with what is allowed.

Everything an operator writes (fixtures, model sheets, scripts, scenes) is read through here, so
that a typing mistake is found before anything starts and never ignored.
"""

import tomllib
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, model_validator

from soak.allowed import Takes
from soak.errors import FileError
from soak.mistakes import Mistakes, S, Unfitting, unfitting
from soak.mistakes import nearest_name as nearest_name
from soak.outside import read_text
from soak.quantities import parse_bytes, parse_duration
from soak.words import Message, msg


def read_duration(given: str | float) -> float:
    """Read a duration in s, as `quantities.parse_duration`.

    Raises
    ------
    ValueError
        If it is none, in words for who wrote it.
    """
    try:
        return parse_duration(given)
    except ValueError:
        if given == "":
            why = msg("a duration is missing; write it like 30 s, 10 min or 4 h")
        else:
            why = msg(
                "{text} is not a duration; write it like 30 s, 10 min or 4 h", text=repr(given)
            )
        raise ValueError(why) from None


def read_size(given: str | int) -> int:
    """Read a size in B, as `quantities.parse_bytes`.

    Raises
    ------
    ValueError
        If it is none, in words for who wrote it.
    """
    try:
        return parse_bytes(given)
    except ValueError:
        why = msg(
            "{text} is not a size in whole bytes; write it like 256 MB or 4 MiB", text=repr(given)
        )
        raise ValueError(why) from None


Seconds = Annotated[
    float,
    BeforeValidator(read_duration),
    Takes(msg("a duration"), "s", msg("{one} or {other}", one='"30 s"', other='"4 h"')),
]
"""A duration in s; a file may write it as a number of seconds or as text, `"4 h"`."""

Bytes = Annotated[int, BeforeValidator(read_size), Takes(msg("a size"), "B", '"256 MB"')]
"""A size in B; a file may write it as a number of bytes or as text, `"256 MB"`."""


MOST_BYTES = 4 << 20
"""A larger file of settings is refused, B. Own choice: the largest script takes some kB."""


class Settings(BaseModel):
    """Base of all settings: frozen, unknown keys refused, numbers finite, no silent conversions.

    What each key means stands under `Attributes` in the docstring of its class, from where the
    reference of keys takes it. What does not go together is told by methods marked
    `mistakes.fit`.
    """

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, allow_inf_nan=False, validate_default=True
    )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        mistakes = list(unfitting(self))
        if mistakes:
            raise Unfitting(mistakes)
        return self


def read_toml(path: Path, error: type[FileError], kind: Message) -> dict[str, Any]:
    """Read a TOML file.

    Raises
    ------
    FileError
        Of the given kind: not there, no file, too large, not readable, not UTF-8, or not TOML.
    """
    try:
        return tomllib.loads(read_text(path, MOST_BYTES))
    except FileNotFoundError:
        raise error(
            str(path), "", msg("there is no such {kind}; check the name", kind=kind)
        ) from None
    except UnicodeDecodeError:
        raise error(str(path), "", msg("is not UTF-8 text; save it as UTF-8")) from None
    except OSError as fault:
        raise error(str(path), "", msg("cannot be read: {why}", why=str(fault.strerror))) from None
    except RecursionError:
        raise error(str(path), "", msg("is nested too deeply; write it flat")) from None
    except ValueError as fault:  # TOMLDecodeError, and Python's limit of an integer's digits
        raise error(str(path), "", msg("is not valid TOML: {why}", why=str(fault))) from None


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
        Of the given kind, with every mistake: key path, what is there, what is allowed.
    """
    mistakes = Mistakes(file, error)
    made = mistakes.checked(model, data, at)
    mistakes.tell()
    return made
