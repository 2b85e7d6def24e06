"""What the parts of a report are made of: two kinds of text, and the base of all parts."""

from typing import Annotated, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    PlainSerializer,
    PlainValidator,
    WithJsonSchema,
)

from soak.charts.words import printable
from soak.words import Message, typed_in


def as_message(told: object) -> Message:
    """Return what the program says, with all that was typed in it fit to print.

    Raises
    ------
    ValueError
        If it is no message: a plain text would be said in no language but English.
    """
    if not isinstance(told, Message):
        raise ValueError(f"{told!r} is no message")
    return typed_in(told, printable)


Typed = Annotated[str, BeforeValidator(printable)]
"""What people typed or instruments gave, names and ids: fit to print on one line."""

Words = Annotated[
    Message,
    PlainValidator(as_message),
    PlainSerializer(str, return_type=str),
    WithJsonSchema({"type": "string"}),
]
"""What the program says."""

Verdicts = Literal["met", "not met", "not shown", "not tested"]


class Part(BaseModel):
    """Base of all parts: frozen, nothing unknown, finite numbers only."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
