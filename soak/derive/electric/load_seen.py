"""Whether a load on a port drew anything: a relay answers for an open resistor, too."""

from collections.abc import Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.spans import Span, common, inside, minus
from soak.evidence import Floats
from soak.words import NOTHING_SAID, Message, Stated, msg

FALLS_V = 0.01
"""A voltage that falls by less as the load comes shows no load, V. Our own choice: two contacts of
a plug with 10 milliohm each, as new ones have by their makers, at half an ampere."""
DRAWS_SHARE = 0.8
"""A meter at the port must see so much of what the load is to draw. Our own choice."""
FEWEST = 3
"""So few readings on either side of one switching say nothing. Our own choice."""
CHANCE = 0.001
"""All readings with the load lie lower than those without by chance so seldom at most, by the
one-sided test of Mann & Whitney (1947): a meter's noise makes a fall, too. Our own choice."""


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
        f"probe.{name}": (one.unit, one.at_port)
        for name, one in course.header.fixture.probes.items()
        if one.at_port
    }
    meters = [source for source, what in at_ports.items() if what == ("A", port)]
    load = course.header.fixture.load
    wanted_a = 0.0 if load is None else load.current_a
    if meters:
        read, _ = _read(course, meters[0], stretch, loaded=loaded, settles_s=settles_s)
        drew = min((float(np.median(value)) for value in read), default=0.0)
        if drew >= DRAWS_SHARE * wanted_a:
            return NOTHING_SAID
        return msg(
            "the load drew {drew} of {wanted}: look at its relay and resistor",
            drew=Stated(round(drew, 3), "A"),
            wanted=Stated(wanted_a, "A"),
        )
    for source in (source for source, (unit, _) in at_ports.items() if unit == "V"):
        with_load, without = _read(course, source, stretch, loaded=loaded, settles_s=settles_s)
        if not with_load or len(without) < FEWEST:
            continue
        middle_v = float(np.median(without))
        least_v = min(middle_v - float(np.median(value)) for value in with_load)
        if least_v >= FALLS_V and lower(np.concatenate(with_load), without):
            return NOTHING_SAID
    return msg(
        "no voltage fell as the load came, so nothing shows that it drew anything: look at its "
        "relay and resistor"
    )


def lower(with_load: Floats, without: Floats) -> bool:
    """Tell whether readings with the load lie lower than those without by more than chance."""
    from scipy.stats import mannwhitneyu  # takes half a second to load, and few soaks need it

    test = mannwhitneyu(with_load, without, alternative="less")
    return float(test.pvalue) <= CHANCE


def _read(
    course: Course, source: str, stretch: str, loaded: Sequence[Span], settles_s: float
) -> tuple[list[Floats], Floats]:
    """Return a probe's readings of each time that the load was on, and all without it."""
    t_s, value = course.series(source, stretch)
    own = common(course.windows(stretch), course.started)
    on = [inside(t_s, common(own, [(begin_s + settles_s, end_s)])) for begin_s, end_s in loaded]
    without = value[inside(t_s, minus(own, [(a - 0.5, b + settles_s) for a, b in loaded]))]
    return [value[at] for at in on if at.sum() >= FEWEST], without
