"""Whether a load on a port drew anything: a relay answers for an open resistor, too."""

from collections.abc import Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.spans import Span, inside
from soak.evidence import Floats
from soak.words import NOTHING_SAID, Message, Stated, msg

FALLS_V = 0.01
"""A voltage that falls by less as the load comes shows no load, V. Our own choice: two contacts of
a plug with 10 milliohm each, as new ones have by their makers, at half an ampere."""
DRAWS_SHARE = 0.8
"""A meter at the port must see so much of what the load is to draw. Our own choice."""
FEWEST = 7
"""Of fewer readings on either side a meter's noise makes a fall. Our own choice: that all of seven
lie below all of seven others comes by chance in 1 of 3432 (Mann & Whitney 1947)."""
BEFORE_S = 60.0
"""A voltage with the load is compared with that of so long before it came, s. Our own choice."""


def load_unseen(
    course: Course, stretch: str, port: str, loaded: Sequence[Span], settles_s: float
) -> Message:
    """Say why nothing shows that the load drew current; empty if something does.

    A meter of the current at the port decides where there is one; else the voltage at any of the
    unit's ports, which must have fallen each time.

    Parameters
    ----------
    port : str
        The port that is loaded.
    loaded : sequence of (float, float)
        When the load was on, s.
    settles_s : float
        Readings so shortly after a switching are left out, s.
    """
    at_ports = {
        f"probe.{name}": (str(one.get("unit")), str(one["at_port"]))
        for name, one in course.header.fixture.get("probe", {}).items()
        if one.get("at_port")
    }
    meters = [source for source, what in at_ports.items() if what == ("A", port)]
    wanted_a = float(course.header.fixture.get("load", {}).get("current_a") or 0.0)
    if meters:
        drew = min(_levels(course.series(meters[0], stretch), loaded, settles_s)[0], default=0.0)
        if drew >= DRAWS_SHARE * wanted_a:
            return NOTHING_SAID
        return msg(
            "the load drew {drew} of {wanted}: look at its relay and resistor",
            drew=Stated(round(drew, 3), "A"),
            wanted=Stated(wanted_a, "A"),
        )
    for source in (source for source, (unit, _) in at_ports.items() if unit == "V"):
        with_load, before = _levels(course.series(source, stretch), loaded, settles_s)
        falls = [was - now for was, now in zip(before, with_load, strict=True)]
        if falls and min(falls) >= FALLS_V:
            return NOTHING_SAID
    return msg(
        "no voltage fell as the load came, so nothing shows that it drew anything: look at its "
        "relay and resistor"
    )


def _levels(
    series: tuple[Floats, Floats], loaded: Sequence[Span], settles_s: float
) -> tuple[list[float], list[float]]:
    """Return the middle reading with the load and before it, for each time that both were read."""
    t_s, value = series
    with_load, before = [], []
    ended_s = -np.inf
    for begin_s, end_s in loaded:
        on = inside(t_s, [(begin_s + settles_s, end_s)])
        off = inside(t_s, [(max(ended_s + settles_s, begin_s - BEFORE_S), begin_s - settles_s)])
        if min(int(on.sum()), int(off.sum())) >= FEWEST:
            with_load.append(float(np.median(value[on])))
            before.append(float(np.median(value[off])))
        ended_s = end_s
    return with_load, before
