"""Readings of a temperature that no body can have had: garbled on their way to the bench, or torn.

A body gives back what it gained by Newton's law of cooling: a time `dt` later at least the share
`exp(-dt / tau)` of it is left. So one reading that stands alone, with the next ones back where the
ones before were, was no body's as long as readings follow each other more quickly than it forgets.
What lasts two readings or more is never set aside, however strange.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from soak.derive.spans import Span, runs
from soak.evidence import Floats

QUICKEST_TAU_S = 30.0
"""No spot that a probe sits on has a shorter time constant, s: our own choice, a quarter of the
2 min below which a spot that cools with its power on is taken for a probe that came off."""

LEFT_SHARE = 0.1
"""With more of an excursion than this left at the next reading, that is a second reading of it. Our
own choice."""

REACH_S = QUICKEST_TAU_S * math.log(1.0 / LEFT_SHARE)
"""After so long the quickest body keeps no more than that (Newton's law of cooling), about 69 s:
readings further apart say nothing of each other."""

HOTTEST_DEGC = 300.0
"""No spot on a unit is hotter, degC: the highest limit that a model sheet may state. Our own
choice."""
COLDEST_DEGC = -50.0
"""A spot on a unit is within these, as a model sheet's limits must be, and so is whatever warms or
cools it. What lies outside comes from a torn or shorted probe, or from a garbled word. Our own
choice."""

SAME_TIME_S = 0.002
"""A trip is told with the time of its reading; a journal may round it, s. Own choice: twice a
millisecond, to which a time is rounded."""

NOISES = 8.0
"""What stands out by less than so many times the readings' own noise is noise. Our own choice."""
LEAST_K = 1.0
"""What stands out by less than so many times the readings' own noise, or by less than so many K,
is noise. Both are our own choice."""


@dataclass(frozen=True, slots=True)
class Aside:
    """Readings that count for nothing.

    Attributes
    ----------
    garbled : sequence of (float, float)
        Time in s and value in degC of single readings that no body can have had.
    unconfirmed : sequence of (float, float)
        The same of readings that a guard tripped on, far from the one before, with none after them.
    torn : sequence of (float, float)
        From when until when a probe read, time after time, what no spot on a unit can have.
    at_s : ndarray
        Times of all readings that do not count, shape (n,), s.
    """

    garbled: Sequence[tuple[float, float]] = ()
    unconfirmed: Sequence[tuple[float, float]] = ()
    torn: Sequence[Span] = ()
    at_s: Floats = field(default_factory=lambda: np.empty(0))


def set_aside(t_s: Floats, degc: Floats, trips_s: Sequence[float] = ()) -> Aside:
    """Tell which readings do not count.

    Parameters
    ----------
    t_s, degc : ndarray
        Readings of one temperature, shape (n,), in order of time.
    trips_s : sequence of float
        When a guard cut the power for a reading of it, s.
    """
    outside = ~in_range(degc)
    within = np.flatnonzero(~outside)
    pairs = np.concatenate(([False], outside[1:] & outside[:-1], [False]))
    lasting = (pairs[1:] | pairs[:-1])[: len(t_s)]
    lone = within[alone(t_s[within], degc[within])]
    waits = within[_unconfirmed(t_s[within], degc[within], trips_s)]
    garbled = np.union1d(lone, np.flatnonzero(outside & ~lasting))
    not_counted = np.concatenate((np.flatnonzero(outside), lone, waits))
    return Aside(
        _pairs(t_s, degc, garbled),
        _pairs(t_s, degc, waits),
        runs(t_s, lasting),
        t_s[not_counted],
    )


def _pairs(t_s: Floats, degc: Floats, at: NDArray[np.int_]) -> list[tuple[float, float]]:
    return [(float(t_s[place]), float(degc[place])) for place in at]


def _unconfirmed(t_s: Floats, degc: Floats, trips_s: Sequence[float]) -> NDArray[np.int_]:
    """Return the places of readings that tripped a guard and had none beside them to speak."""
    places = []
    for trip_s in trips_s:
        at = int(np.searchsorted(t_s, trip_s - SAME_TIME_S))
        beside = t_s[at : at + 2] - trip_s
        there = len(beside) > 0 and beside[0] <= SAME_TIME_S
        last = len(beside) < 2 or beside[1] > REACH_S
        if there and last and jumped(t_s, degc, at):
            places.append(at)
    return np.array(places, dtype=np.int_)


def in_range(degc: Floats) -> NDArray[np.bool_]:
    """Tell which temperatures a spot on a unit can have."""
    return np.asarray((degc > COLDEST_DEGC) & (degc < HOTTEST_DEGC))


def alone(t_s: Floats, degc: Floats) -> NDArray[np.bool_]:
    """Tell which readings stand alone, as no body's temperature can.

    Parameters
    ----------
    t_s, degc : ndarray
        Readings within range, shape (n,), in order of time.

    Returns
    -------
    ndarray
        Shape (n,). The first reading after a gap is told from those after it alone; the last one
        before a gap never stands alone, for nothing came after it.
    """
    lone = np.zeros(len(t_s), dtype=bool)
    if len(t_s) < 3:
        return lone
    stands_k = _stands_out_k(degc)
    lone[1:-1] = _spikes(t_s, degc, stands_k)
    lone[:-2] |= _false_starts(t_s, degc, stands_k)
    beside = np.zeros(len(t_s), dtype=bool)
    beside[1:] |= lone[:-1]
    beside[:-1] |= lone[1:]
    return lone & ~beside


def jumped(t_s: Floats, degc: Floats, at: int) -> bool:
    """Tell whether a reading stands out from the one before it, or has none within reach."""
    if at == 0 or t_s[at] - t_s[at - 1] > REACH_S:
        return True
    return bool(abs(degc[at] - degc[at - 1]) > _stands_out_k(degc))


def _stands_out_k(degc: Floats) -> float:
    """Return by how much a reading must stand out to be more than noise, K.

    References
    ----------
    The median absolute second difference of normal noise is 0.6745 sqrt(6) standard deviations
    (the normal's quartile; the variance of x1 - 2 x2 + x3 is 6 times that of x).
    """
    if len(degc) < 3:
        return LEAST_K
    noise_k = float(np.median(np.abs(np.diff(degc, 2)))) / (0.6745 * math.sqrt(6.0))
    return max(NOISES * noise_k, LEAST_K)


def _spikes(t_s: Floats, degc: Floats, stands_k: float) -> NDArray[np.bool_]:
    """Tell which of the readings but first and last left their neighbours' level and came back."""
    came_s = t_s[1:-1] - t_s[:-2]
    went_s = t_s[2:] - t_s[1:-1]
    up_k = degc[1:-1] - degc[:-2]
    down_k = degc[1:-1] - degc[2:]
    jump_k = np.minimum(np.abs(up_k), np.abs(down_k))
    near = (came_s <= REACH_S) & (went_s <= REACH_S)
    drift_k_per_s = _drift(t_s, degc)
    moved_k = degc[2:] - degc[:-2]
    undrifted_k = moved_k - drift_k_per_s * (came_s + went_s)
    back = np.minimum(np.abs(moved_k), np.abs(undrifted_k)) <= LEFT_SHARE * jump_k
    # A small body whose power was cut falls on past where it was: then it was no level.
    further_s = t_s[3:] - t_s[2:-1]
    falls_k = degc[2:-1] - degc[3:]
    side = np.sign(up_k[:-1])
    least_k = np.minimum(side * falls_k, side * (falls_k + drift_k_per_s[:-1] * further_s))
    stays = np.ones(len(jump_k), dtype=bool)
    stays[:-1] = (least_k <= LEFT_SHARE * jump_k[:-1]) | (further_s > REACH_S)
    return np.asarray(near & (up_k * down_k > 0) & (jump_k > stands_k) & back & stays)


def _drift(t_s: Floats, degc: Floats) -> Floats:
    """Return how fast the level itself moves at each reading but first and last, K/s.

    That is what the slopes before and after a reading have in common: the smaller of the two, none
    where they differ in direction. An excursion warms before and cools after, and has none.
    """
    slope = np.diff(degc) / np.maximum(np.diff(t_s), 1e-9)
    slope[np.diff(t_s) > REACH_S] = 0.0
    before = np.concatenate(([0.0], slope[:-2]))
    after = np.concatenate((slope[2:], [0.0]))
    common = np.minimum(np.abs(before), np.abs(after)) * np.sign(before)
    return np.asarray(np.where(before * after > 0, common, 0.0))


def _false_starts(t_s: Floats, degc: Floats, stands_k: float) -> NDArray[np.bool_]:
    """Tell which readings but the last two begin after a gap, off the level of those after them.

    That level must be further away than a body cools in that time, were it in the coldest place or
    the hottest there is.
    """
    begins = np.concatenate(([True], np.diff(t_s) > REACH_S))[:-2]
    dt_s = t_s[1:-1] - t_s[:-2]
    jump_k = np.abs(degc[1:-1] - degc[:-2])
    cools = degc[:-2] > degc[1:-1]
    towards_k = np.where(cools, degc[:-2] - COLDEST_DEGC, HOTTEST_DEGC - degc[:-2])
    at_most_k = towards_k * -np.expm1(-dt_s / QUICKEST_TAU_S)
    near = (dt_s <= REACH_S) & (t_s[2:] - t_s[1:-1] <= REACH_S)
    level = np.abs(degc[2:] - degc[1:-1]) <= LEFT_SHARE * jump_k
    return np.asarray(begins & near & level & (jump_k > np.maximum(at_most_k, stands_k)))
