"""Millivolts and ohms of a bare sensor to degC: thermocouple type K and platinum Pt100.

A bench meter that shows the sensor itself, not a temperature, is of use all the same.
"""

import math
from collections.abc import Callable, Sequence

from soak.quantities import show_value

_K_COLD: Sequence[float] = (
    0.0,
    0.394501280250e-01,
    0.236223735980e-04,
    -0.328589067840e-06,
    -0.499048287770e-08,
    -0.675090591730e-10,
    -0.574103274280e-12,
    -0.310888728940e-14,
    -0.104516093650e-16,
    -0.198892668780e-19,
    -0.163226974860e-22,
)
"""mV per degC to the power of the place, -270 to 0 degC."""
_K_HOT: Sequence[float] = (
    -0.176004136860e-01,
    0.389212049750e-01,
    0.185587700320e-04,
    -0.994575928740e-07,
    0.318409457190e-09,
    -0.560728448890e-12,
    0.560750590590e-15,
    -0.320207200030e-18,
    0.971511471520e-22,
    -0.121047212750e-25,
)
"""The same, 0 to 1372 degC, without the magnetic term."""
_K_MAGNETIC = (0.118597600000, -0.118343200000e-03, 126.968600000)
TYPE_K_DEGC = (-200.0, 1372.0)
"""Below -200 degC the curve is too flat for a bench meter; the coefficients reach -270 degC. Our
own choice."""

_A, _B, _C = 3.9083e-3, -5.775e-7, -4.183e-12
"""Coefficients of a platinum resistor's curve, per degC and its powers: IEC 60751, from memory."""
PT100_DEGC = (-200.0, 850.0)
"""Range of the curve of a platinum resistor, degC: IEC 60751, from memory."""


def type_k_mv(degc: float) -> float:
    """Return the voltage of a type K thermocouple in mV, its reference junction at 0 degC.

    References
    ----------
    NIST ITS-90 Thermocouple Database (Monograph 175), type K, coefficients of the reference
    function.
    """
    if degc < 0:
        return _series(_K_COLD, degc)
    size, width, centre = _K_MAGNETIC
    return _series(_K_HOT, degc) + size * math.exp(width * (degc - centre) ** 2)


def type_k_degc(mv: float, reference_degc: float = 0.0) -> float:
    """Return the temperature of a type K thermocouple that gives `mv`.

    Parameters
    ----------
    reference_degc : float
        Temperature where its wires meet copper: the meter's terminals. Voltages add up, not
        temperatures (law of intermediate temperatures).

    Raises
    ------
    ValueError
        If no temperature of the range gives so much.
    """
    return _solved(type_k_mv, mv + type_k_mv(reference_degc), TYPE_K_DEGC, "mV of a type K")


def pt100_ohm(degc: float) -> float:
    """Return the resistance of a Pt100 in ohm.

    References
    ----------
    IEC 60751, the Callendar-Van Dusen equation, 100 ohm at 0 degC.
    """
    below = _C * (degc - 100) * degc**3 if degc < 0 else 0.0
    return 100.0 * (1 + _A * degc + _B * degc**2 + below)


def pt100_degc(ohm: float) -> float:
    """Return the temperature of a Pt100 of so many ohm, leads already taken off.

    Raises
    ------
    ValueError
        If no temperature of the range gives so much.
    """
    return _solved(pt100_ohm, ohm, PT100_DEGC, "ohm of a Pt100")


def _series(coefficients: Sequence[float], degc: float) -> float:
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * degc + coefficient
    return total


def _solved(
    curve: Callable[[float], float], wanted: float, degc: tuple[float, float], what: str
) -> float:
    """Halve the range until it is narrower than 1e-6 K; the curve only rises."""
    low, high = degc
    if not curve(low) <= wanted <= curve(high):
        raise ValueError(
            f"{wanted:g} {what} is no temperature from {show_value(low, 'degC')} "
            f"to {show_value(high, 'degC')}; look for a broken or reversed sensor"
        )
    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (middle, high) if curve(middle) < wanted else (low, middle)
    return (low + high) / 2
