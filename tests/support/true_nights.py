"""Nights written record by record: a unit's fault of a drawn kind and strength, the bench's beside.

What is true of a night follows from its number, by no rule of the program's.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
from made_up_soak import CYCLE_S, HOT_S, STARTS_S, MadeUpSoak, clean_night, demand, fail_start
from troubled_nights import TROUBLES, copied, relay_stays_open

from soak.judge.grade import judge
from soak.judge.worst import kinds_of
from soak.rules.core.verdict import Judgement, Verdict

STRENGTHS = ("very weak", "weak", "middling", "strong")
EVENTS = {"very weak": 0.3, "weak": 1.5, "middling": 6.0, "strong": 20.0}
"""Faults, or bouts of faults, that a night brings on the mean."""
BOUTS = (1, 2, 5, 10)
LONG_ENOUGH_S = 0.3
"""A loss that long is forbidden (0.2 s) whatever its edges are read as, s."""
WITHIN_S = 20.0
"""From fault to fault of a bout on the mean, s; a bout and the next are 20 times as far apart, or
more."""
REACH_S = 60.0
"""So far beside a fault of the bench the unit's own may be doubted, s."""

PICTURE = {"bad": ["black", "no signal", "frozen", "stalled"], "at_least_s": 0.2}
COUNTED = {"confidence": 0.95, "blind_allowed": 0.6}
DEMANDS = (
    demand("starts", limit=0.0, confidence=0.95, params={"start_limit_s": 50.0, "kinds": ["warm"]}),
    demand("no dropout", "capture", params=PICTURE, **COUNTED),
    demand("no restart", "capture", params=PICTURE, **COUNTED),
    demand("at most", "probe.outside", 60.0, check="spots", unit="degC", blind_allowed=0.6),
    demand("no wrong data", "transfer.stick.damaged", check="transfer", unit="B"),
    demand("no stall", "transfer.stick.chunk_s", 5.0, check="transfer", unit="s"),
    demand("stick stayed", "stick", check="transfer", **COUNTED),
    demand("speed kept", "transfer.stick.speed", 0.8, check="transfer", params={"first_s": 600.0}),
)
EXPECTED = {
    "none": (),
    "picture": ("no dropout",),
    "restarts": ("no restart",),
    "starts": ("starts", "starts by plan", "off proved"),
    "port": ("stick stayed", "link stayed"),
    "data": ("no wrong data",),
    "stalls": ("no stall", "stick stayed"),
    "slow": ("speed kept", "no slow drift", "speed at least", "few late reads"),
    "heat": ("at most", "no trip", "rise at most"),
}
"""Each kind of fault, and the rules that its reason may name first."""


@dataclass
class Truth:
    """What is true of a night.

    Attributes
    ----------
    events : list of (float, float)
        Faults that the demands forbid, s of soak time.
    hidden : list of (float, float)
        When the bench had faults of its own, or what came of them, s.
    per_h, share : float
        Bouts of losses of the picture, and failed starts, in the long run.
    """

    seed: int
    kind: str
    strength: str
    bout: int
    events: list[tuple[float, float]] = field(default_factory=list)
    hidden: list[tuple[float, float]] = field(default_factory=list)
    per_h: float = 0.0
    share: float = 0.0

    @property
    def surely_seen(self) -> bool:
        """Whether a fault lies where nothing of the bench can have hidden it."""
        return any(
            all(to_s < a - REACH_S or from_s > b + REACH_S for a, b in self.hidden)
            for from_s, to_s in self.events
        )


def drawn(seed: int, kinds: Sequence[str]) -> tuple[Truth, np.random.Generator]:
    """Draw what is true of a night, and what draws the rest; half of the units are good."""
    chance = np.random.default_rng([20261130, seed])
    kind = "none" if chance.random() < 0.5 else str(chance.choice(list(kinds)))
    strength = str(chance.choice(STRENGTHS)) if kind != "none" else ""
    bout = int(chance.choice(BOUTS)) if kind in ("picture", "port", "restarts") else 1
    return Truth(seed, kind, strength, bout), chance


@cache
def _clean() -> MadeUpSoak:
    return clean_night().demanding(*DEMANDS)


def written_night(seed: int) -> dict[str, Any]:
    """Write a night, judge it, and say what came of it."""
    truth, chance = drawn(seed, list(_FAULTS))
    soak = copied(_clean())
    if truth.kind != "none":
        _FAULTS[truth.kind](soak, truth, chance)
    names = []
    if chance.random() < 0.5:
        for place in sorted(chance.permutation(4)[: int(chance.integers(1, 4))]):
            trouble = TROUBLES[int(chance.integers(len(TROUBLES)))]
            from_s = STARTS_S + 200 + int(place) * 3500 + float(chance.uniform(0, 1500))
            trouble(soak, from_s, chance)
            for_good = trouble is relay_stays_open  # what comes after it nobody sees
            truth.hidden.append((from_s, soak.ends_s if for_good else from_s + 2200))
            names.append(trouble.__name__)
            if for_good:
                break
    return row_of("journal", truth, judge([soak]), names)


def row_of(level: str, truth: Truth, judged: Judgement, troubles: Sequence[str]) -> dict[str, Any]:
    """Return the line of a night in a table's file."""
    failed = [one for one in judged.findings if one.verdict is Verdict.NOT_MET]
    worst = kinds_of(failed)[0][0].requirement.rule if failed else ""
    truths = {"no dropout": truth.per_h, "starts": truth.share}
    stated = [
        (one.requirement.rule, truths[one.requirement.rule], one.bound_high)
        for one in judged.findings
        if one.requirement.rule in truths and one.verdict in (Verdict.MET, Verdict.NOT_MET)
    ]
    return {
        "level": level,
        "seed": truth.seed,
        "kind": truth.kind,
        "strength": truth.strength,
        "bout": truth.bout,
        "troubles": list(troubles),
        "surely_seen": truth.surely_seen,
        "grade": "ready" if judged.ready else judged.because,
        "first": worst,
        "reason": str(judged.reason)[:200],
        "bounds": stated,
    }


