"""How well heat and changes of temperature find weak joints: a comparison, not a measurement."""

import math

from soak.words import msg

SOURCE = msg(
    "screening-strength formulas of RADC-TR-82-87 / MIL-HDBK-344, not checked against their own "
    "text; good for comparing one night with another, not for the truth about one unit"
)


def strength_of_steady_heat(rise_k: float, hours: float) -> float:
    """Return the share of weak joints that steady heat brings to light.

    Parameters
    ----------
    rise_k : float
        How much warmer than a room of 25 degC the unit is kept.

    Raises
    ------
    ValueError
        If the rise or the time is negative or not a number.

    References
    ----------
    RADC-TR-82-87 / MIL-HDBK-344, constant temperature; not checked against its own text:
    1 - exp(-0.0017 (R + 0.6)^0.6 t).
    """
    _possible(rise_k, hours)
    return -math.expm1(-0.0017 * (rise_k + 0.6) ** 0.6 * hours)


def strength_of_cycles(range_k: float, rate_k_per_min: float, cycles: int) -> float:
    """Return the share of weak joints that heating and cooling bring to light.

    Parameters
    ----------
    range_k : float
        From the coldest to the hottest.
    rate_k_per_min : float
        How fast the temperature changes.

    Raises
    ------
    ValueError
        If a figure is negative or not a number.

    References
    ----------
    RADC-TR-82-87 / MIL-HDBK-344, temperature cycling; not checked against its own text:
    1 - exp(-0.0017 (R + 0.6)^0.6 (ln(e + rate))^3 N).
    """
    _possible(range_k, rate_k_per_min, cycles)
    faster = math.log(math.e + rate_k_per_min) ** 3
    return -math.expm1(-0.0017 * (range_k + 0.6) ** 0.6 * faster * cycles)


def _possible(*figures: float) -> None:
    for figure in figures:
        if not math.isfinite(figure) or figure < 0:
            raise ValueError(f"{figure} is impossible; it is a number from 0 up")
