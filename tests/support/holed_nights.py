"""Nights with losses of the unit beside holes of the bench, written as the bench would record them.

A night is drawn from its number: what the unit did, when the bench could not see it and why, and
what the bench's own instruments showed without any unit's doing. The records follow from those, and
so does what a judge may make of them, by no rule of the program's: see `Night.seen` and
`explained`.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from headers import header_of
from made_up_soak import FIXTURE, QUANTITIES, SHEET, demand

from soak.derive.course import Course
from soak.derive.events.faults import unit_faults
from soak.derive.spans import Span, common, minus
from soak.journal.memory import MemoryEvidence, MemoryJournal
from soak.judge.grade import judge
from soak.quantities import Quantity
from soak.records import FORMAT, Header, Mark, Observed, Reading, Session, State
from soak.rules.core.verdict import Judgement

WATCHED_S = 1200.0
"""What each night observes beside its holes, s: the runner lengthens a stretch by those."""
BEGINS_S, UP_S, OFF_S = 1.0, 21.0, 30.0
"""Power on; the picture is there; off-time before the power comes back in a resumed session, s."""
APART_S = 130.0
"""Between one hole with its losses and the next, s."""
EVERY_S = 10.0
"""A reading of each quantity so often, s."""
STALL_S = 5.0
"""The longest transfer of a chunk that is allowed, s."""
SHORTEST_S = 0.2
"""The shortest loss that is forbidden, s."""
MOST_IN_DOUBT = 10
"""So many losses, each in doubt by itself, are no chance. The issue's "a stated number", taken
large."""
LONG_S = 10.0
"""An instrument that is opened again or gives way shows nonsense for no longer, s. As the program's
own bound of the time after a reopening; stricter than its bound before one."""
PAUSE_S = 0.5
"""No driver opens an instrument again sooner than this, s."""
CUT_S = 1.0
"""What goes so shortly before a program is killed may have gone with it, s: the bench's switch lets
go before its board says so."""

PORTS = ("stick", "link")
SOURCES = ("capture", *PORTS)
GOOD = {"capture": "picture", "stick": "seen", "link": "seen"}
LOOKS = {"capture": ("no signal", "black", "frozen"), "stick": ("gone",), "link": ("gone",)}
WHY = {
    "late reader": "this computer was too busy to take pictures for {:.1f} s",
    "opened again": "the capture fails at once; it was unplugged or has crashed",
    "gives way": "the capture has delivered nothing for {:.0f} s; it is opened again",
    "stopped": "this computer stood still for {:.1f} s",
}
KINDS = (*WHY, "killed and resumed")

PICTURE = {"bad": ["black", "no signal", "frozen", "stalled"], "at_least_s": SHORTEST_S}
HALF_BLIND = {"confidence": 0.95, "blind_allowed": 0.6}
"""So much may be unseen that no hole by itself keeps a night from being ready."""
DEMANDS = (
    demand("no dropout", "capture", params=PICTURE, **HALF_BLIND),
    demand("no restart", "capture", params=PICTURE, **HALF_BLIND),
    demand("dropouts per hour", "capture", 1.0, params=PICTURE, **HALF_BLIND),
    demand("stick stayed", "stick", check="transfer", **HALF_BLIND),
    demand("link stayed", "link", check="link", **HALF_BLIND),
    demand("no stall", "transfer.stick.chunk_s", STALL_S, check="transfer", **HALF_BLIND),
    demand("no wrong data", "transfer.stick.damaged", check="transfer", **HALF_BLIND),
    demand("at most", "probe.outside", 60.0, check="spots", unit="degC", **HALF_BLIND),
)


@dataclass(frozen=True, slots=True)
class Hole:
    """When the bench could not see.

    Attributes
    ----------
    source : str
        What it could not see; empty: anything.
    kind : str
        One of `KINDS`.
    nonsense : sequence of (float, float)
        When the instrument itself showed a loss, before it went or as it came back.
    """

    source: str
    kind: str
    from_s: float
    to_s: float
    nonsense: tuple[Span, ...] = ()

    @property
    def length_s(self) -> float:
        return self.to_s - self.from_s

    @property
    def over_s(self) -> float:
        """When the unit could be seen to work again, s."""
        return self.to_s + (OFF_S + UP_S - BEGINS_S if self.kind == KINDS[-1] else 0.0)

    @property
    def opens_again(self) -> bool:
        """Whether the instrument is, or may be, opened anew at its end."""
        return self.kind not in ("late reader", "stopped") or self.length_s >= 5

    def hides(self, source: str) -> bool:
        return self.source in ("", source)


@dataclass(frozen=True, slots=True)
class Loss:
    """What the unit did; a `stall` is of the stick: data crossed, and too slowly."""

    source: str
    from_s: float
    to_s: float
    look: str
    stall: bool = False


@dataclass
class Night:
    """What was true of one night."""

    number: int
    holes: list[Hole] = field(default_factory=list)
    losses: list[Loss] = field(default_factory=list)
    ends_s: float = 0.0

    def hidden(self, source: str) -> list[Span]:
        """Return when a source was not seen, or the unit was off or starting, s."""
        return [(one.from_s, one.over_s) for one in self.holes if one.hides(source)]

    def visible(self, loss: Loss) -> list[Span]:
        """Return when the bench saw a loss, s."""
        return minus([(loss.from_s, loss.to_s)], self.hidden(loss.source))

    def seen(self) -> list[Loss]:
        """Return the losses that no hole can have made: those forbid a ready."""
        found = [loss for loss in self.losses if self._is_seen(loss)]
        doubtful = [loss for loss in self.losses if loss not in found and self.listed(loss)]
        return doubtful if len(doubtful) >= MOST_IN_DOUBT else found

    def _is_seen(self, loss: Loss) -> bool:
        if loss.stall:
            whole_s = sum(to_s - from_s for from_s, to_s in self.visible(loss))
            # A chunk that an instrument gave way in was cut short, and never told.
            cut = any(one.hides("stick") and one.opens_again for one in self._at(loss))
            return whole_s > STALL_S + 0.1 and not cut
        left = minus(self.visible(loss), explained(self.holes, loss))
        return any(to_s - from_s > SHORTEST_S + 0.05 for from_s, to_s in left)

    def _at(self, loss: Loss) -> Iterator[Hole]:
        """Yield the holes that have a moment in common with a loss."""
        for one in self.holes:
            if one.from_s <= loss.to_s and one.over_s >= loss.from_s:
                yield one

    def listed(self, loss: Loss) -> bool:
        """Tell whether the bench saw enough of a loss that it must stand somewhere."""
        killed = [(o.from_s - CUT_S, o.from_s) for o in self.holes if o.kind == KINDS[-1]]
        left = minus(self.visible(loss), killed)
        return not loss.stall and any(to_s - from_s > SHORTEST_S + 0.05 for from_s, to_s in left)


def explained(holes: Sequence[Hole], loss: Loss) -> Iterator[Span]:
    """Yield when the bench itself may have made what a loss looks like.

    Only an instrument that is opened again makes one: as it comes back, for about as long as it was
    away; and as it gives way, if its nonsense goes on until it is gone. A late reader or a stopped
    process makes a picture stand, and nothing else. A program that is killed may have been so by
    the mains, which take the unit a little earlier.
    """
    for one in holes:
        if not one.hides(loss.source):
            continue
        if not one.opens_again:
            if loss.look == "frozen":  # who looks late sees the last picture for so long
                yield one.from_s - one.length_s, one.to_s + one.length_s
            continue
        yield one.to_s, one.to_s + min(LONG_S, 1.0 + 2.0 * one.length_s)
        if loss.from_s < one.from_s <= loss.to_s + 0.05 and one.from_s - loss.from_s <= LONG_S:
            yield loss.from_s, one.from_s


def draw(number: int) -> Night:
    """Draw a night; four in ten have a good unit, one in twenty a loss after loss."""
    chance = np.random.default_rng([20261129, number])
    night, good = Night(number), chance.random() < 0.4
    if not good and chance.random() < 0.08:
        return _again_and_again(night, chance)
    at_s = UP_S + APART_S
    for _ in range(int(chance.integers(1, 4))):
        hole = _hole(at_s + float(chance.uniform(0, 30)), chance, good)
        night.holes.append(hole)
        if not good:
            night.losses += _losses(hole, chance)
        at_s = hole.over_s + APART_S
    night.ends_s = max(at_s, UP_S + WATCHED_S + sum(o.over_s - o.from_s for o in night.holes))
    return night


def _hole(from_s: float, chance: np.random.Generator, good: bool) -> Hole:
    kind = str(chance.choice(KINDS))
    length_s = float(np.exp(chance.uniform(np.log(0.05), np.log(300.0))))
    source = ""
    if kind == "late reader":
        source, length_s = "capture", min(length_s, 2.0)
    elif kind in ("opened again", "gives way"):
        source = str(chance.choice(SOURCES)) if kind == "opened again" else "capture"
        length_s = max(length_s, PAUSE_S)
    nonsense = []
    # Beside a unit's own losses there is none: who made a loss would be anybody's guess.
    if good and source and kind != "late reader" and chance.random() < 0.7:
        after_s = float(chance.uniform(0.05, 1.0)) * min(8.0, length_s)
        nonsense.append((from_s + length_s, from_s + length_s + after_s))
        if kind == "gives way":
            before_s = float(chance.choice([chance.uniform(0.1, 8), chance.uniform(8, 50)]))
            nonsense.append((from_s - before_s, from_s))
    return Hole(source, kind, from_s, from_s + length_s, tuple(nonsense))


def _losses(hole: Hole, chance: np.random.Generator) -> list[Loss]:
    """Draw what the unit did beside a hole: nothing, a loss, or a port with all that is on it."""
    what = str(chance.choice(["capture", "stick", "link", "port", "restart", "stall", "nothing"]))
    if what == "nothing":
        return []
    from_s, to_s = _placed(hole, float(np.exp(chance.uniform(np.log(0.1), np.log(20.0)))), chance)
    if what == "stall":
        return [Loss("stick", from_s, to_s, "", stall=True)]
    sources = {"port": PORTS, "restart": SOURCES}.get(what, (what,))
    return [Loss(one, from_s, to_s, str(chance.choice(LOOKS[one]))) for one in sources]


def _placed(hole: Hole, length_s: float, chance: np.random.Generator) -> Span:
    """Place a loss of a length before a hole, over it, in it, after it, or touching it."""
    near_s = float(np.exp(chance.uniform(np.log(0.1), np.log(60.0))))
    inside_s = float(chance.uniform(0.05, 0.95)) * length_s
    places = ["before", "ends at", "into", "over", "out of", "begins at", "after"]
    if hole.kind == KINDS[-1]:  # what is not there yet as the unit starts again is no loss
        places, near_s = ["before", "ends at", "into", "after"], 1.0 + near_s
    where = str(chance.choice(places))
    if where == "over":
        return hole.from_s - inside_s, hole.over_s + length_s - inside_s
    begins = {
        "before": hole.from_s - near_s - length_s,
        "ends at": hole.from_s - length_s,
        "into": hole.from_s - inside_s,
        "out of": hole.over_s - inside_s,
        "begins at": hole.over_s,
        "after": hole.over_s + near_s,
    }
    return begins[where], begins[where] + length_s


def _again_and_again(night: Night, chance: np.random.Generator) -> Night:
    """Let the picture go many times, each time just before the bench is blind for a second."""
    kind = str(chance.choice(["opened again", "late reader"]))
    lost_s, blind_s = float(chance.uniform(0.3, 2.0)), float(chance.uniform(0.5, 1.5))
    number = int(chance.integers(MOST_IN_DOUBT + 2, 61))
    for one in range(number):
        at_s = UP_S + 30 + one * 18.0
        night.losses.append(Loss("capture", at_s - lost_s, at_s, "no signal"))
        night.holes.append(Hole("capture", kind, at_s, at_s + blind_s))
    night.ends_s = UP_S + WATCHED_S + number * blind_s
    return night


def written(night: Night) -> MemoryEvidence:
    """Write the night's journal."""
    resumed = [one for one in night.holes if one.kind == KINDS[-1]]
    told = [*_course(night, resumed), *_holes(night), *_readings(night)]
    for source in SOURCES:
        told += _states(night, source)
    told = [one for one in told if not any(o.from_s < one.t_s < o.to_s for o in resumed)]
    told.sort(key=lambda record: record.t_s)
    journal = MemoryJournal(_header())
    for number, gap in enumerate([*resumed, None], 1):
        until_s = gap.to_s if gap else float("inf")
        for record in told:
            begins_s = resumed[number - 2].to_s if number > 1 else -1.0
            if begins_s <= record.t_s < until_s:
                journal.append(record)
        if gap is not None:
            last_s = max((one.t_s for one in told if one.t_s <= gap.from_s), default=0.0)
            utc = "2026-01-05T22:00:00Z"
            session = Session(
                number + 1, "", "", utc, gap.to_s, gap.to_s - last_s, gap_from="boot clock"
            )
            journal.begin_session(session)
    journal.seal_now()
    return journal.evidence


