"""What else the events of a pointer go with: uptime, movement, other ports, short offs, late reads.

Each hint is a few words behind a pointer, or empty. It is told only where luck is a poor
explanation; the levels are our own choice.
"""

from collections.abc import Sequence

import numpy as np
from scipy.special import bdtrc, ndtr

from soak.derive.events.faults import UnitFault
from soak.derive.spans import Span, common, holds, merged, total_s
from soak.derive.strata import kind_of
from soak.evidence import Floats
from soak.judge.explain.clues import TOGETHER_S, Clues
from soak.marks import MovementBegins, MovementEnds, fact_as
from soak.rules.transfer_trend import usual_and_late_s
from soak.words import NOTHING_SAID, Amount, Message, Stated, msg

MATTERS = 0.01
"""What lies so by luck once in a hundred is worth a hint. Our own choice."""
HOTTER_BY_K = 1.0
"""Losses must also lie so much above the rest in temperature, K. Our own choice."""
_FEWEST = 3
"""From fewer events no hint is given. Our own choice."""
_GRID_S = 60.0
"""What was usual is looked at so often over the time watched, s. Our own choice: heat changes over
minutes."""
_BEFORE_S = 120.0
"""A read that came late so shortly before an error counts as its herald, s. Our own choice."""
_SLOWER_BY = 1.2
"""Starts after a quick off that take so many times as long as warm ones are slower. Our own
choice."""
_LETTING_GO_S = 3.0
"""What a hand does last may show only as it lets go, s. Our own choice."""


def rank_chances(some: Floats, usual: Floats) -> tuple[float, float]:
    """Return the chances of such high and of such low ranks of `some` among `usual` by luck.

    References
    ----------
    Mann & Whitney, Annals of Mathematical Statistics 18 (1947) 50-60, normal approximation.
    """
    ordered = np.sort(usual)
    below = np.searchsorted(ordered, some, side="left")
    level = np.searchsorted(ordered, some, side="right")
    u = float(np.sum((below + level) / 2))
    n = len(some)
    m = len(usual)
    z = (u - n * m / 2) / float(np.sqrt(n * m * (n + m + 1) / 12))
    return float(ndtr(-z)), float(ndtr(z))


def with_uptime(clues: Clues, events: Sequence[UnitFault]) -> Message:
    """Say whether the events come soon after power-on, or only after long running."""
    windows = clues.course.power
    watched = clues.course.started
    spans = [np.arange(a, b, _GRID_S) for a, b in watched if b > a]
    if len(events) < _FEWEST or not spans:
        return NOTHING_SAID
    usual = _uptimes(np.concatenate(spans), windows)
    own = _uptimes(np.array([event.from_s for event in events]), windows)
    if len(own) < _FEWEST or len(usual) < _FEWEST:
        return NOTHING_SAID
    high, low = rank_chances(own, usual)
    median = Amount(float(np.median(own)), "s")
    if 2 * low < MATTERS:
        return msg("soon after power-on (median {median})", median=median)
    if 2 * high < MATTERS:
        return msg("after long running (median {median})", median=median)
    return NOTHING_SAID


def _uptimes(t_s: Floats, windows: Sequence[Span]) -> Floats:
    begins = np.array([begin for begin, _ in windows])
    inside = np.array([holds(float(t), windows) for t in t_s], dtype=bool)
    known = t_s[inside]
    if not len(begins) or not len(known):
        return np.empty(0)
    return np.asarray(known - begins[np.searchsorted(begins, known, side="right") - 1])


def with_movement(clues: Clues, events: Sequence[UnitFault]) -> Message:
    """Say whether the events come while a plug is moved, and not while hands are off."""
    moved = _spans_of_movement(clues, rest=False)
    rest = _spans_of_movement(clues, rest=True)
    there = [event for event in events if holds(event.from_s, [*moved, *rest])]
    number = sum(holds(event.from_s, moved) for event in there)
    if number < _FEWEST or not rest:
        return NOTHING_SAID
    share = total_s(moved) / (total_s(moved) + total_s(rest))
    chance = float(bdtrc(number - 1, len(there), share))
    if chance >= MATTERS:
        return NOTHING_SAID
    return msg(
        "when its plug was moved ({number} of {seen} seen meanwhile)",
        number=number,
        seen=len(there),
    )


