"""Quantities and their measurement units: how they are named, read and printed.

Inside the program everything is SI with the unit last in the name (`duration_s`); prefixes
appear only in print. MB is 10^6 bytes, MiB is 2^20 bytes.
"""

import math
import re
from dataclasses import dataclass
from decimal import Decimal

MEASUREMENT_UNITS = frozenset(
    {"s", "degC", "K", "V", "A", "W", "B", "B/s", "Hz", "Mb/s", "1", "K/min"}
)
"""The measurement units a quantity may have; `1` is a bare number."""

_ENDINGS = {
    "_bytes_per_s": "B/s",
    "_bytes": "B",
    "_mbps": "Mb/s",
    "_degc": "degC",
    "_per_h": "1/h",
    "_hz": "Hz",
    "_s": "s",
    "_k": "K",
    "_v": "V",
    "_a": "A",
    "_n": "N",
    "_days": "days",
    "ohm": "ohm",
}
"""The measurement unit that the end of a name says; the longer end first."""

_TIME_S = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
_DURATION = re.compile(r"(\d+(?:\.\d+)?)\s*(ms|s|min|h|d)(?:\s+|$)")

_SIZE_BYTES = {"B": 1, "kB": 10**3, "MB": 10**6, "GB": 10**9, "TB": 10**12}
_SIZE_BYTES |= {"KiB": 2**10, "MiB": 2**20, "GiB": 2**30, "TiB": 2**40}
_SIZE = re.compile(r"(\d+(?:\.\d+)?)\s*([kMGT]?B|[KMGT]iB)")


@dataclass(frozen=True, slots=True)
class Quantity:
    """A measured quantity as the journal's header describes it.

    Attributes
    ----------
    name : str
        Unique within a soak, dotted: `"probe.heatsink"`, `"transfer.stick.speed"`.
    unit : str
        One of `MEASUREMENT_UNITS`.
    source : str
        The instrument it comes from, `"probe.heatsink"`; its `blind` states cover it.
    resolution : float or None
        Smallest step of the indication, in `unit`; None if unknown.
    accuracy : float or None
        Half-width of the instrument's error, in `unit`; None if not stated.
    """

    name: str
    unit: str
    source: str
    resolution: float | None = None
    accuracy: float | None = None

    def __post_init__(self) -> None:
        if self.unit not in MEASUREMENT_UNITS:
            raise ValueError(f"{self.name}: {self.unit!r} is not a measurement unit soak knows")


def unit_named(name: str) -> str:
    """Return the measurement unit that the end of a name says; empty if it says none."""
    return next((unit for end, unit in _ENDINGS.items() if name.endswith(end)), "")


def parse_duration(text: str | float) -> float:
    """Read a duration in s from `"4 h"`, `"1 h 30 min"`, `"0.2 s"`, or a number of seconds.

    Raises
    ------
    ValueError
        If the text is not a duration, or it is negative or not finite.
    """
    if isinstance(text, int | float) and not isinstance(text, bool):
        if not math.isfinite(text) or text < 0:
            raise ValueError(f"{text} is not a duration")
        return float(text)
    rest = str(text).strip()
    total_s = 0.0
    if not rest:
        raise ValueError("a duration is missing; write it like 30 s, 10 min or 4 h")
    while rest:
        part = _DURATION.match(rest)
        if part is None:
            raise ValueError(f"{text!r} is not a duration; write it like 30 s, 10 min or 4 h")
        total_s += float(part[1]) * _TIME_S[part[2]]
        rest = rest[part.end() :]
    return total_s


def parse_bytes(text: str | int) -> int:
    """Read a size in bytes from `"256 MB"`, `"4 MiB"`, `"0.25 GB"`, or a whole number of bytes.

    Raises
    ------
    ValueError
        If the text is not a size, or it is negative or no whole number of bytes.
    """
    if isinstance(text, int) and not isinstance(text, bool) and text >= 0:
        return text
    part = _SIZE.fullmatch(str(text).strip())
    if part is None:
        raise ValueError(f"{text!r} is not a size; write it like 256 MB or 4 MiB")
    size_bytes = float(part[1]) * _SIZE_BYTES[part[2]]
    if not size_bytes.is_integer():
        raise ValueError(f"{text!r} is no whole number of bytes")
    return int(size_bytes)


def write_duration(duration_s: float) -> str:
    """Write a duration as a file may hold it, with nothing rounded: `"7 d"`, `"1 h 30 min"`."""
    if duration_s >= 60 and float(duration_s).is_integer():
        parts = []
        rest = round(duration_s)
        days = ("d",) if rest % 86400 == 0 and rest > 86400 else ()
        for unit in (*days, "h", "min", "s"):
            many, rest = divmod(rest, round(_TIME_S[unit]))
            parts += [f"{many} {unit}"] if many else []
        return " ".join(parts)
    return f"{Decimal(repr(float(duration_s))):f}".removesuffix(".0") + " s"


def write_bytes(size_bytes: int) -> str:
    """Write a size as a file may hold it, with nothing rounded: `"4 MiB"`, `"256 MB"`."""
    whole = [unit for unit, factor in _SIZE_BYTES.items() if size_bytes % factor == 0]
    unit = max(whole, key=_SIZE_BYTES.__getitem__) if size_bytes else "B"
    return f"{size_bytes // _SIZE_BYTES[unit]} {unit}"


def show_duration(duration_s: float) -> str:
    """Write a duration for people: `"0.35 s"`, `"4 min 10 s"`, `"3 h 05 min"`."""
    if duration_s < 10:
        return f"{duration_s:.2f} s".replace(".00 s", " s")
    if duration_s < 120:
        return f"{duration_s:.0f} s"
    minutes, seconds = divmod(round(duration_s), 60)
    if minutes < 60:
        return f"{minutes} min {seconds:02d} s" if seconds else f"{minutes} min"
    hours, minutes = divmod(round(duration_s / 60), 60)
    return f"{hours} h {minutes:02d} min" if minutes else f"{hours} h"


def show_bytes(size_bytes: float) -> str:
    """Write a number of bytes with a decimal prefix: `"8.00 GB"`."""
    for factor, prefix in ((1e12, "TB"), (1e9, "GB"), (1e6, "MB"), (1e3, "kB")):
        if abs(size_bytes) >= factor:
            return f"{size_bytes / factor:.2f} {prefix}"
    return f"{size_bytes:.0f} B"


_DECIMALS = {"V": 2, "A": 3}
"""Where one decimal is not enough: 4.75 V is not 4.8 V."""


def show_value(value: float, unit: str) -> str:
    """Write a value with its measurement unit the way reports print it."""
    if unit == "s":
        return show_duration(value)
    if unit == "B":
        return show_bytes(value)
    if unit == "B/s":
        return f"{show_bytes(value)}/s"
    if unit == "Mb/s":  # a signalling rate: 1.5, 12, 480, 1000
        return f"{value:g} {unit}"
    if unit == "1":
        return f"{value:.0f}" if float(value).is_integer() else f"{value:.3g}"
    if unit == "1/h":
        return f"{value:.3g} per h"
    decimals = _DECIMALS.get(unit, 1)
    return f"{value:.{decimals}f} {'°C' if unit == 'degC' else unit}"