def _header() -> Header:
    speeds = (Quantity("link.speed", "Mb/s", "link"),)
    lasts = {"name": "hot run", "lasts_s": WATCHED_S}
    checks: dict[str, Any] = {"picture": {}, "transfer": {}, "link": {}, "spots": {}}
    return header_of(
        format=FORMAT,
        soak_id="S1",
        job_id="J1",
        unit={"serial": "KY-1", "repairs": [], "wiped": None},
        model_sheet=SHEET,
        script={"name": "beside holes", "stretches": [{**lasts, "checks": checks}]},
        fixture={**FIXTURE, "link": {"driver": "simulated", "port": "service"}},
        quantities=(*QUANTITIES, *speeds),
        requirements=DEMANDS,
        references={},
        seed=1,
        simulated=True,
    )


def _course(night: Night, resumed: Sequence[Hole]) -> Iterator[Observed]:
    """Yield what the runner says: stretch and power."""
    run = ("hot run", "")
    yield Mark(0.5, "stretch begins", *run, {"observed_s": 0.0})
    yield Mark(BEGINS_S, "power", detail={"on": True, "channel": "1", "why": "stretch hot run"})
    for one in resumed:
        at_s, why = one.to_s + 0.2, "resumed: off first"
        yield Mark(at_s, "power", detail={"on": False, "channel": "1", "why": why})
        on_s = one.to_s + OFF_S
        yield Mark(on_s - 0.2, "stretch begins", *run, {"observed_s": one.from_s - BEGINS_S})
        yield Mark(on_s, "power", detail={"on": True, "channel": "1", "why": "stretch hot run"})
    for at_s in np.arange(UP_S, night.ends_s, EVERY_S):
        yield Mark(float(at_s), "goes on", *run, {"observed_s": float(at_s) - UP_S})
    yield Mark(night.ends_s, "stretch ends", *run, {"because": "done", "observed_s": WATCHED_S})
    off = {"on": False, "channel": "1", "why": "the soak is over"}
    yield Mark(night.ends_s + 0.5, "power", detail=off)
    yield Mark(night.ends_s + 2.0, "off proved", detail={"by": "capture", "after_s": None})