def _spans_of_movement(clues: Clues, *, rest: bool) -> list[Span]:
    ends = [mark.t_s for mark in clues.course.marks(MovementEnds.mark)]
    spans = []
    for mark in clues.course.marks(MovementBegins.mark):
        if (fact_as(mark, MovementBegins).movement == "rest") == rest:
            to_s = next((t_s for t_s in ends if t_s >= mark.t_s), mark.t_s)
            spans.append((mark.t_s, to_s + (0.0 if rest else _LETTING_GO_S)))
    return merged(spans)


def with_other_ports(clues: Clues) -> Message:
    """Say whether several ports are lost at one moment."""
    stick = clues.of("stick gone")
    link = clues.of("link gone")
    fixture = clues.course.header.fixture
    other = fixture.port_of("link") != fixture.port_of("stick")
    both = sum(clues.together(event, link) for event in stick)
    if not other or both < 2:
        return NOTHING_SAID
    return msg(
        "two ports at one moment, {count} times: rather what they share than one connector",
        count=both,
    )


def with_late_reads(clues: Clues, events: Sequence[UnitFault]) -> Message:
    """Say whether reads that came late go before the errors."""
    t_s, took_s = clues.course.series("transfer.stick.chunk_s")
    watched = clues.course.started
    if len(events) < _FEWEST or len(t_s) < _FEWEST or total_s(watched) <= 0:
        return NOTHING_SAID
    late = t_s[took_s > usual_and_late_s(took_s)[1]]
    heralds = merged((float(at), float(at) + _BEFORE_S) for at in late)
    share = total_s(common(heralds, watched)) / total_s(watched)
    number = sum(holds(event.from_s - 1e-3, heralds) for event in events)
    if number < 2 or float(bdtrc(number - 1, len(events), share)) >= MATTERS:
        return NOTHING_SAID
    return msg("late reads went before ({number} of {all})", number=number, all=len(events))


def slow_after_short_off(clues: Clues) -> Message:
    """Say whether starts are slow after a short off; empty if not."""
    starts = [s for s in clues.course.starts if s.took_s and not s.hole and s.off_s is not None]
    quick = np.array([s.took_s for s in starts if kind_of(s) == "quick"], dtype=float)
    warm = np.array([s.took_s for s in starts if kind_of(s) == "warm"], dtype=float)
    if min(len(quick), len(warm)) < _FEWEST:
        return NOTHING_SAID
    slower = float(np.median(quick)) > _SLOWER_BY * float(np.median(warm))
    if not slower or rank_chances(quick, warm)[0] >= MATTERS:
        return NOTHING_SAID
    return msg(
        "slow after short offs (median {own}, else {usual}): something keeps its charge",
        own=Amount(float(np.median(quick)), "s"),
        usual=Amount(float(np.median(warm)), "s"),
    )


def lanes_lost(clues: Clues) -> tuple[int, int]:
    """Return how often a colour lane was lost, and how often with sparkle beside it."""
    tints = _spells(clues, "tint")
    sparkles = [(a - TOGETHER_S, b + TOGETHER_S) for a, b in _spells(clues, "sparkle")]
    return len(tints), sum(bool(common([span], sparkles)) for span in tints)


def _spells(clues: Clues, kind: str) -> list[Span]:
    states = clues.course.states(f"capture.{kind}")
    ends = [*(state.t_s for state in states[1:]), clues.course.ends_s]
    spells = [(s.t_s, to) for s, to in zip(states, ends, strict=False) if s.state == kind]
    return [span for span in spells if holds(span[0], clues.course.started)]


def what_they_go_with(clues: Clues, events: Sequence[UnitFault], check: str = "") -> list[Message]:
    """Say what the events go with: heat, else uptime (which heat follows); movement of a plug."""
    ranked = clues.heat_at(events, check)
    moved = with_movement(clues, events)
    if ranked is None:
        return [with_uptime(clues, events), moved]
    if ranked.p_hotter < MATTERS and ranked.at_degc - ranked.cool_degc >= HOTTER_BY_K:
        hot = msg(
            "when hot (median {median}, {cool} of {all} below {quarter})",
            median=Stated(round(ranked.at_degc), "degC"),
            cool=ranked.cool,
            all=len(events),
            quarter=Stated(round(ranked.cool_degc), "degC"),
        )
        return [hot, moved]
    return [msg("no link with heat shown"), with_uptime(clues, events), moved]
