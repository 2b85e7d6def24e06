"""Whether two rates differ, and whether a fault that was seen before a repair is gone."""

import math
from dataclasses import dataclass
from typing import Literal

from soak.statistics.bounds import checked_confidence
from soak.words import Message, Number, msg

UNUSUAL_Z = 3.5
"""A modified z-score beyond it is an outlier: Iglewicz and Hoaglin 1993, from memory."""

LUCK = 0.05
"""A quiet may be luck with this chance at most, where nobody demands otherwise. Common practice."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two counts of events in two times.

    Attributes
    ----------
    fewer : float
        One-sided chance of a first count so small or smaller if both rates are the same.
    differ : float
        Two-sided chance, by the exact conditional test.
    method : str
        Name of the test, with its source.
    """

    fewer: float
    differ: float
    method: Message


_METHOD = msg(
    "Exact conditional test of two Poisson counts (two-sided: every split no likelier than the "
    "one seen, as in Gu, Ng, Tang & Schucany 2008)"
)


def compare_rates(count: int, time: float, other: int, other_time: float) -> Comparison:
    """Compare `count` events in `time` with `other` events in `other_time`.

    Parameters
    ----------
    time, other_time : float
        Times in which was counted, both in the same measurement unit.

    Raises
    ------
    ValueError
        If a count is negative or a time is not a positive number.

    References
    ----------
    Gu, Ng, Tang & Schucany, "Testing the ratio of two Poisson rates", Biometrical Journal 50
    (2008) 283-298.
    """
    from scipy.stats import binomtest

    for number, length in ((count, time), (other, other_time)):
        _counted(number, length)
    both = count + other
    share = time / (time + other_time)
    if both == 0:
        return Comparison(1.0, 1.0, _METHOD)
    fewer = binomtest(count, both, share, alternative="less").pvalue
    differ = binomtest(count, both, share).pvalue
    return Comparison(float(fewer), float(differ), _METHOD)


@dataclass(frozen=True, slots=True)
class SharesCompared:
    """Two counts of failures among trials.

    Attributes
    ----------
    fewer : float
        One-sided chance of so few failures of the first or fewer if both shares are the same.
    differ : float
        Two-sided chance.
    method : str
        Name of the test, with its source.
    """

    fewer: float
    differ: float
    method: Message


def compare_shares(failed: int, tried: int, other: int, other_tried: int) -> SharesCompared:
    """Compare `failed` of `tried` with `other` of `other_tried`.

    Raises
    ------
    ValueError
        If nothing was tried, or a count is impossible.

    References
    ----------
    Fisher's exact test (Fisher 1935); two-sided: every table no likelier than the one seen.
    """
    for bad, number in ((failed, tried), (other, other_tried)):
        if number < 1 or not 0 <= bad <= number:
            raise ValueError(
                msg("{bad} failures in {number} trials is impossible", bad=bad, number=number)
            )
    fewer = _fisher((failed, tried), (other, other_tried), "less")
    differ = _fisher((failed, tried), (other, other_tried), "two-sided")
    return SharesCompared(fewer, differ, _FISHER)


def _fisher(
    these: tuple[int, int], others: tuple[int, int], side: Literal["less", "two-sided"]
) -> float:
    """Return the chance by Fisher's exact test of two pairs of failures and trials."""
    import numpy as np
    from scipy.stats import fisher_exact  # takes half a second to load

    table = np.array([[failed, tried - failed] for failed, tried in (these, others)])
    return float(fisher_exact(table, alternative=side).pvalue)


_FISHER = msg("Fisher's exact test (1935; two-sided: every table no likelier than the one seen)")


def chance_by_luck(seen: int, seen_in: float, clean: float) -> float:
    """Return the chance of a quiet time `clean` if the fault is still there as it was before.

    Parameters
    ----------
    seen : int
        How often the fault was seen before the repair.
    seen_in, clean : float
        Time watched before, and quiet time after; both in the same measurement unit.

    Raises
    ------
    ValueError
        If the fault was not seen, or a time is impossible.

    References
    ----------
    (T0 / (T0 + T1))^n: the exact conditional comparison of two Poisson counts (Przyborowski &
    Wilenski, Biometrika 31 (1940) 313-323) where the second count is zero.
    """
    _seen(seen, seen_in)
    if not math.isfinite(clean) or clean < 0:
        raise ValueError(msg("a quiet time of {time} is impossible", time=Number(clean, "g")))
    return (seen_in / (seen_in + clean)) ** seen


