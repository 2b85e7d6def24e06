"""How a unit warmed and cooled, spot by spot, and what an infrared thermometer really saw."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path

import numpy as np

from soak.derive.course import Course, course_of
from soak.derive.electric.currents import Drawn, currents
from soak.derive.heat import End, HeatCycle, cool_down, heat_cycles, last_end, spots_of
from soak.desk.bench_folder import BenchFolder
from soak.errors import UsageError, told_of
from soak.frozen.shape import as_json
from soak.journal import open_evidence
from soak.measure import infrared
from soak.measure.heating import Fit, TooEarly, at_rated_ambient
from soak.measure.settled import CRITERIA, short_of_end_k
from soak.records import Json
from soak.rules.like_reference import HOW_ENDED
from soak.words import (
    Amount,
    Data,
    Message,
    Number,
    Output,
    Said,
    indented,
    joined,
    lines_of,
    msg,
)

WORTH_A_CYCLE_K = 5.0
"""Smaller swings are not listed as heat cycles. Our own choice."""

_FAR = 0.1
"""A criterion that stops less short than this is not worth a warning, K. Our own choice."""

_STATES: Mapping[str, Message] = {
    "running": msg("running"),
    "idle": msg("idle"),
    "starting": msg("starting"),
    "standby": msg("standby"),
    "off": msg("off"),
}


def heat(bench_path: Path, soak: str, *, as_json: bool) -> Output:
    """Return ends, time constants, heat cycles and currents of one soak.

    Raises
    ------
    UsageError
        If no probe sat at a spot of the unit, and none told what it drew.
    """
    course = course_of(open_evidence(BenchFolder(bench_path).find_soak(soak)))
    spots = spots_of(course.header.fixture)
    if not spots and not currents(course):
        raise UsageError(
            msg(
                "{soak}: no probe sat at a spot of the unit, and none read the current it "
                "draws; wire one in the fixture and soak again",
                soak=course.header.soak_id,
            )
        )
    ends = {name: last_end(course, name) for name in spots}
    cooled = {name: cool_down(course, name) for name in spots}
    cycles = heat_cycles(course, WORTH_A_CYCLE_K)
    if as_json:
        return Data(json.dumps(_data(course, ends, cooled, cycles), indent=2))
    lines = [joined("  ", [course.header.soak_id, course.header.unit.tag])]
    for name in spots:
        own = [*_end(ends[name]), _cooling(cooled[name])]
        own += [*_at_rated(course, name, ends[name]), *_beside(course, name, ends[name])]
        lines += [joined("", [name, ":"]), *map(indented, own)]
    return lines_of([*lines, *_cycles(cycles), *_drawn(course)])


def true_temperature(shown: float, emissivity: str, room: float, set_to: float) -> Message:
    """Return what an infrared thermometer really saw.

    Parameters
    ----------
    emissivity : str
        A number, or a surface such as `polished aluminium`.

    Raises
    ------
    UsageError
        If the surface is not known, or nothing can look like that.
    """
    low, high = _emissivity(emissivity)
    try:
        ends = [infrared.true_degc(shown, emissivity, room, set_to) for emissivity in (high, low)]
        grows = infrared.error_grows_by(shown, low, room, set_to)
    except ValueError as fault:
        raise UsageError(told_of(fault)) from None
    text: Said = Amount(ends[0], "degC")
    if low != high:
        text = msg(
            "{low} to {high} °C", low=Number(min(ends), ".1f"), high=Number(max(ends), ".1f")
        )
    lines = [
        msg(
            "shown {shown} °C, in truth {truth} (grey body, room {room} °C)",
            shown=Number(shown, "g"),
            truth=text,
            room=Number(room, "g"),
        ),
        msg("an error of 1 K in the reading is {grows} K in truth", grows=Number(grows, ".2g")),
    ]
    if low < infrared.LEAST_EMISSIVITY:
        lines += [
            msg("shiny metal mirrors the room: stick paper tape on it, wait a minute, read that")
        ]
    return lines_of(lines)


def _emissivity(text: str) -> tuple[float, float]:
    known = infrared.EMISSIVITIES
    if text in known:
        return known[text]
    try:
        return float(text), float(text)
    except ValueError:
        raise UsageError(
            msg(
                "--emissivity {text}: give a number, or one of {known}",
                text=text,
                known=joined(", ", known),
            )
        ) from None


def _end(end: End | TooEarly) -> Sequence[Message]:
    if isinstance(end, TooEarly):
        return [msg("where it ends cannot be told: {why}", why=end.why)]
    lines = [
        msg(
            "ends {rise} over ambient, give or take {half} ({how})",
            rise=Amount(end.rise_k, "K"),
            half=Amount((end.bound_high_k - end.bound_low_k) / 2, "K"),
            how=HOW_ENDED[end.how],
        )
    ]
    if end.fit is not None:
        lines += [
            msg(
                "time constants {taus}; residual {rms} K rms, worst {worst} K",
                taus=_taus(end.fit),
                rms=Number(end.fit.rms, ".2f"),
                worst=Number(end.fit.worst, ".2f"),
            )
        ]
        lines += [
            msg(
                "called steady by {criterion} it may still be {short} K short",
                criterion=criterion.name,
                short=Number(short, ".1f"),
            )
            for criterion in CRITERIA
            if (short := short_of_end_k(criterion.within_k, criterion.window_s, end.fit.slowest_s))
            > _FAR
        ]
    return lines


def _taus(fit: Fit) -> Message:
    return joined(", ", [Amount(term.tau_s, "s") for term in fit.terms])


def _cooling(fit: Fit | TooEarly) -> Message:
    if isinstance(fit, TooEarly):
        return msg("cooling down: {why}", why=fit.why)
    return msg(
        "cooling down: time constants {taus}; residual {rms} K rms",
        taus=_taus(fit),
        rms=Number(fit.rms, ".2f"),
    )


def _at_rated(course: Course, name: str, end: End | TooEarly) -> Sequence[Message]:
    """Say where an inner spot would end in the warmest room that the maker allows."""
    sheet = course.header.model_sheet
    spot = sheet.spots.get(course.header.fixture.probes[name.removeprefix("probe.")].spot)
    rated_degc = sheet.rated_ambient_degc
    if rated_degc is None or spot is None:
        return []
    if spot.touched:
        return [msg("its limit is for a hand that touches it: not moved to another ambient")]
    if spot.touched is None:
        return [
            msg("the model sheet does not say whether it is touched: not moved to another ambient")
        ]
    if isinstance(end, TooEarly):
        return []
    degc = at_rated_ambient(end.rise_k, 0.0, rated_degc)
    high_degc = at_rated_ambient(end.bound_high_k, 0.0, rated_degc)
    limit_degc = spot.limit_degc
    beyond = None
    if limit_degc is not None and high_degc > limit_degc:
        beyond = msg("above its limit of {limit}", limit=Amount(limit_degc, "degC"))
    ends = msg(
        "in the rated ambient of {room} it would end at {end}, at most {most}",
        room=Amount(rated_degc, "degC"),
        end=Amount(degc, "degC"),
        most=Amount(high_degc, "degC"),
    )
    unchanged = msg("(its rise unchanged, IEC 60950-1 1.4.12)")
    return [joined(" ", [joined(", ", [ends, beyond]), unchanged])]


def _beside(course: Course, name: str, end: End | TooEarly) -> Sequence[Message]:
    """Set a spot beside the known-good units of the header."""
    spot = course.header.fixture.probes[name.removeprefix("probe.")].spot
    known = course.header.references.heat_reference
    rises = [reference.rises_k[spot] for reference in known if spot in reference.rises_k]
    if not rises or isinstance(end, TooEarly):
        return []
    middle = float(np.median(rises))
    above = end.rise_k - middle
    by = Amount(abs(above), "K")
    if above < 0:
        return [msg("{by} below the median of {count} known-good", by=by, count=len(rises))]
    return [msg("{by} above the median of {count} known-good", by=by, count=len(rises))]


def _cycles(cycles: Sequence[HeatCycle]) -> Sequence[Message]:
    if not cycles:
        return [msg("no heat cycle of at least {range} K", range=Number(WORTH_A_CYCLE_K, "g"))]
    return [
        msg(
            "heat cycle {number}: {range} K at {spot}, {rate} K/min",
            number=number,
            range=Number(cycle.range_k, ".1f"),
            spot=cycle.spot,
            rate=Number(cycle.rate_k_per_min, ".2g"),
        )
        for number, cycle in enumerate(cycles, 1)
    ]


def _drawn(course: Course) -> Sequence[Message]:
    return [line for current in currents(course) for line in _drawn_in(current)]


def _drawn_in(one: Drawn) -> Sequence[Message]:
    lines = [
        msg(
            "{quantity} {state}: {median} (90 % within {least} to {most})",
            quantity=one.quantity,
            state=_STATES[one.state],
            median=Amount(one.median, one.unit),
            least=Amount(one.percentile_5, one.unit),
            most=Amount(one.percentile_95, one.unit),
        )
    ]
    if one.creep is not None:
        creep = one.creep
        trend = msg("a trend") if creep.sure else msg("no trend to speak of")
        line = msg(
            "{trend}: {slope} an hour ({low} to {high}; Mann-Kendall S {s}, chance {chance}, "
            "{blocks} blocks)",
            trend=trend,
            slope=Amount(creep.per_h, one.unit),
            low=Amount(creep.bound_low, one.unit),
            high=Amount(creep.bound_high, one.unit),
            s=creep.s,
            chance=Number(creep.chance, ".2g"),
            blocks=creep.blocks,
        )
        lines.append(indented(line))
    return lines


def _data(
    course: Course,
    ends: dict[str, End | TooEarly],
    cooled: dict[str, Fit | TooEarly],
    cycles: Sequence[HeatCycle],
) -> Json:
    return {
        "soak": course.header.soak_id,
        "spots": {
            name: {"end": _plain(ends[name]), "cool_down": _plain(cooled[name])} for name in ends
        },
        "heat_cycles": [_plain(cycle) for cycle in cycles],
        "drawn": [_plain(current) for current in currents(course)],
        "references": [as_json(reference) for reference in course.header.references.heat_reference],
    }


def _plain(one: End | TooEarly | Fit | HeatCycle | Drawn) -> Json:
    return asdict(one)
