"""What is found at a bench: troubles, each with what mends it, and what was not looked at."""

from collections.abc import Sequence
from dataclasses import dataclass

from soak.words import Message, just


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing that stands in a soak's way, or may spoil it.

    Attributes
    ----------
    told : Message
        What it is and where, one sentence.
    mend : sequence of Message
        What mends it, a line each: commands, and lines of a file.
    in_the_way : bool
        Whether a soak would be refused or could not begin; else it may spoil one.
    """

    told: Message
    mend: Sequence[Message]
    in_the_way: bool = True


@dataclass(frozen=True, slots=True)
class Unseen:
    """What could not be looked at here, and how it can be: it is no trouble, and said."""

    told: Message


Finding = Trouble | Unseen


def command(text: str) -> Message:
    """Return a command, or a line of a file, as a person types it: it is in no language."""
    return just(text)
