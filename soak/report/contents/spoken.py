"""The last step of a page: every message gets its words, all else is printed as it is."""

from collections.abc import Mapping
from typing import Any

from soak.language import Language
from soak.report.contents.parts import Part
from soak.visible import visible
from soak.words import Message


def spoken(told: Any, speaks: Language) -> Any:
    """Return what a page prints as plain data, its messages said in a language."""
    if isinstance(told, Message):
        return speaks.say(told)
    if isinstance(told, Part):
        return {name: spoken(getattr(told, name), speaks) for name in type(told).model_fields}
    if isinstance(told, Mapping):
        return {key: spoken(value, speaks) for key, value in told.items()}
    if isinstance(told, list | tuple):
        return [spoken(words, speaks) for words in told]
    return visible(told) if isinstance(told, str) else told
