"""What only a unit with power makes an instrument see or read."""

from soak.frozen.fixture import Fixture
from soak.instruments import watchers_at

ON_V = 4.0
"""A USB port of the unit with more than that has power: a little less than the 4.40 V that USB 2.0
lets a low-power port fall to (from memory). Our own choice."""

LEAST_A, LEAST_W = 0.02, 0.1
"""Less than that drawn from its supply may be the probe's own error. Our own choice."""

WARMER_K = 5.0
"""A spot so much over the room, or over its own coolest where nobody measures the room, is warmed
by the unit: a room alone does not swing so far within a soak. Our own choice."""

PORT_SHOWS = ("through", "stood_in")
"""Ways in which a stick at the unit's port is seen only by a unit that runs."""


def at_unit(fixture: Fixture) -> list[str]:
    """Return the sources whose states show whether the unit runs, by what is wired and where."""
    shows = {"capture", *watchers_at(fixture)}
    if fixture.stick_path in PORT_SHOWS:
        shows.add("stick")
    return [source for source in fixture.wired if source in shows]
