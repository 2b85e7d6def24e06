"""What a model sheet must say of a model: silence claims nothing and permits nothing.

A key that is left out is kept as null in a journal's header. Until it is said, pages print that it
is not stated, no unit of the model runs alone, and the worse case is taken for what may harm it.
"""

from collections.abc import Mapping

from soak.frozen.sheet import ModelSheet
from soak.words import Message, msg

MUST_SAY: Mapping[str, Message] = {
    "mains": msg("whether this model itself is fed with mains voltage"),
    "disk": msg("whether this model holds a disk"),
    "lithium_cell": msg("whether this model holds a lithium cell"),
    "holds_data": msg("whether this model holds data"),
}
"""The keys, and what each of them asks, true or false."""


def unsaid(sheet: ModelSheet) -> list[str]:
    """Return the keys that a model sheet says nothing of."""
    return [key for key in MUST_SAY if getattr(sheet, key) is None]