def _holes(night: Night) -> Iterator[Observed]:
    """Yield what is said of the bench: a lost instrument, a host that stood still."""
    for one in night.holes:
        if one.kind == "opened again" and one.source != "link":
            told = {"instrument": one.source, "what": _why(one)}
            yield Mark(one.from_s, "bench fault", detail=told)
            yield Mark(one.to_s, "bench well", detail={"instrument": one.source})
        elif one.kind == "stopped":
            spans = [[round(one.from_s, 3), round(one.to_s, 3)]]
            still = {"for_s": round(one.length_s, 3), "spans": spans}
            yield Mark(one.to_s, "stood still", detail=still)


def _why(hole: Hole) -> str:
    return (
        WHY[hole.kind].format(hole.length_s).replace("the capture", f"the {hole.source or 'host'}")
    )


def _states(night: Night, source: str) -> Iterator[State]:
    """Yield what a source is seen to be, whenever that changes."""
    holes = [one for one in night.holes if one.hides(source)]
    losses = [one for one in night.losses if one.source == source and not one.stall]
    edges = {0.0, BEGINS_S, UP_S, night.ends_s + 1.0}
    for one in holes:
        edges |= {one.from_s, one.to_s, one.over_s, *(t_s for s in one.nonsense for t_s in s)}
    edges |= {t_s for loss in losses for t_s in (loss.from_s, loss.to_s)}
    now, dark = "", LOOKS[source][0]
    for at_s in sorted(edges):
        state, detail = _state_at(at_s, holes, losses, source, night.ends_s)
        resumed = any(one.kind == KINDS[-1] and one.to_s == at_s for one in holes)
        if state != now or resumed:
            yield State(at_s, source, state or dark, 1 / 60, detail)
        now = state


