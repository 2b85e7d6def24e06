"""Which faults were found, and which calls were false.

A fault is found if a row of its kind touches it, one picture of grace on either side. Line sync
that is lost leaves nothing to be seen: `nosignal` is as right a name for it as `torn`.

A call is *right* if it touches a decidable fault of its kind. It is *other* if it touches no such
fault, but a decidable one of another kind: something was there, by another name. It is *false* if
it touches undecidable faults only, or none, or if it *overreaches*: if half of its pictures and
more than 30 lie outside all decidable faults. One that overreaches finds nothing either: who calls
dark content black all along has not found the black in it. Tints may last a whole clip, so that
they excuse no call by another name. `block` is the card's own encoder and is not counted.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from scipy.stats import binomtest, chi2

DROPOUTS = ("black", "nosignal", "resolution", "stall", "freeze")
FINE = ("tint", "torn", "sparkle")
_GRACE = 1
_FAR_PICTURES = 30
_ALIKE = {("torn", "line sync"): ("torn", "nosignal")}
Json = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Tried:
    """One decidable fault with what came of it; `onset` in pictures, None if it was not found."""

    kind: str
    form: str
    place: str
    size: tuple[int, int]
    family: str
    noise: str
    coding: str
    asked: bool
    pictures: int
    onset: int | None


@dataclass(frozen=True, slots=True)
class Called:
    """One call that was not right: `false`, or `other` where something else was there."""

    kind: str
    family: str
    size: tuple[int, int]
    clip: str
    first: int
    is_other: bool
    over: str


def tried(clip: Json, look: Json) -> Iterator[Tried]:
    """Yield the decidable faults of a clip with what one look found."""
    setting = clip["setting"]
    for fault in clip["faults"]:
        if not fault["decidable"]:
            continue
        touching = [
            row
            for row in look["rows"]
            if row[2] in names_of(fault) and touches(row, fault) and not overreaches(row, clip)
        ]
        yield Tried(
            kind=fault["kind"],
            form=fault["form"],
            place=fault["place"],
            size=tuple(setting["size"]),
            family=setting["family"],
            noise=look["noise"],
            coding=look["coding"],
            asked=fault["asked"],
            pictures=fault["last"] - fault["first"] + 1,
            onset=touching[0][0] - fault["first"] if touching else None,
        )


def wrong_calls(clip: Json, look: Json) -> Iterator[Called]:
    """Yield the calls of one look that are false, or right by another name only."""
    for row in look["rows"]:
        touched = [fault for fault in clip["faults"] if touches(row, fault)]
        decidable = [fault for fault in touched if fault["decidable"]]
        far = overreaches(row, clip)
        named = any(row[2] in names_of(fault) for fault in decidable)
        if row[2] == "block" or (named and not far):
            continue
        over = [fault for fault in decidable if fault["kind"] != "tint"]
        yield Called(
            kind=row[2],
            family=clip["setting"]["family"],
            size=tuple(clip["setting"]["size"]),
            clip=f"{clip['seed']}" if clip["faults"] else f"clean {clip['seed']}",
            first=row[0],
            is_other=bool(over) and not far,
            over=", ".join(f"{fault['kind']} {fault['form']}".strip() for fault in touched),
        )


def names_of(fault: Json) -> tuple[str, ...]:
    """Return the kinds by which a fault may be called."""
    return _ALIKE.get((fault["kind"], fault["form"]), (fault["kind"],))


def touches(row: Sequence[Any], fault: Json) -> bool:
    """Tell whether a call and a fault share a picture, or lie beside one another."""
    return bool(row[0] <= fault["last"] + _GRACE and row[1] >= fault["first"] - _GRACE)


def overreaches(row: Sequence[Any], clip: Json) -> bool:
    """Tell whether most of a call, and more than 30 pictures, lie outside all decidable faults."""
    excusing = [
        fault
        for fault in clip["faults"]
        if fault["decidable"] and (fault["kind"] != "tint" or row[2] == "tint")
    ]
    numbers = range(row[0], row[1] + 1)
    outside = sum(
        not any(touches((number, number), fault) for fault in excusing) for number in numbers
    )
    return outside > _FAR_PICTURES and 2 * outside > len(numbers)


def share_bounds(found: int, there: int) -> tuple[float, float]:
    """Return the 95 % interval of a share (Clopper and Pearson 1934, by scipy)."""
    if not there:
        return 0.0, 1.0
    bounds = binomtest(found, there).proportion_ci(0.95, "exact")
    return float(bounds.low), float(bounds.high)


def rate_bound(count: int, hours: float) -> float:
    """Return the one-sided 95 % upper bound of a Poisson rate per hour (Garwood 1936, by scipy)."""
    return float(chi2.ppf(0.95, 2 * count + 2) / 2 / hours) if hours else float("inf")
