"""Which faults a clip holds, where and how: drawn from its number, each form as often as another.

Two clips that follow on one another hold the eight kinds once, four each. The n-th fault of a kind
takes the forms in turn, so that forms, places and lengths are spread evenly over any range.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator

from judging.colours import FORMS as TINTS

KINDS = ("black", "nosignal", "resolution", "stall", "freeze", "tint", "torn", "sparkle")
BLACKS = ("0", "16", "noisy", "hum bars")
CARDS = ("blue", "blue with a box", "blue a fifth darker", "colour bars", "snow")
FREEZES = ("one picture", "same packet", "two in turn", "three in turn")
TEARS = ("standing", "changing", "band standing", "band changing", "line sync")
SPARKS = ("dots", "dashes")
PLACES = ("from the first picture", "the whole clip", "after a loss", "a step in the middle")
OTHER_SIZES = ((640, 480), (720, 576), (800, 600), (1280, 720), (1920, 1080), (1024, 768))
Value = str | int | float


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault that was put in.

    Attributes
    ----------
    kind, form : str
        One of KINDS, and how it looks.
    first, last : int
        Its first and last picture; of a stall those before and after it.
    place : str
        Where it stands in the clip; only tint and sparkle have several.
    given : mapping
        What else it was made with.
    decidable : bool
        Whether anybody could tell it, by `judging.decidable`; `why` says why not.
    asked : bool
        Whether it is as large as what is asked of the picture check.
    """

    kind: str
    form: str
    first: int
    last: int
    place: str
    given: Mapping[str, Value]
    decidable: bool = True
    asked: bool = True
    why: str = ""

    def holds(self, number: int) -> bool:
        """Tell whether a picture belongs to it."""
        return self.kind != "stall" and self.first <= number <= self.last


@dataclass(frozen=True, slots=True)
class Timeline:
    """The pictures of a clip: `slots[n]` is when picture n was due, in pictures from the start."""

    faults: Sequence[Fault]
    slots: Sequence[int]


@dataclass(frozen=True, slots=True)
class _Wish:
    kind: str
    form: str
    place: str
    length: int
    given: Mapping[str, Value]


def planned(seed: int, rate_hz: int, size: tuple[int, int]) -> Timeline:
    """Return where the faults of a clip lie."""
    pair, half = divmod(seed, 2)
    order = np.random.default_rng([5, pair]).permutation(len(KINDS))
    kinds = [KINDS[int(number)] for number in order[4 * half : 4 * half + 4]]
    rng = np.random.default_rng([6, seed])
    wishes = [_wish(kind, pair, rate_hz, size, rng) for kind in kinds]
    if sum(wish.place in PLACES[:2] for wish in wishes) > 1:  # only one can be there from the first
        wishes = [
            replace(wish, place=PLACES[3]) if wish.kind == "sparkle" else wish for wish in wishes
        ]
    wishes.sort(key=lambda wish: PLACES.index(wish.place) if wish.place in PLACES[:2] else 9)
    return _laid(wishes, rate_hz, rng, seed)


def _log_uniform(rng: Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _wish(kind: str, turn: int, rate_hz: int, size: tuple[int, int], rng: Generator) -> _Wish:
    forms = {"black": BLACKS, "nosignal": CARDS, "freeze": FREEZES, "torn": TEARS, "tint": TINTS}
    named = {**forms, "sparkle": SPARKS}.get(kind, ("",))
    form = named[turn % len(named)]
    place = PLACES[3]
    if kind == "tint":
        place = PLACES[turn % 4]
    elif kind == "sparkle" and turn // 2 % 3 == 0:
        place = PLACES[0]
    length, given = _LENGTHS[kind](rng, rate_hz)
    if kind == "resolution":
        others = [one for one in OTHER_SIZES if one != size]
        width, rows = others[turn % len(others)]
        given = {"width": width, "rows": rows}
    return _Wish(kind, form, place, max(1, length), given)


def _lost(rng: Generator, rate_hz: int) -> tuple[int, dict[str, Value]]:
    return round(_log_uniform(rng, 1, 4 * rate_hz)), {"hum": float(rng.uniform(8, 16))}


def _stalled(rng: Generator, rate_hz: int) -> tuple[int, dict[str, Value]]:
    return int(np.ceil(_log_uniform(rng, 0.5, 5) * rate_hz)), {}


def _frozen(rng: Generator, rate_hz: int) -> tuple[int, dict[str, Value]]:
    return int(np.ceil(_log_uniform(rng, 0.5, 10) * rate_hz)), {}


def _tinted(rng: Generator, rate_hz: int) -> tuple[int, dict[str, Value]]:
    length = round(_log_uniform(rng, 0.3, 3) * rate_hz)
    return length, {"level": int(rng.integers(40, 221))}


def _torn(rng: Generator, rate_hz: int) -> tuple[int, dict[str, Value]]:
    del rate_hz
    pixels = max(2, round(_log_uniform(rng, 2, 61)))
    given: dict[str, Value] = {
        "pixels": min(60, pixels) * int(rng.choice([-1, 1])),
        "from": float(rng.uniform(0.05, 0.8)),
        "high": float(rng.uniform(0.05, 0.4)),
    }
    return round(_log_uniform(rng, 1, 60)), given


def _sparkling(rng: Generator, rate_hz: int) -> tuple[int, dict[str, Value]]:
    return round(_log_uniform(rng, 0.2, 2.5) * rate_hz), {"share": _log_uniform(rng, 1e-4, 5e-3)}


_LENGTHS = {
    "black": _lost,
    "nosignal": _lost,
    "resolution": _lost,
    "stall": _stalled,
    "freeze": _frozen,
    "tint": _tinted,
    "torn": _torn,
    "sparkle": _sparkling,
}


def _laid(wishes: Sequence[_Wish], rate_hz: int, rng: Generator, seed: int) -> Timeline:
    faults: list[Fault] = []
    slots: list[int] = []

    def clean(seconds: float) -> None:
        start = slots[-1] + 1 if slots else 0
        slots.extend(range(start, start + round(seconds * rate_hz)))

    def put(wish: _Wish) -> None:
        start = slots[-1] + 1 if slots else 0
        first = len(slots)
        if wish.kind == "stall":
            slots.append(start + wish.length)
            faults.append(_fault(wish, first - 1, first))
            return
        slots.extend(range(start, start + wish.length))
        faults.append(_fault(wish, first, len(slots) - 1))

    if wishes[0].place not in PLACES[:1]:
        clean(rng.uniform(1.2, 2.2))
    for wish in wishes:
        if wish.place == PLACES[1]:
            continue
        if wish.place == PLACES[2]:
            kind = ("black", "nosignal")[seed // 2 % 2]
            form = {"black": BLACKS[0], "nosignal": CARDS[0]}[kind]
            put(_Wish(kind, form, PLACES[3], round(rng.uniform(0.4, 1.0) * rate_hz), {"hum": 10.0}))
        put(wish)
        clean(rng.uniform(1.1, 2.0))
    whole = [_fault(wish, 0, len(slots) - 1) for wish in wishes if wish.place == PLACES[1]]
    return Timeline(tuple(whole + faults), tuple(slots))


def _fault(wish: _Wish, first: int, last: int) -> Fault:
    return Fault(wish.kind, wish.form, first, last, wish.place, dict(wish.given))


def judged(fault: Fault, asked: bool, why: str) -> Fault:
    """Return a fault with its mark: undecidable if there is a reason why."""
    return replace(fault, decidable=not why, asked=asked, why=why)