def _bouts(truth: Truth, chance: np.random.Generator) -> list[float]:
    """Draw when faults come: bouts by chance, each of a geometric number."""
    begins_s, ends_s = STARTS_S + 120, STARTS_S + HOT_S - 60
    rate = EVENTS[truth.strength] / HOT_S
    apart_s = min(WITHIN_S, 1 / (20 * rate))
    at_s, found = begins_s, []
    while (at_s := at_s + float(chance.exponential(1 / rate))) < ends_s:
        for number in range(int(chance.geometric(1 / truth.bout))):
            at_s += float(chance.exponential(apart_s)) + 5.0 if number else 0.0
            if at_s < ends_s:
                found.append(at_s)
    truth.per_h = 3600 * rate if truth.kind == "picture" else 0.0
    return found


def _lost(soak: MadeUpSoak, truth: Truth, chance: np.random.Generator) -> None:
    for at_s in _bouts(truth, chance):
        lasts_s = float(np.exp(chance.uniform(np.log(0.1), np.log(4.0))))
        look = str(chance.choice(["no signal", "black", "frozen"]))
        soak.spell("capture", at_s, at_s + lasts_s, look)
        if lasts_s >= LONG_ENOUGH_S:
            truth.events.append((at_s, at_s + lasts_s))


def _restarts(soak: MadeUpSoak, truth: Truth, chance: np.random.Generator) -> None:
    ended_s = 0.0
    for at_s in _bouts(truth, chance):
        if at_s > ended_s + 30:
            ended_s = at_s + float(chance.uniform(14, 40))
            soak.spell("capture", at_s, ended_s, "no signal")
            soak.spell("stick", at_s + 0.1, ended_s - 2.0, "gone")
            truth.events.append((at_s, ended_s))


def _starts(soak: MadeUpSoak, truth: Truth, chance: np.random.Generator) -> None:
    truth.share = min(0.9, EVENTS[truth.strength] / 20)
    for number in np.flatnonzero(chance.random(20) < truth.share):
        fail_start(soak, int(number))
        truth.events.append((number * CYCLE_S, (number + 1) * CYCLE_S))


def _port(soak: MadeUpSoak, truth: Truth, chance: np.random.Generator) -> None:
    ended_s = 0.0
    for at_s in _bouts(truth, chance):
        if at_s > ended_s + 5:
            ended_s = at_s + float(np.exp(chance.uniform(np.log(0.5), np.log(20.0))))
            soak.spell("stick", at_s, ended_s, "gone")
            truth.events.append((at_s, ended_s))


def _data(soak: MadeUpSoak, truth: Truth, chance: np.random.Generator) -> None:
    _in_readings(soak, truth, chance, "damaged", lambda: 512.0 * int(chance.integers(1, 9)))


def _stalls(soak: MadeUpSoak, truth: Truth, chance: np.random.Generator) -> None:
    _in_readings(soak, truth, chance, "chunk_s", lambda: float(chance.uniform(5.2, 9.0)))


def _in_readings(
    soak: MadeUpSoak,
    truth: Truth,
    chance: np.random.Generator,
    what: str,
    value: Callable[[], float],
) -> None:
    t_s, values = soak.readings[f"transfer.stick.{what}"]
    values = values.copy()
    for at in np.flatnonzero(chance.random(len(t_s)) < EVENTS[truth.strength] / len(t_s)):
        values[at] = value()
        truth.events.append((float(t_s[at]) - 10, float(t_s[at])))
    soak.readings[f"transfer.stick.{what}"] = (t_s, values)


def _slow(soak: MadeUpSoak, truth: Truth, chance: np.random.Generator) -> None:
    t_s, value = soak.readings["transfer.stick.speed"]
    left = dict(zip(STRENGTHS, (0.95, 0.85, 0.6, 0.2), strict=True))[truth.strength]
    since_s = STARTS_S + float(chance.uniform(1200, HOT_S / 2))
    soak.readings["transfer.stick.speed"] = (t_s, np.where(t_s >= since_s, value * left, value))
    if left < 0.8:
        truth.events.append((since_s, since_s))


def _heat(soak: MadeUpSoak, truth: Truth, chance: np.random.Generator) -> None:
    t_s, value = soak.readings["probe.outside"]
    over_k = dict(zip(STRENGTHS, (-2.0, 1.0, 4.0, 15.0), strict=True))[truth.strength]
    more_k = 10.0 + over_k + float(chance.uniform(-0.5, 0.5))
    warmer = more_k * (1 - np.exp(-np.maximum(t_s - STARTS_S, 0) / 600))
    soak.readings["probe.outside"] = (t_s, value + warmer)
    hot_s = t_s[(value + warmer > 60.0) & (t_s > STARTS_S)]
    truth.events += [(float(at_s), float(at_s)) for at_s in hot_s]


_FAULTS: dict[str, Callable[[MadeUpSoak, Truth, np.random.Generator], None]] = {
    "picture": _lost,
    "restarts": _restarts,
    "starts": _starts,
    "port": _port,
    "data": _data,
    "stalls": _stalls,
    "slow": _slow,
    "heat": _heat,
}
