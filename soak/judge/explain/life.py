"""Times to failure of many units: survival, a Weibull fit, and the soak length that costs least.

For a bench's own come-backs, not for one unit's grade. A unit that was sold has passed a soak: its
failure would have been seen only from that age on (left truncation), and each function here takes
that age. With a handful of failures a fit is a curve through nothing, so it is refused.

Estimates are those of the library surpyval, which is an extra: `soak[lives]`.
"""

import math
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

from soak.errors import UsageError
from soak.words import Number, msg

FEWEST_FAILURES = 5
"""Below so many failures no fit is told (our own choice)."""
LEAST_SHAPE = 0.3
"""A fitted shape below this says that the data hold no scale to speak of (our own choice)."""
LEVEL = 0.90
"""Confidence of every interval here, two-sided. Our own choice."""
_DRAWS = 2000
"""So many lives a fit allows are looked at; bounds then move by some 2 % of their distance. Our own
choice."""
_NO_SCALE = msg("the data hold no scale; anything told beyond them would be invented")
NOTHING_FAILED = msg("nothing failed: there is nothing to estimate, only a bound to state")

Figures = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Life:
    """One unit's life as far as it was watched, or that of several alike.

    Attributes
    ----------
    hours : float
        Age at failure, or up to which it worked; in any measurement unit of time.
    failed : bool
        Whether it failed at that age.
    entry_h : float
        Age from which on a failure would have been seen: of a sold unit the end of its soak.
    units : int
        How many units lived just so.
    """

    hours: float
    failed: bool
    entry_h: float = 0.0
    units: int = 1


@dataclass(frozen=True, slots=True)
class Survival:
    """The share that still works after each time at which something failed.

    Attributes
    ----------
    times : tuple of float
        In the measurement unit of the data.
    shares : tuple of float
        Kaplan-Meier estimates just after those times, of units that worked at `from_h`.
    errors : tuple of float or None
        Standard errors of the shares, by Greenwood; None where none works any more.
    bound_low, bound_high : tuple of float
        Two-sided bounds of each share by itself.
    from_h : float
        The age from which on anything was watched.
    """

    times: tuple[float, ...]
    shares: tuple[float, ...]
    errors: tuple[float | None, ...]
    bound_low: tuple[float, ...]
    bound_high: tuple[float, ...]
    from_h: float

    def at(self, time: float) -> float:
        """Return the share that still works after `time`."""
        below = [share for t, share in zip(self.times, self.shares, strict=True) if t <= time]
        return below[-1] if below else 1.0

    @property
    def median(self) -> float | None:
        """The first time after which no more than half still work; None if it is never reached."""
        half = (t for t, share in zip(self.times, self.shares, strict=True) if share <= 0.5)
        return next(half, None)


@dataclass(frozen=True, slots=True)
class Weibull:
    """A two-parameter Weibull distribution.

    Attributes
    ----------
    scale : float
        In the measurement unit of the data.
    log_likelihood : float
        Of the data it was fitted to.
    spread : tuple of two tuples of float
        Covariance of the logarithms of scale and shape; all zero for a life taken as known.
    failures : int
        How many it was fitted to; 0 for a life taken as known.
    """

    shape: float
    scale: float
    log_likelihood: float = 0.0
    spread: tuple[tuple[float, float], tuple[float, float]] = ((0.0, 0.0), (0.0, 0.0))
    failures: int = 0

    def hazard_to(self, time: float) -> float:
        """Return the cumulative hazard up to a time, the negative logarithm of survival."""
        if time <= 0:
            return 0.0
        return math.exp(min(700.0, self.shape * (math.log(time) - math.log(self.scale))))

    def survival(self, time: float, from_h: float = 0.0) -> float:
        """Return the share that works longer than `time`, of what works at the age `from_h`."""
        return math.exp(self.hazard_to(from_h) - self.hazard_to(time))

    def life(self, failed_share: float) -> float:
        """Return the time by which a share has failed (0.1: the B10 life)."""
        log = math.log(self.scale) + math.log(-math.log1p(-failed_share)) / self.shape
        return math.exp(min(700.0, log))

    def fails_within(self, age: float, window: float) -> float:
        """Return the chance that a unit which works at an age fails within a window after it."""
        return -math.expm1(self.hazard_to(age) - self.hazard_to(age + window))

    def bounds(self, figure: Callable[["Weibull"], float]) -> tuple[float, float]:
        """Return two-sided bounds of a figure of the life, at the confidence `LEVEL`.

        References
        ----------
        Simulation from the normal approximation of the estimates' logarithms: Meeker & Escobar,
        Statistical Methods for Reliability Data (1998), sections 8.3 and 9.5 (from memory).
        """
        low, high = np.quantile([figure(life) for life in self._likely()], _TAILS)
        return float(low), float(high)

    def _likely(self) -> Iterator["Weibull"]:
        draw = np.random.default_rng(1958)  # fixed: the same table gives the same words
        center = (math.log(self.scale), math.log(self.shape))
        logs = draw.multivariate_normal(center, self.spread, size=_DRAWS)
        for scale, shape in np.exp(np.clip(logs, -60, 60)):
            yield Weibull(float(shape), float(scale))


