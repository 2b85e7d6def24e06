"""Bounds on failure shares and failure rates: one function, one formula, one source.

Whether a bound has one side or two is the caller's to say, never the count's: bounds that turn
from one side to two once something failed hold in fewer cases than they state (93.5 % for 95 % in
20 trials). Impossible counts raise; nothing becomes NaN. `scipy.special` is enough and quick.
"""

import math

from scipy.special import betaincinv, gammaincinv

from soak.words import Number, msg


def checked_confidence(confidence: float) -> None:
    """Refuse what is no confidence level, such as 95 where 0.95 is meant.

    Raises
    ------
    ValueError
        If `confidence` does not lie between 0 and 1.
    """
    if not 0 < confidence < 1:
        raise ValueError(
            msg(
                "confidence is {confidence}; it lies between 0 and 1 (write 0.95)",
                confidence=Number(confidence, "g"),
            )
        )


def success_run_trials(reliability: float, confidence: float) -> int:
    """Return the number of trials without a failure that shows `reliability`.

    Raises
    ------
    ValueError
        If `reliability` or `confidence` does not lie between 0 and 1.

    References
    ----------
    Success-run theorem, 1 - C = R^n: the zero-failure case of Clopper and Pearson (1934).
    """
    checked_confidence(confidence)
    if not 0 < reliability < 1:
        raise ValueError(
            msg(
                "reliability is {reliability}; it lies between 0 and 1",
                reliability=Number(reliability, "g"),
            )
        )
    return math.ceil(math.log1p(-confidence) / math.log(reliability))


def trials_needed(share: float, failures: int, confidence: float) -> int:
    """Return the trials, `failures` of them failed, that show a failed share of at most `share`.

    Raises
    ------
    ValueError
        If `share` or `confidence` does not lie between 0 and 1, or the count is negative.

    References
    ----------
    The one-sided bound of Clopper and Pearson (1934), solved for the number of trials.
    """
    if failures < 0:
        raise ValueError(msg("{failures} failures is impossible", failures=failures))
    if failures == 0:
        return success_run_trials(1 - share, confidence)
    checked_confidence(confidence)
    if not 0 < share < 1:
        raise ValueError(
            msg(
                "a failed share of {share} is impossible; it lies between 0 and 1",
                share=Number(share, "g"),
            )
        )
    low = failures
    high = failures + 1
    while share_at_most(failures, high, confidence) > share:
        low = high
        high = 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        bound = share_at_most(failures, middle, confidence)
        low, high = (middle, high) if bound > share else (low, middle)
    return high


def clopper_pearson(
    failures: int, trials: int, confidence: float, two_sided: bool = True
) -> tuple[float, float]:
    """Return lower and upper bound of the failed share, each from 0 to 1.

    Parameters
    ----------
    failures, trials : int
        0 <= failures <= trials, at least one trial.
    confidence : float
        Confidence level of the pair, or of each bound by itself if not `two_sided`.

    Raises
    ------
    ValueError
        If the counts are impossible or the confidence does not lie between 0 and 1.

    References
    ----------
    Clopper and Pearson, "The use of confidence or fiducial limits illustrated in the case of the
    binomial", Biometrika 26 (1934) 404-413; NIST/SEMATECH e-Handbook of Statistical Methods
    7.2.4.1.
    """
    checked_confidence(confidence)
    if trials < 1 or not 0 <= failures <= trials:
        raise ValueError(
            msg("{bad} failures in {number} trials is impossible", bad=failures, number=trials)
        )
    tail = (1 - confidence) / (2 if two_sided else 1)
    low = 0.0 if failures == 0 else float(betaincinv(failures, trials - failures + 1, tail))
    if failures == trials:
        return low, 1.0
    return low, float(betaincinv(failures + 1, trials - failures, 1 - tail))


def share_at_most(failures: int, trials: int, confidence: float) -> float:
    """Return the one-sided upper bound of the failed share, whatever the count.

    Raises
    ------
    ValueError
        As `clopper_pearson`.
    """
    return clopper_pearson(failures, trials, confidence, two_sided=False)[1]


def mtbf(
    failures: int, time: float, confidence: float, *, two_sided: bool = True
) -> tuple[float, float | None]:
    """Return lower and upper bound of the mean time between failures, in the unit of `time`.

    Parameters
    ----------
    confidence : float
        Confidence level of the pair, or of each bound by itself if not `two_sided`.

    Returns
    -------
    low, high : float, float or None
        Without a failure there is no upper bound, and `high` is None.

    Raises
    ------
    ValueError
        If the counts or the time are impossible.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods 8.4.5.1 (chi-square bounds of a test that ends
    with a time, not with a failure). The quantile of chi-square with 2k degrees of freedom is twice
    the quantile of a gamma variable of shape k.
    """
    checked_confidence(confidence)
    if failures < 0 or not math.isfinite(time) or time <= 0:
        raise ValueError(
            msg(
                "{failures} failures in a time of {time} is impossible",
                failures=failures,
                time=Number(time, "g"),
            )
        )
    tail = (1 - confidence) / (2 if two_sided else 1)
    if failures == 0:
        return time / -math.log(tail), None
    low = time / float(gammaincinv(failures + 1, 1 - tail))
    return low, time / float(gammaincinv(failures, tail))


def rate_at_most(failures: int, time: float, confidence: float) -> float:
    """Return the one-sided upper bound of the failure rate, per unit of `time`.

    Raises
    ------
    ValueError
        As `mtbf`.
    """
    return 1 / mtbf(failures, time, confidence, two_sided=False)[0]


def rate_at_least(failures: int, time: float, confidence: float) -> float:
    """Return the one-sided lower bound of the failure rate, per unit of `time`; 0 without one.

    Raises
    ------
    ValueError
        As `mtbf`.
    """
    high = mtbf(failures, time, confidence, two_sided=False)[1]
    return 0.0 if high is None else 1 / high


def length_to_show(failures_allowed: int, confidence: float) -> float:
    """Return the test length, in multiples of the MTBF to be shown.

    Raises
    ------
    ValueError
        If the count is negative or the confidence does not lie between 0 and 1.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods 8.3.1.2.
    """
    checked_confidence(confidence)
    if failures_allowed < 0:
        raise ValueError(msg("{count} allowed failures is impossible", count=failures_allowed))
    return float(gammaincinv(failures_allowed + 1, confidence))
