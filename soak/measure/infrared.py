"""What an infrared thermometer saw: from its reading and the surface's emissivity to the truth.

A grey body: the surface sends out its share of radiation and mirrors the room with the rest. Total
radiation is used; a thermometer that sees 8 to 14 um deviates from it by a degree or two on bare
metal, where its reading is of no use anyway.
"""

from collections.abc import Mapping
from types import MappingProxyType

from soak.words import Number, msg

ZERO_DEGC_K = 273.15
"""0 degC in K: by definition of the degree Celsius (ISO 80000-5, from memory)."""
LEAST_EMISSIVITY = 0.3
"""Below it the room's mirror image outshines the surface; stick tape on it. Our own choice."""

EMISSIVITIES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "polished aluminium": (0.02, 0.1),
        "polished brass": (0.01, 0.05),
        "polished copper": (0.03, 0.03),
        "stainless steel": (0.07, 0.28),
        "anodised aluminium": (0.55, 0.97),
        "paint": (0.92, 0.97),
        "plastic": (0.91, 0.95),
        "circuit board": (0.91, 0.91),
        "rubber": (0.89, 0.94),
        "glass": (0.94, 0.94),
        "paper tape": (0.88, 0.97),
    }
)
"""Lowest and highest at 8 to 14 um, after the tables of instrument manuals."""


def true_degc(shown: float, emissivity: float, room_degc: float, set_to: float = 0.95) -> float:
    """Return the temperature of a surface of which the thermometer shows `shown` degC.

    Raises
    ------
    ValueError
        If no surface of that emissivity in such a room can look like that.
    """
    _checked(emissivity, set_to)
    room = _power(room_degc)
    seen = set_to * _power(shown) + (1 - set_to) * room
    own = (seen - (1 - emissivity) * room) / emissivity
    if own <= 0:
        raise ValueError(
            msg(
                "nothing of emissivity {emissivity} in a room of {room} °C shows {shown} °C; look "
                "at emissivity and room again",
                emissivity=Number(emissivity, "g"),
                room=Number(room_degc, "g"),
                shown=Number(shown, "g"),
            )
        )
    return _root(own)


def error_grows_by(
    shown: float, emissivity: float, room_degc: float, set_to: float = 0.95
) -> float:
    """Return how many K of truth one K of reading is: an error of the reading grows by that."""
    truth = true_degc(shown, emissivity, room_degc, set_to)
    return set_to / emissivity * ((shown + ZERO_DEGC_K) / (truth + ZERO_DEGC_K)) ** 3


def _power(degc: float) -> float:
    if degc <= -ZERO_DEGC_K:
        raise ValueError(msg("{degc} °C is below absolute zero", degc=Number(degc, "g")))
    return (degc + ZERO_DEGC_K) ** 4


def _root(power: float) -> float:
    return float(power**0.25) - ZERO_DEGC_K


def _checked(*emissivities: float) -> None:
    for each in emissivities:
        if not 0 < each <= 1:
            raise ValueError(
                msg(
                    "an emissivity of {emissivity} is impossible; it lies above 0, up to 1",
                    emissivity=Number(each, "g"),
                )
            )