def _state_at(
    at_s: float, holes: Sequence[Hole], losses: Sequence[Loss], source: str, ends_s: float
) -> tuple[str, dict[str, Any]]:
    for one in holes:
        if one.from_s <= at_s < one.to_s:
            late = {"late": True} if one.kind in ("late reader", "stopped") else {}
            return "blind", {"why": _why(one), **late} if one.kind in WHY else {}
        off = one.to_s <= at_s < one.over_s
        if off or any(from_s <= at_s < to_s for from_s, to_s in one.nonsense):
            return LOOKS[source][0], {}
    if not UP_S <= at_s < ends_s + 1.0:
        return LOOKS[source][0], {}
    for loss in losses:
        if loss.from_s <= at_s < loss.to_s:
            return loss.look, {}
    return GOOD[source], {}


def _readings(night: Night) -> Iterator[Reading]:
    times = np.arange(0.0, night.ends_s, EVERY_S)
    nobody = [(one.from_s, one.to_s) for one in night.holes if not one.source]
    yield from _each("probe.ambient", times, nobody, 21.0)
    killed = [one.from_s - 0.02 for one in night.holes if one.kind == KINDS[-1]]
    yield from _each("probe.outside", sorted([*times, *killed]), nobody, 45.0)
    gone = [(one.from_s, one.to_s + 0.5) for one in night.losses if one.source == "stick"]
    idle = [(0.0, UP_S), *night.hidden("stick"), *gone]
    yield from _each("link.speed", times, [(0.0, UP_S), *night.hidden("link")], 480.0)
    values = {"speed": 30e6, "chunk_s": 0.14, "damaged": 0.0, "written": 4e6}
    for name, value in values.items():
        yield from _each(f"transfer.stick.{name}", times, idle, value)
    for loss in night.losses:
        if loss.stall:
            yield from _stalled(night, loss, values)