_TAILS = ((1 - LEVEL) / 2, (1 + LEVEL) / 2)


@dataclass(frozen=True, slots=True)
class Chance:
    """How likely a unit that works at an age is to fail within a window after it.

    Attributes
    ----------
    failed : int
        Units that did.
    """

    share: float
    bound_low: float
    bound_high: float
    failed: int


def kaplan_meier(lives: Sequence[Life]) -> Survival:
    """Estimate survival.

    Raises
    ------
    ValueError
        If there is no failure, an age is impossible, or the curve ends before the data do.
    UsageError
        If the library for it is not installed.

    References
    ----------
    Kaplan & Meier, Journal of the American Statistical Association 53 (1958) 457-481; errors by
    Greenwood, bounds on log(-log S) after Kalbfleisch & Prentice, The Statistical Analysis of
    Failure Time Data (1980). Under left truncation the units at risk are those that have entered:
    Tsai, Jewell & Wang, Biometrika 74 (1987) 883-886.
    """
    checked(lives)
    model = _library().KaplanMeier.fit(**_columns(lives))
    failed = model.d > 0
    times = model.x[failed]
    shares = model.R[failed]
    ended = times[shares == 0]
    if len(ended) and ended[0] < max(life.hours for life in lives):
        raise ValueError(
            msg(
                "all that were watched at {age} h failed then, and others came under watch later: "
                "no curve can be told from so early an age",
                age=Number(ended[0], "g"),
            )
        )
    works = shares > 0
    errors = np.where(
        works, shares * np.sqrt(np.where(works, model.greenwood[failed], 0.0)), np.nan
    )
    low, high = np.asarray(model.cb(times, on="sf", alpha_ci=1 - LEVEL)).T
    return Survival(
        times=_floats(times),
        shares=_floats(shares),
        errors=tuple(None if math.isnan(error) else float(error) for error in errors),
        bound_low=_floats(low),
        bound_high=_floats(high),
        from_h=min(life.entry_h for life in lives),
    )


def _floats(row: Figures) -> tuple[float, ...]:
    return tuple(map(float, row))


def fails_within(lives: Sequence[Life], age: float, window: float) -> Chance:
    """Count how likely a unit that works at an age is to fail within a window after it.

    No shape of the life is assumed: the Kaplan-Meier estimate of those that worked at that age.
    Where none failed in the window, the bound is the exact one of Clopper & Pearson, Biometrika 26
    (1934) 404-413, for those watched through it.

    Raises
    ------
    ValueError
        If ages are impossible, or no unit was watched at the age or to the window's end.
    """
    checked(lives)
    if not (math.isfinite(age) and age >= 0 and math.isfinite(window) and window > 0):
        raise ValueError(msg("an age is a number from 0 up, and a window is above 0"))
    later = [
        Life(life.hours, life.failed, max(life.entry_h, age), life.units)
        for life in lives
        if life.hours > age
    ]
    first = min((life.entry_h for life in later), default=math.inf)
    end = age + window
    if first > age:
        raise ValueError(
            msg(
                "no unit was watched from the age of {age} h on; give a later one",
                age=Number(age, "g"),
            )
        )
    if max(life.hours for life in later) < end:
        raise ValueError(
            msg(
                "no unit was watched to the age of {age} h; give a shorter window",
                age=Number(end, "g"),
            )
        )
    failed = sum(life.units for life in later if life.failed and life.hours <= end)
    if not failed:
        through = sum(life.units for life in later if life.hours >= end and life.entry_h <= age)
        if not through:
            raise ValueError(
                msg(
                    "no unit was watched from {age} h through to {end} h",
                    age=Number(age, "g"),
                    end=Number(end, "g"),
                )
            )
        return Chance(0.0, 0.0, 1 - _TAILS[0] ** (1 / through), 0)
    curve = kaplan_meier(later)
    at = max(n for n, time in enumerate(curve.times) if time <= end)
    share = curve.shares[at]
    low = curve.bound_low[at]
    high = curve.bound_high[at]
    return Chance(1 - share, 1 - high, 1 - low, failed)


