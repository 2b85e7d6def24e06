"""Curves of heating and cooling: where they end, how fast, and how far a fit may be believed."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soak.evidence import Floats
from soak.words import Amount, Message, Number, counted, msg

MOST_READINGS = 400
"""A curve of so many evenly chosen readings is fitted; more cost time and tell nothing new. Our own
choice."""

FEWEST_READINGS = 12
"""From fewer readings no curve is fitted: four unknown figures need some times as many. Our own
choice."""
TWO_IF_LOWER = 0.9
"""A second exponential counts where it brings the residual below so much of that of the first
alone. Our own choice."""
LEAST_SHARE = 0.01
"""A second exponential must have so large a share of the larger one's rise. Our own choice."""

SPAN_TAU = 1.5
"""A run shorter than so many of its own time constants says little about its end: with less than 78
% of the way behind it, slowness and a high end look alike. Our own choice."""

HIDDEN_SLOWER = 2.0
"""A body so much slower than the slowest seen may hide in a curve that looks whole; the bounds of
the end allow for it. Our own choice."""

CONFIDENCE = 0.95
"""Of the bounds of an end. Common practice."""

_SINGULAR, _NOTHING = 1e8, 1e-9
"""A fit whose slopes are so nearly alike has no bounds; what moves it by less than so large a share
of the most moves nothing. Our own choice."""
_TAU_SPAN = (0.02, 20.0)
"""Time constants tried, as shares of the run. These figures are our own choice."""


@dataclass(frozen=True, slots=True)
class Term:
    """One exponential: `rise exp(-t / tau_s)` below (or above) the end."""

    rise: float
    tau_s: float