def _stalled(night: Night, loss: Loss, values: dict[str, float]) -> Iterator[Reading]:
    """Yield a chunk that took as long as a stall; one cut short is told by nobody."""
    cut = [one for one in night.holes if one.hides("stick") and one.kind != "stopped"]
    if common([(loss.from_s, loss.to_s)], [(one.from_s, one.over_s) for one in cut]):
        return
    for name, value in values.items():
        took_s = loss.to_s - loss.from_s
        stopped = [o for o in night.holes if o.kind == "stopped" and o.from_s <= loss.to_s < o.to_s]
        done_s = max([loss.to_s, *(one.to_s for one in stopped)])  # whoever stood still is late
        took_s = done_s - loss.from_s
        yield Reading(done_s, f"transfer.stick.{name}", took_s if name == "chunk_s" else value)


def _each(name: str, times: Any, but: Sequence[Span], value: float) -> Iterator[Reading]:
    for t_s in times:
        if not any(from_s <= t_s <= to_s for from_s, to_s in but):
            yield Reading(float(t_s), name, value)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a judge made of a night.

    Attributes
    ----------
    wrong : str
        What is wrong with it; empty if nothing is.
    """

    night: Night
    judgement: Judgement
    wrong: str


def judged(number: int) -> Outcome:
    """Draw a night by its number, write it, judge it, and hold the judgement to what was true."""
    night = draw(number)
    course = Course(written(night))
    judgement = judge([course])
    return Outcome(night, judgement, _wrong(night, course, judgement))


def _wrong(night: Night, course: Course, judgement: Judgement) -> str:
    if not night.losses:
        charged = [str(fault.kind) for fault in unit_faults(course)]
        if judgement.because == "failed" or charged:
            return f"charged to a good unit: {judgement.reason} {charged}"
        return ""
    if judgement.ready and night.seen():
        return "ready, and a loss was seen"
    if judgement.ready and (unlisted := _unlisted(night, course)):
        return f"ready, and a loss is listed nowhere: {unlisted[0].source}"
    return ""


def _unlisted(night: Night, course: Course) -> list[Loss]:
    """Return the losses of a state that the bench saw and that stand nowhere."""
    found = []
    for loss in filter(night.listed, night.losses):
        known = course.losses(loss.source, frozenset(LOOKS[loss.source]))
        listed = [(one.from_s - 0.1, one.to_s + 0.1) for one in known]
        if not common(listed, [(loss.from_s, loss.to_s)]):
            found.append(loss)
    return found
