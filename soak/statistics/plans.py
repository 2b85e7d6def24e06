"""Truncated sequential plans: stop early by a rule fixed before, with the true risks of that rule.

An open-ended sequential test may go on for ever and its nominal risks are only nearly right. Here
each plan has a longest length, and its risks are computed exactly, step by step.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from scipy.special import gammainc, gammaln


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a plan does to units of one kind.

    Attributes
    ----------
    accepted : float
        Chance that the plan ends by accepting; the rest ends by rejecting.
    expected : float
        Mean length: starts, or time in the plan's measurement unit.
    accepted_with : tuple of float
        Chance that it ends by accepting with 0, 1, 2, ... failures.
    """

    accepted: float
    expected: float
    accepted_with: tuple[float, ...] = ()


@dataclass(frozen=True)
class StartsPlan:
    """A truncated sequential plan for starts.

    Attributes
    ----------
    accept_up_to, reject_from : sequence of int
        For each number of starts from 1 on: accept with so many failures or fewer (-1: not yet),
        reject with so many or more. At the last one, every count decides.
    """

    accept_up_to: Sequence[int]
    reject_from: Sequence[int]

    def __post_init__(self) -> None:
        if len(self.accept_up_to) != len(self.reject_from) or not self.accept_up_to:
            raise ValueError("a plan has one accepting and one rejecting number for each start")
        if self.reject_from[-1] != self.accept_up_to[-1] + 1:
            raise ValueError("a plan that does not decide at its last start is not truncated")

    @property
    def longest(self) -> int:
        """The largest number of starts it may take."""
        return len(self.accept_up_to)

    @property
    def shortest(self) -> int:
        """The smallest number of starts, none failed, that it accepts after."""
        return 1 + next(at for at, number in enumerate(self.accept_up_to) if number >= 0)

    def outlook(self, bad_share: float) -> Outlook:
        """Return what the plan does to a unit of which `bad_share` of the starts fail.

        Raises
        ------
        ValueError
            If `bad_share` is no share.
        """
        if not 0 <= bad_share <= 1:
            raise ValueError(f"{bad_share} is no share; it lies from 0 to 1")
        chances = np.zeros(max(self.reject_from) + 2)
        accepted = np.zeros(self.accept_up_to[-1] + 1)
        expected = 0.0
        chances[0] = 1.0
        for least, most in zip(self.accept_up_to, self.reject_from, strict=True):
            expected += chances.sum()
            chances[1:] = chances[1:] * (1 - bad_share) + chances[:-1] * bad_share
            chances[0] *= 1 - bad_share
            accepted[: least + 1] += chances[: least + 1]
            chances[: least + 1] = 0.0
            chances[most:] = 0.0
        return Outlook(float(accepted.sum()), float(expected), tuple(map(float, accepted)))


@dataclass(frozen=True)
class HoursPlan:
    """A truncated sequential plan for hours of running.

    Attributes
    ----------
    accept_at : sequence of float
        Accept as soon as so much time has passed with 0, 1, 2, ... failures.
    reject_at : sequence of float
        Reject if failure number 1, 2, 3, ... comes at this time or before; below 0: never by it.
        One more failure than `accept_at` has entries always rejects.
    """

    accept_at: Sequence[float]
    reject_at: Sequence[float]

    def __post_init__(self) -> None:
        if len(self.accept_at) != len(self.reject_at) or not self.accept_at:
            raise ValueError("a plan has one accepting and one rejecting time for each failure")
        if any(np.diff(self.accept_at) < 0) or any(np.diff(self.reject_at) < 0):
            raise ValueError("the times of a plan do not fall with the number of failures")
        if self.reject_at[-1] < self.accept_at[-1]:
            raise ValueError("a plan whose last failure does not reject is not truncated")

    @property
    def longest(self) -> float:
        """The longest time it may take."""
        return float(self.accept_at[-1])

    @property
    def shortest(self) -> float:
        """The time without a failure that it accepts after."""
        return float(self.accept_at[0])

    @cached_property
    def _steps(self) -> list[tuple[float, int, int]]:
        """Length of each step, failures that reject in it, failures accepted at its end."""
        edges = sorted({0.0, *self.accept_at, *(t for t in self.reject_at if t > 0)})
        steps = []
        for begin, end in pairwise(edges):
            rejects = 1 + sum(t < end for t in self.reject_at)
            accepts = sum(t <= end for t in self.accept_at)
            if begin < self.longest:
                steps.append((end - begin, rejects, accepts))
        return steps

    def outlook(self, mean_time: float) -> Outlook:
        """Return what the plan does to a unit that fails once in `mean_time` on the whole.

        Raises
        ------
        ValueError
            If the time is not a positive number.
        """
        if not math.isfinite(mean_time) or mean_time <= 0:
            raise ValueError(f"a mean time of {mean_time} is impossible")
        chances = np.zeros(len(self.reject_at) + 1)
        accepted = np.zeros(len(self.accept_at))
        expected = 0.0
        chances[0] = 1.0
        for length, rejects, accepts in self._steps:
            mean = length / mean_time
            going = chances[:rejects]
            # Time spent undecided: the integral of the chance of fewer than `rejects` failures.
            stays = np.cumsum(gammainc(np.arange(1, rejects + 1), mean)) * mean_time
            expected += float(going @ stays[rejects - 1 - np.arange(len(going))])
            moved = np.convolve(going, _poisson(mean, rejects))[:rejects]
            chances[:] = 0.0
            chances[: len(moved)] = moved
            accepted[:accepts] += chances[:accepts]
            chances[:accepts] = 0.0
        return Outlook(float(accepted.sum()), expected, tuple(map(float, accepted)))


def _poisson(mean: float, number: int) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return the chances of 0, 1, ... number - 1 events."""
    k = np.arange(number)
    return np.asarray(np.exp(k * math.log(mean) - mean - gammaln(k + 1)))
