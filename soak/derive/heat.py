"""How a unit warmed and cooled at its spots: ends of runs, cool-downs, heat-and-cool cycles."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from soak.derive.course import Course
from soak.derive.spans import Span, inside, merged, minus, touching
from soak.evidence import Floats
from soak.frozen.fixture import Fixture
from soak.frozen.references import HeatReference
from soak.measure.heating import FEWEST_READINGS, Fit, TooEarly, fit_curve, predict_end
from soak.words import Amount, msg

SHORTEST_RUN_S = 2700.0
"""A shorter run with power tells nothing of the heat in the end: a case warms with time constants
of 20 min to 40 min, which half an hour hides behind the faster heatsink. Our own choice."""

END_WITHIN_K = 2.0
"""An end in greater doubt than this is not told. Our own choice."""

SETTLED_WITHIN_K = 1.0
"""Where no curve can be fitted, so little movement in the whole later half of a run is taken for
the end. Our own choice."""

HOLE_S = 60.0
"""Shorter holes are bridged in a straight line. Our own choice."""

OFF_BLIND_S = 20.0
"""A body hidden behind a case goes on warming for a while after power off; so much of a cool-down
is left out. Our own choice."""


@dataclass(frozen=True, slots=True)
class Heat:
    """Temperatures at one spot over its surroundings.

    Attributes
    ----------
    t_s, rise_k : ndarray
        Shape (n,): readings that count, less the ambient where there is a probe of it.
    room_degc : ndarray or None
        The ambient that was taken off, shape (n,), degC; None: there is no probe of it.
    unseen : sequence of (float, float)
        When probe or ambient were blind.
    """

    t_s: Floats
    rise_k: Floats
    room_degc: Floats | None
    unseen: Sequence[Span]


@dataclass(frozen=True, slots=True)
class End:
    """Where a spot's rise ended.

    Attributes
    ----------
    rise_k : float
        Rise over ambient in the end, K.
    bound_low_k, bound_high_k : float
        Its bounds.
    how : str
        `"predicted"` by a curve, or `"read"` where it stood still.
    run : (float, float)
        The run with power.
    fit : Fit or None
        The curve.
    """

    rise_k: float
    bound_low_k: float
    bound_high_k: float
    how: str
    run: Span
    fit: Fit | None


@dataclass(frozen=True, slots=True)
class HeatCycle:
    """One cool-down with the warm-up that followed.

    Attributes
    ----------
    spot : str
        The probe whose temperature swung most.
    from_s, to_s : float
        From power off to the end of the run after it.
    range_k : float
        The smaller of fall and rise.
    rate_k_per_min : float
        Of the warm-up, between 10 % and 90 % of its rise.
    """

    spot: str
    from_s: float
    to_s: float
    range_k: float
    rate_k_per_min: float


def spots_of(fixture: Fixture) -> list[str]:
    """Return the probes that sit at a spot of the unit, as quantities."""
    wired = fixture.probes
    return [
        f"probe.{name}"
        for name, entry in wired.items()
        if entry.unit == "degC" and entry.spot not in ("", "ambient")
    ]


def ambient_of(fixture: Fixture) -> str:
    """Return the probe of the surroundings; empty if there is none."""
    wired = fixture.probes
    names = (f"probe.{name}" for name, entry in wired.items() if entry.spot == "ambient")
    return next(names, "")


def heat_at(course: Course, quantity: str) -> Heat:
    """Return the rise of one spot over the whole soak."""
    t_s, degc = course.series(quantity)
    blind = course.blind(quantity)
    ambient = ambient_of(course.header.fixture)
    base_t, base = course.series(ambient) if ambient else (t_s[:0], degc[:0])
    if not len(base_t):
        keep = ~inside(t_s, blind)
        return Heat(t_s[keep], degc[keep], None, blind)
    blind = merged([*blind, *course.blind(ambient)])
    keep = ~inside(t_s, blind)
    room_degc = np.interp(t_s, base_t, base)[keep]
    return Heat(t_s[keep], degc[keep] - room_degc, room_degc, blind)


def last_end(course: Course, quantity: str) -> End | TooEarly:
    """Return where the rise ended in the last run with power that is long enough."""
    heat = heat_at(course, quantity)
    if heat.room_degc is None:
        return NO_ROOM
    broken = [hole for hole in heat.unseen if hole[1] - hole[0] > HOLE_S]
    runs = [run for run in course.power if run[1] - run[0] >= SHORTEST_RUN_S]
    whole = [run for run in runs if touching(*run, broken) is None]
    if not whole:
        why = msg("there is no unbroken run of {time} with power", time=Amount(SHORTEST_RUN_S, "s"))
        return TooEarly(why, SHORTEST_RUN_S)
    begin_s, end_s = whole[-1]
    here = (heat.t_s >= begin_s) & (heat.t_s <= end_s)
    return end_of_run(heat.t_s[here], heat.rise_k[here], heat.room_degc[here], END_WITHIN_K)


NO_ROOM = TooEarly(
    msg("no probe measured the room, and how it swings would pass for the unit's own warming"),
    None,
)


def foretold(heat: Heat, run: Span, within_k: float) -> Fit | TooEarly:
    """Return where the temperature of a run will end in a room as it was on average.

    Parameters
    ----------
    run : (float, float)
        Begin and end, s of soak time.
    """
    if heat.room_degc is None:
        return NO_ROOM
    here = (heat.t_s >= run[0]) & (heat.t_s <= run[1])
    t_s = heat.t_s[here]
    rise_k = heat.rise_k[here]
    room_degc = heat.room_degc[here]
    fit = end_in_room(t_s, rise_k, room_degc, within_k)
    if isinstance(fit, TooEarly):
        return fit
    room = float(np.mean(room_degc))
    ends = fit.end + room, fit.bound_low + room, fit.bound_high + room
    return replace(fit, end=ends[0], bound_low=ends[1], bound_high=ends[2])


def end_of_run(t_s: Floats, rise_k: Floats, room_degc: Floats, within_k: float) -> End | TooEarly:
    """Return where one run ends, by its curve or where it stands still."""
    early = end_in_room(t_s, rise_k, room_degc, within_k)
    if isinstance(early, Fit):
        run = (float(t_s[0]), float(t_s[-1]))
        return End(
            early.end, early.bound_low, early.bound_high, how="predicted", run=run, fit=early
        )
    half_s = (float(t_s[0]) + float(t_s[-1])) / 2 if len(t_s) else 0.0
    late = rise_k[t_s >= half_s]
    if len(late) >= FEWEST_READINGS and np.ptp(late) <= SETTLED_WITHIN_K and early.flat:
        middle = float(np.median(late))
        low = middle - SETTLED_WITHIN_K
        high = middle + SETTLED_WITHIN_K
        return End(middle, low, high, how="read", run=(float(t_s[0]), float(t_s[-1])), fit=None)
    return early


def end_in_room(t_s: Floats, rise_k: Floats, room_degc: Floats, within_k: float) -> Fit | TooEarly:
    """Foretell the end of a rise, in doubt by as much as the room swung meanwhile.

    A body follows a swing of hours late and less than the probe of the room does, so what is taken
    off leaves some of it. Held to by `benchmarks/end_of_curve.py`.
    """
    fit = predict_end(t_s, rise_k, within_k)
    if isinstance(fit, TooEarly):
        return fit
    parts = [np.median(part) for part in np.array_split(room_degc, _ROOM_PARTS)]
    swung_k = float(np.ptp(parts))
    low = fit.bound_low - swung_k
    high = fit.bound_high + swung_k
    if (high - low) / 2 > within_k:
        return TooEarly(
            msg(
                "the room swung by {swing} meanwhile, and the end is known to {half} only",
                swing=Amount(swung_k, "K"),
                half=Amount((high - low) / 2, "K"),
            ),
            None,
        )
    return replace(fit, bound_low=low, bound_high=high)


_ROOM_PARTS = 12
"""The room's swing is that of the medians of so many parts of a run: noise is none. Our own
choice."""


def cool_down(course: Course, quantity: str) -> Fit | TooEarly:
    """Fit the longest run without power; its time constant is that of the unit at rest."""
    heat = heat_at(course, quantity)
    off = minus(course.session_spans, course.power)
    off = [span for span in off if any(end == span[0] for _, end in course.power)]
    if not off:
        return TooEarly(msg("the power was never off after a run"), None)
    begin_s, end_s = max(off, key=lambda span: span[1] - span[0])
    here = (heat.t_s >= begin_s + OFF_BLIND_S) & (heat.t_s <= end_s)
    if not here.any():
        return TooEarly(msg("nothing was read while the power was off"), None)
    fit = fit_curve(heat.t_s[here], heat.rise_k[here])
    if fit is None or fit.span_s < fit.slowest_s:
        longest_s = fit.slowest_s - fit.span_s if fit else None
        return TooEarly(msg("the power was off too short a time to see it cool down"), longest_s)
    return fit


def heat_cycles(course: Course, range_k: float = 0.0) -> list[HeatCycle]:
    """Return the heat-and-cool cycles of at least `range_k`, each at the spot that swung most."""
    heats = {name: heat_at(course, name) for name in spots_of(course.header.fixture)}
    cycles = []
    for before, after in pairwise(course.power):
        swings = [
            swing
            for name, heat in heats.items()
            if (swing := _swing(name, heat, before, after)) is not None
        ]
        most = max(swings, key=lambda swing: swing.range_k, default=None)
        if most is not None and most.range_k >= range_k:
            cycles.append(most)
    return cycles


def _swing(spot: str, heat: Heat, before: Span, run: Span) -> HeatCycle | None:
    """Return how far one spot fell after the run before and rose again in a run."""
    off_s = before[1]
    here = (heat.t_s >= max(before[0], off_s - HOLE_S)) & (heat.t_s <= run[1])
    t_s = heat.t_s[here]
    rise_k = heat.rise_k[here]
    if touching(off_s, run[1], [h for h in heat.unseen if h[1] - h[0] > HOLE_S]) is not None:
        return None
    if len(t_s) < 3:
        return None
    coolest = int(np.argmin(rise_k))
    fall_k = float(np.max(rise_k[: coolest + 1]) - rise_k[coolest])
    t_up = t_s[coolest:]
    up = rise_k[coolest:]
    gain_k = float(np.max(up) - up[0])
    if gain_k <= 0:
        return None
    at = [float(t_up[np.argmax(up >= up[0] + share * gain_k)]) for share in (0.1, 0.9)]
    minutes = max(at[1] - at[0], 1e-9) / 60
    return HeatCycle(
        spot, off_s, run[1], range_k=min(fall_k, gain_k), rate_k_per_min=0.8 * gain_k / minutes
    )


def heat_reference_of(course: Course) -> HeatReference | None:
    """Return rises by spot with the current drawn; None where no spot's end can be told."""
    wired = course.header.fixture.probes
    ends: dict[str, End] = {}
    for quantity in spots_of(course.header.fixture):
        reached = last_end(course, quantity)
        if isinstance(reached, End):
            ends[wired[quantity.removeprefix("probe.")].spot] = reached
    if not ends:
        return None
    run = next(iter(ends.values())).run
    return HeatReference(
        soak_id=course.header.soak_id,
        tag=course.header.unit.tag,
        rises_k={spot: round(end.rise_k, 3) for spot, end in ends.items()},
        how={spot: end.how for spot, end in ends.items()},
        drawn_a=drawn_a(course, run),
    )


def drawn_a(course: Course, run: Span) -> float | None:
    """Return the median current over the last half of a run, A; None without a probe of it."""
    wired = course.header.fixture.probes
    name = next((f"probe.{name}" for name, entry in wired.items() if entry.unit == "A"), "")
    if not name:
        return None
    t_s, value = course.series(name)
    late = (t_s >= (run[0] + run[1]) / 2) & (t_s <= run[1])
    return round(float(np.median(value[late])), 4) if late.any() else None