def quiet_needed(seen: int, seen_in: float, chance: float) -> float:
    """Return the quiet time, in the unit of `seen_in`, that brings luck down to `chance`.

    Raises
    ------
    ValueError
        If the fault was not seen, the time is impossible, or the chance not between 0 and 1.

    References
    ----------
    `chance_by_luck`, solved for T1.
    """
    _seen(seen, seen_in)
    checked_confidence(1 - chance)
    return seen_in * math.expm1(-math.log(chance) / seen)


def chance_of_so_few(seen: int, seen_in: float, again: int, since: float) -> float:
    """Return the chance of so few events since, if they are still as frequent as before.

    Parameters
    ----------
    seen, again : int
        Events before and since.
    seen_in, since : float
        Times in which they were counted, both in the same measurement unit.

    Raises
    ------
    ValueError
        If nothing was seen before, or a count or a time is impossible.

    References
    ----------
    Given all n = seen + again events, those since are binomial with the share since / (seen_in +
    since): exact conditional test of two Poisson rates, Przyborowski & Wilenski, Biometrika 31
    (1940) 313-323. With none since it is `chance_by_luck`.
    """
    if again == 0 or since == 0:
        return chance_by_luck(seen, seen_in, since)
    from scipy.special import bdtr

    _seen(seen, seen_in)
    _counted(again, since)
    return float(bdtr(again, seen + again, since / (seen_in + since)))


def time_needed(seen: int, seen_in: float, again: int, chance: float) -> float:
    """Return the time since, in the unit of `seen_in`, at which so few events have that chance.

    Raises
    ------
    ValueError
        As `chance_of_so_few`, or if the chance does not lie between 0 and 1.

    References
    ----------
    `chance_of_so_few`, solved for the time: the binomial's lower tail is an incomplete beta
    function (Abramowitz & Stegun 26.5.24).
    """
    from scipy.special import betaincinv

    _seen(seen, seen_in)
    checked_confidence(1 - chance)
    share = float(betaincinv(again + 1, seen, 1 - chance))
    return seen_in * share / (1 - share)


def chance_of_starts(failed: int, tried: int, again: int, since: int) -> float:
    """Return the chance of so few failed starts since, if they still fail as they did before.

    Parameters
    ----------
    failed, tried : int
        Failed starts and all starts before.
    again, since : int
        The same since.

    Raises
    ------
    ValueError
        If none failed before, or more failed than were tried.

    References
    ----------
    Fisher's exact test, one-sided: given how many failed in all, those since are hypergeometric
    (Fisher 1935; NIST/SEMATECH e-Handbook 7.3.3 names it).
    """
    _tried(failed, tried)
    if not 0 <= again <= since:
        raise ValueError(f"{again} failed of {since} starts is impossible")
    return _fisher((again, since), (failed, tried), "less")


def starts_needed(failed: int, tried: int, again: int, chance: float) -> int:
    """Return the number of starts since at which so few failed ones have that chance at most.

    Raises
    ------
    ValueError
        As `chance_of_starts`, or if the chance does not lie between 0 and 1.

    References
    ----------
    `chance_of_starts`, which falls with the starts since, solved by halving.
    """
    checked_confidence(1 - chance)
    low = again
    high = max(1, again)
    while chance_of_starts(failed, tried, again, high) > chance:
        low = high
        high = 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if chance_of_starts(failed, tried, again, middle) > chance:
            low = middle
        else:
            high = middle
    return high


def chance_of_passing(one_try: float, tries: int) -> float:
    """Return the chance that at least one of several tries passes, each by `one_try`.

    Raises
    ------
    ValueError
        If `one_try` is no chance, or there is no try.

    References
    ----------
    Complement of failing each of several independent tries, 1 - (1 - p)^k; any textbook.
    """
    if not 0 <= one_try <= 1 or tries < 1:
        raise ValueError(
            msg(
                "a chance of {chance} in {tries} tries is impossible",
                chance=Number(one_try, "g"),
                tries=tries,
            )
        )
    return float(1 - (1 - one_try) ** tries)


def _counted(number: int, length: float) -> None:
    if number < 0 or not math.isfinite(length) or length <= 0:
        raise ValueError(
            msg(
                "{number} events in a time of {time} is impossible",
                number=number,
                time=Number(length, "g"),
            )
        )


def _seen(seen: int, seen_in: float) -> None:
    _counted(seen, seen_in)
    if seen == 0:
        raise ValueError(
            msg("a fault that was never seen has no rate; it needs at least one sighting")
        )


def _tried(failed: int, tried: int) -> None:
    if not 0 < failed <= tried:
        raise ValueError(f"{failed} failed of {tried} starts tell nothing of how often they fail")