def log_rank(lives: Sequence[Life], other: Sequence[Life]) -> tuple[float, float]:
    """Compare the lives of two groups; return the statistic (chi-square, 1 degree) and its chance.

    Raises
    ------
    ValueError
        If nothing failed in either, or an age is impossible.

    References
    ----------
    Log-rank test of Mantel, Cancer Chemotherapy Reports 50 (1966) 163-170.
    """
    checked(lives)
    checked(other)
    groups = [0] * len(lives) + [1] * len(other)
    test = _library().logrank(Z=groups, **_columns([*lives, *other]))
    return float(test.statistic), float(test.p_value)


def fit_weibull(lives: Sequence[Life]) -> Weibull:
    """Fit a Weibull distribution by maximum likelihood.

    Raises
    ------
    ValueError
        If there are fewer than five failures, or the data hold no scale: such a fit would only
        be extrapolated from.

    References
    ----------
    Meeker & Escobar, Statistical Methods for Reliability Data (1998), chapters 8 and 11.6 (left
    truncation).
    """
    checked(lives)
    failures = sum(life.units for life in lives if life.failed)
    if failures < FEWEST_FAILURES:
        raise ValueError(
            msg(
                "{count} failures are too few to fit; {fewest} at least",
                count=failures,
                fewest=FEWEST_FAILURES,
            )
        )
    with _refused():
        model = _library().Weibull.fit(**_columns(lives))
        scale, shape = map(float, model.params)
        spread = np.asarray(model.hess_inv) / np.outer((scale, shape), (scale, shape))
    if shape < LEAST_SHAPE or not np.all(np.isfinite(spread)) or np.any(np.diag(spread) <= 0):
        raise ValueError(_NO_SCALE)
    (of_scale, both), (_, of_shape) = spread.tolist()
    spread_of_logs = ((of_scale, both), (both, of_shape))
    return Weibull(shape, scale, -float(model.neg_ll()), spread=spread_of_logs, failures=failures)


def checked(lives: Sequence[Life]) -> None:
    """Refuse lives that cannot be, or that hold no failure.

    Raises
    ------
    ValueError
        In one sentence, what is wrong.
    """
    if not any(life.failed for life in lives):
        raise ValueError(NOTHING_FAILED)
    for life in lives:
        if not math.isfinite(life.hours) or life.hours <= 0:
            raise ValueError(msg("a time to failure is a positive number"))
        if not math.isfinite(life.entry_h) or not 0 <= life.entry_h < life.hours:
            raise ValueError(
                msg(
                    "an age at entry of {entry} h with a life of {life} h: a unit is watched from "
                    "an age from 0 up, and beyond it",
                    entry=Number(life.entry_h, "g"),
                    life=Number(life.hours, "g"),
                )
            )


def _columns(lives: Sequence[Life]) -> dict[str, Figures | None]:
    entries = np.array([life.entry_h for life in lives], float)
    return {
        "x": np.array([life.hours for life in lives], float),
        "c": np.array([0 if life.failed else 1 for life in lives], float),
        "n": np.array([life.units for life in lives], float),
        "tl": entries if np.any(entries > 0) else None,
    }


def _library() -> ModuleType:
    try:
        import surpyval
    except ImportError:
        raise UsageError(
            msg(
                "lives of many units need the extra soak[lives] (the library surpyval; some "
                "150 MB with what it brings): pip install 'soak[lives]'"
            )
        ) from None
    return surpyval


@contextmanager
def _refused() -> Iterator[None]:
    """Turn the library's doubt about a fit into a refusal: it warns where there is no maximum."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        warnings.simplefilter("error", UserWarning)
        try:
            yield
        except (UserWarning, ValueError, ArithmeticError, np.linalg.LinAlgError):
            raise ValueError(_NO_SCALE) from None