@dataclass(frozen=True, slots=True)
class Fit:
    """A curve `end + sum of terms` through readings.

    Attributes
    ----------
    end, bound_low, bound_high : float
        Where it ends, with bounds at `CONFIDENCE`; they allow for one hidden slower body.
    terms : sequence of Term
        Fastest first; `rise` is negative where the curve rises towards the end.
    rms, worst : float
        Root mean square and largest absolute residual: a fit without them is worth nothing.
    span_s : float
        Length of the run.
    """

    end: float
    bound_low: float
    bound_high: float
    confidence: float
    terms: Sequence[Term]
    rms: float
    worst: float
    span_s: float

    @property
    def slowest_s(self) -> float:
        """The longest time constant, s."""
        return max(term.tau_s for term in self.terms)

    def at(self, t_s: Floats) -> Floats:
        """Return the curve `t_s` after its beginning."""
        parts = [term.rise * np.exp(-t_s / term.tau_s) for term in self.terms]
        return np.asarray(self.end + np.sum(parts, axis=0), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class TooEarly:
    """No end can be told yet.

    Attributes
    ----------
    why : Message
        In small letters and without a full stop.
    wait_s : float or None
        How much longer to let it run, s; None where time alone would not help.
    flat : bool
        Whether there is no bend at all, and so no curve.
    """

    why: Message
    wait_s: float | None
    flat: bool = False


def fit_one(t_s: Floats, value: Floats) -> Fit | None:
    """Fit Newton's law, one exponential; None if the readings are too few or have no bend.

    Parameters
    ----------
    t_s, value : ndarray
        Readings of one unbroken run without a change of power, shape (n,).

    References
    ----------
    Newton's law of cooling; separable least squares: Golub & Pereyra, SIAM J. Numer. Anal. 10
    (1973) 413-432.
    """
    run = _thinned(t_s, value)
    if run is None:
        return None
    from scipy.optimize import minimize_scalar

    when, values, span_s = run

    def misfit(log_tau: float) -> float:
        return _solve(when, values, [math.exp(log_tau)])[1]

    grid = _log_taus(span_s, 40)
    best = int(np.argmin([misfit(float(log)) for log in grid]))
    if best in (0, len(grid) - 1):
        return None
    least = minimize_scalar(misfit, bounds=(grid[best - 1], grid[best + 1]), method="bounded")
    return _as_fit(when, values, [math.exp(float(least.x))])


def fit_two(t_s: Floats, value: Floats) -> Fit | None:
    """Fit two exponentials, a fast body within a slow one; None if two cannot be told apart."""
    run = _thinned(t_s, value)
    if run is None:
        return None
    from scipy.optimize import minimize

    when, values, span_s = run

    def misfit(logs: Floats) -> float:
        fast, slow = sorted(math.exp(float(log)) for log in logs)
        if slow < 1.5 * fast or slow > 5 * _TAU_SPAN[1] * span_s or fast < when[1] / 10:
            return math.inf
        return _solve(when, values, [fast, slow])[1]

    grid = _log_taus(span_s, 14)
    tried = [(misfit(np.array([a, b])), a, b) for at, a in enumerate(grid) for b in grid[at + 1 :]]
    least, a, b = min(tried)
    if not math.isfinite(least):
        return None
    best = minimize(misfit, np.array([a, b]), method="Nelder-Mead", options={"xatol": 1e-5})
    taus = sorted(math.exp(float(log)) for log in best.x)
    return _as_fit(when, values, taus)


def fit_curve(t_s: Floats, value: Floats) -> Fit | None:
    """Fit one exponential, or two where those leave a clearly smaller residual."""
    one = fit_one(t_s, value)
    two = fit_two(t_s, value)
    if one is None or two is None:
        return one or two
    rises = [abs(term.rise) for term in two.terms]
    real = two.slowest_s < _TAU_SPAN[1] * two.span_s and min(rises) > LEAST_SHARE * max(rises)
    return two if two.rms < TWO_IF_LOWER * one.rms and real else one


def predict_end(t_s: Floats, value: Floats, within: float) -> Fit | TooEarly:
    """Tell where a run will end, to `within` on either side, or how much longer it must go on."""
    span_s = float(t_s[-1] - t_s[0]) if len(t_s) else 0.0
    if len(t_s) < FEWEST_READINGS:
        why = counted(
            len(t_s), "1 reading is too few for a curve", "{count} readings are too few for a curve"
        )
        return TooEarly(why, None)
    fit = fit_curve(t_s, value)
    if fit is None:
        return TooEarly(msg("the readings do not bend towards an end yet"), span_s, flat=True)
    if fit.span_s < SPAN_TAU * fit.slowest_s:
        return _too_short(fit)
    half = (fit.bound_high - fit.bound_low) / 2
    if not math.isfinite(half):
        why = msg("the readings do not tell its end from a slow drift")
        return TooEarly(why, span_s, flat=True)
    return _too_vague(fit, half, within) if half > within else fit


def _too_short(fit: Fit) -> TooEarly:
    missing_s = SPAN_TAU * fit.slowest_s - fit.span_s
    why = msg(
        "the run of {run} is shorter than {number} time constants of {tau}; about {missing} more "
        "are needed",
        run=Amount(fit.span_s, "s"),
        number=Number(SPAN_TAU, "g"),
        tau=Amount(fit.slowest_s, "s"),
        missing=Amount(missing_s, "s"),
    )
    return TooEarly(why, missing_s)


def _too_vague(fit: Fit, half: float, within: float) -> TooEarly:
    # What is left to happen falls off with the slowest time constant, and the doubt with it.
    missing_s = fit.slowest_s * max(0.5, math.log(half / within))
    why = msg(
        "the end is known to {half} only, {within} are asked; about {missing} more are needed",
        half=Amount(half, "K"),
        within=Amount(within, "K"),
        missing=Amount(missing_s, "s"),
    )
    return TooEarly(why, missing_s)


def at_rated_ambient(degc: float, ambient_degc: float, rated_degc: float) -> float:
    """Return what a part would reach at the rated ambient temperature, its rise unchanged.

    Not for touch limits: those are absolute and hold in a room of 25 degC (IEC 62368-1, not
    checked against its own text), whatever ambient the unit is rated for.

    References
    ----------
    IEC 60950-1, 1.4.12 (rise taken as independent of ambient).
    """
    return degc + (rated_degc - ambient_degc)


def _thinned(t_s: Floats, value: Floats) -> tuple[Floats, Floats, float] | None:
    if len(t_s) < FEWEST_READINGS or t_s[-1] <= t_s[0]:
        return None
    keep = np.unique(np.linspace(0, len(t_s) - 1, MOST_READINGS).round().astype(int))
    when = np.asarray(t_s[keep] - t_s[0], dtype=np.float64)
    return when, np.asarray(value[keep], dtype=np.float64), float(when[-1])


def _log_taus(span_s: float, number: int) -> Floats:
    """Return logarithms of time constants to try."""
    shortest, longest = _TAU_SPAN
    return np.linspace(math.log(shortest * span_s), math.log(longest * span_s), number)


def _solve(when: Floats, values: Floats, taus: Sequence[float]) -> tuple[Floats, float]:
    """Return end and rises for given time constants, with the sum of squares."""
    columns = np.stack([np.ones_like(when), *(np.exp(-when / tau) for tau in taus)], axis=1)
    solved = np.linalg.lstsq(columns, values, rcond=None)[0]
    return solved, float(np.sum((values - columns @ solved) ** 2))


def _as_fit(when: Floats, values: Floats, taus: Sequence[float]) -> Fit:
    solved, squares = _solve(when, values, taus)
    terms = [Term(float(rise), tau) for rise, tau in zip(solved[1:], taus, strict=True)]
    end = float(solved[0])
    columns = _slopes(when, terms)
    left = values - end - np.sum([term.rise * np.exp(-when / term.tau_s) for term in terms], axis=0)
    moved = 0.0
    half = _step(columns, left)[1]
    hidden = np.exp(-when / (HIDDEN_SLOWER * max(taus)))
    further, wider = _step(np.column_stack([columns, hidden]), left)
    low = min(moved - half, further - wider)
    high = max(moved + half, further + wider)
    rms = math.sqrt(squares / len(when))
    worst = float(np.max(np.abs(left)))
    return Fit(
        end,
        end + low,
        end + high,
        confidence=CONFIDENCE,
        terms=terms,
        rms=rms,
        worst=worst,
        span_s=float(when[-1]),
    )


def _slopes(when: Floats, terms: Sequence[Term]) -> Floats:
    """Return how the curve moves with the end, each rise and each time constant."""
    columns = [np.ones_like(when)]
    for term in terms:
        falls = np.exp(-when / term.tau_s)
        columns += [falls, term.rise * when / term.tau_s**2 * falls]
    return np.stack(columns, axis=1)


def _step(slopes: Floats, left: Floats) -> tuple[float, float]:
    """Return how far the residuals move the end, and the half-width of its bounds.

    Residuals that hang together count as fewer.

    References
    ----------
    Linearised least squares: Seber & Wild, Nonlinear Regression (1989), 2.1.3; effective number of
    readings n (1 - r) / (1 + r), r the correlation of neighbours: Bartlett, Journal of the Royal
    Statistical Society 98 (1935) 536-543.
    """
    from scipy.stats import t

    size = np.linalg.norm(slopes, axis=0)
    moves = size > _NOTHING * size[0]
    slopes = slopes[:, moves]
    size = size[moves]
    if np.linalg.cond(slopes / size) > _SINGULAR:
        return 0.0, math.inf
    inverse = np.linalg.pinv(slopes / size)
    moved = inverse @ left
    rest = left - slopes / size @ moved
    spread = float(rest @ rest)
    tied = float(rest[1:] @ rest[:-1]) / spread if spread > 0 else 0.0
    tied = min(max(tied, 0.0), 0.98)
    free = max(len(left) * (1 - tied) / (1 + tied) - slopes.shape[1], 2.0)
    half = float(t.ppf((1 + CONFIDENCE) / 2, free)) * math.sqrt(spread / free)
    return float(moved[0] / size[0]), half * float(np.linalg.norm(inverse[0]) / size[0])
