"""Heating of a spot: exact first-order responses to power that goes on and off."""

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Term:
    """One first-order term: the rise in K it tends to at full power, and its time constant in s."""

    rise_k: float
    tau_s: float


@dataclass(slots=True)
class Heating:
    """The rise of one spot over ambient.

    Between two changes of power each term follows Newton's law of cooling,
    `T = Tf - (Tf - T0) exp(-t / tau)`, with the end value in proportion to power. Ambient is added
    by whoever asks: the spot is taken to follow the room at once, which is right for a room that
    drifts slowly against `tau`.

    References
    ----------
    Newton's law of cooling as in F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass
    Transfer, section "the lumped capacitance method"; not checked against the book.
    """

    terms: Sequence[Term]
    _at_s: list[float] = field(default_factory=lambda: [-np.inf])
    _rises_k: list[NDArray[np.float64]] = field(default_factory=list)
    _power: list[float] = field(default_factory=lambda: [0.0])

    def __post_init__(self) -> None:
        self._rises_k.append(np.zeros(len(self.terms)))

    @property
    def end_k(self) -> float:
        """The rise in K that the spot tends to in normal use."""
        return sum(term.rise_k for term in self.terms)

    def power(self, t_s: float, power: float) -> None:
        """Set the power (1: normal use) from `t_s` on; changes planned for later are dropped."""
        while self._at_s[-1] > t_s:
            self._at_s.pop()
            self._rises_k.pop()
            self._power.pop()
        self._rises_k.append(self._terms_k(len(self._at_s) - 1, np.array([t_s]))[:, 0])
        self._at_s.append(t_s)
        self._power.append(power)

    def rise_k(self, t_s: float) -> float:
        """Return the rise over ambient in K at `t_s`."""
        index = bisect_right(self._at_s, t_s) - 1
        since_s = t_s - self._at_s[index]
        power = self._power[index]
        rise_k = 0.0
        for term, begins_k in zip(self.terms, self._rises_k[index].tolist(), strict=True):
            ends_k = power * term.rise_k
            rise_k += ends_k - (ends_k - begins_k) * math.exp(-since_s / term.tau_s)
        return rise_k

    def rises_k(self, t_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the rise over ambient in K at each of the times, shape as given."""
        indices = np.searchsorted(self._at_s, t_s, side="right") - 1
        rises = np.empty(len(t_s))
        for index in np.unique(indices):
            here = indices == index
            rises[here] = self._terms_k(int(index), t_s[here]).sum(axis=0)
        return rises

    def _terms_k(self, index: int, t_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return each term's rise in K, shape (terms, times), from change number `index` on."""
        since_s = t_s - self._at_s[index]
        tau_s = np.array([[term.tau_s] for term in self.terms])
        ends_k = self._power[index] * np.array([[term.rise_k] for term in self.terms])
        begins_k = self._rises_k[index][:, None]
        return np.asarray(ends_k - (ends_k - begins_k) * np.exp(-since_s / tau_s))
