"""One stated confidence over several bounds: six bounds at 95 % do not all hold at 95 %."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from soak.rules.core.verdict import Finding
from soak.statistics.bounds import checked_confidence
from soak.words import Message, Percent, msg


@dataclass(frozen=True, slots=True)
class Overall:
    """How sure it is that several bounds hold together.

    Attributes
    ----------
    bounds : int
        Number of bounds.
    at_least : float
        Confidence that all hold, whatever binds them (Bonferroni).
    independent : float
        Confidence that all hold if nothing binds them.
    """

    bounds: int
    at_least: float
    independent: float


def together(confidences: Sequence[float]) -> Overall:
    """Return how sure it is that bounds of these confidences hold all at once.

    Raises
    ------
    ValueError
        If there is none, or one does not lie between 0 and 1.

    References
    ----------
    Bonferroni's inequality, NIST/SEMATECH e-Handbook 7.4.7.3; for independent bounds the product.
    """
    if not confidences:
        raise ValueError("there is no bound to speak of")
    for confidence in confidences:
        checked_confidence(confidence)
    missed = sum(1 - confidence for confidence in confidences)
    return Overall(len(confidences), max(0.0, 1 - missed), math.prod(confidences))


def overall_of(findings: Sequence[Finding]) -> Overall | None:
    """Return how sure it is that all bounds of these findings hold; None if none is stated.

    Guard bands are no confidence bounds and are left out.
    """
    stated = [
        finding.requirement.confidence
        for finding in findings
        if finding.requirement.confidence is not None and finding.bound_high is not None
    ]
    return together(stated) if stated else None


def in_words(overall: Overall) -> Message:
    """Say it in one sentence."""
    if overall.bounds == 1:
        return msg(
            "One bound is stated, at {level} confidence.", level=Percent(overall.at_least, 1)
        )
    return msg(
        "{bounds} bounds are stated; that all of them hold at once is sure to at least {least} "
        "({independent} if nothing binds them).",
        bounds=overall.bounds,
        least=Percent(overall.at_least),
        independent=Percent(overall.independent),
    )
