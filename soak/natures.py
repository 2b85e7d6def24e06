"""What an instrument is, said once: a device, a hand, or something that is no instrument at all.

The bench finds it out when an instrument is opened (`soak.bench.nature`) and freezes it with the
identity in the header; the judgement and the pages ask here what it means.
"""

from collections.abc import Mapping
from enum import StrEnum

from soak.frozen.fixture import Fixture
from soak.frozen.shape import Json
from soak.words import Message, msg


class Nature(StrEnum):
    """What an instrument is, as a header holds it."""

    DEVICE = "device"
    ADDRESS = "address"
    HAND = "by hand"
    SIMULATED = "simulated"
    RECORDING = "recording"
    FILE = "plain file"
    FOLDER = "plain folder"
    TERMINAL = "pseudo-terminal"
    PROGRAM = "program"
    UNKNOWN = "unknown"
    """The system does not tell."""
    NOT_RECORDED = "not recorded"
    """The soak was begun by a program that did not look."""


NO_INSTRUMENT = frozenset(
    {Nature.RECORDING, Nature.FILE, Nature.FOLDER, Nature.TERMINAL, Nature.PROGRAM}
)
"""What only stands in for an instrument: what it shows, a person or a program made, and no unit."""

KINDS: Mapping[Nature, Message] = {
    Nature.DEVICE: msg("a device"),
    Nature.ADDRESS: msg("a device at an address of the network"),
    Nature.HAND: msg("worked or read by hand"),
    Nature.SIMULATED: msg("simulated"),
    Nature.RECORDING: msg("a recording"),
    Nature.FILE: msg("an ordinary file"),
    Nature.FOLDER: msg("a folder of the bench's own computer"),
    Nature.TERMINAL: msg("a pseudo-terminal"),
    Nature.PROGRAM: msg("a program on the bench's own computer"),
    Nature.UNKNOWN: msg("of a kind that this system does not tell"),
    Nature.NOT_RECORDED: msg("of a kind that was not recorded"),
}
"""What each is called."""

_WORKED_BY: Mapping[str, Nature] = {"simulated": Nature.SIMULATED, "by_hand": Nature.HAND}
"""Drivers that say it by their kind, in old headers too."""


def nature_of(fixture: Fixture, source: str) -> Nature:
    """Return what an instrument of a fixture is."""
    nature = fixture.identity(source).nature
    if nature in set(Nature):
        return Nature(nature)
    return _WORKED_BY.get(fixture.wired[source].driver, Nature.NOT_RECORDED)


_KNOWN_BY = frozenset(
    {
        *("nature", "card", "adapter", "stick_id", "serial"),
        *("file", "device", "hubs", "stand_in", "source"),
    }
)
"""What of an identity tells an instrument from another, and stays when it is plugged in anew."""


def what_it_is_known_by(fixture: Fixture, source: str) -> Json:
    """Return what of its identity tells an instrument from another."""
    known = fixture.identity(source).told
    return {key: known[key] for key in sorted(_KNOWN_BY & set(known))}


def was_looked_at(fixture: Fixture, source: str) -> bool:
    """Tell whether the program that began the soak found out what an instrument is."""
    return bool(fixture.identity(source).nature)
