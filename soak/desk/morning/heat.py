"""How a unit warmed and cooled, spot by spot, and what an infrared thermometer really saw."""

import json
from collections.abc import Sequence
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
from soak.quantities import show_duration, show_value
from soak.records import Json
from soak.words import joined, msg

WORTH_A_CYCLE_K = 5.0
"""Smaller swings are not listed as heat cycles. Our own choice."""

_FAR = 0.1
"""A criterion that stops less short than this is not worth a warning, K. Our own choice."""


def heat(bench_path: Path, soak: str, *, as_json: bool) -> str:
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
        return json.dumps(_data(course, ends, cooled, cycles), indent=2)
    lines = [f"{course.header.soak_id}  {course.header.unit.tag}"]
    for name in spots:
        lines += [f"{name}:", *(f"  {line}" for line in _end(ends[name]))]
        lines += [f"  {_cooling(cooled[name])}"]
        lines += [f"  {line}" for line in _at_rated(course, name, ends[name])]
        lines += [f"  {line}" for line in _beside(course, name, ends[name])]
    return joined("\n", [*lines, *_cycles(cycles), *_drawn(course)])


def true_temperature(shown: float, emissivity: str, room: float, set_to: float) -> str:
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
    text = f"{ends[0]:.1f} °C" if low == high else f"{min(ends):.1f} to {max(ends):.1f} °C"
    lines = [f"shown {shown:g} °C, in truth {text} (grey body, room {room:g} °C)"]
    lines += [f"an error of 1 K in the reading is {grows:.2g} K in truth"]
    if low < infrared.LEAST_EMISSIVITY:
        lines += ["shiny metal mirrors the room: stick paper tape on it, wait a minute, read that"]
    return joined("\n", lines)


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


def _end(end: End | TooEarly) -> Sequence[str]:
    if isinstance(end, TooEarly):
        return [f"where it ends cannot be told: {end.why}"]
    half = show_value((end.bound_high_k - end.bound_low_k) / 2, "K")
    lines = [f"ends {show_value(end.rise_k, 'K')} over ambient, give or take {half} ({end.how})"]
    if end.fit is not None:
        taus = ", ".join(show_duration(term.tau_s) for term in end.fit.terms)
        residual = f"{end.fit.rms:.2f} K rms, worst {end.fit.worst:.2f} K"
        lines += [f"time constants {taus}; residual {residual}"]
        lines += [
            f"called steady by {criterion.name} it may still be {short:.1f} K short"
            for criterion in CRITERIA
            if (short := short_of_end_k(criterion.within_k, criterion.window_s, end.fit.slowest_s))
            > _FAR
        ]
    return lines


def _cooling(fit: Fit | TooEarly) -> str:
    if isinstance(fit, TooEarly):
        return f"cooling down: {fit.why}"
    taus = ", ".join(show_duration(term.tau_s) for term in fit.terms)
    return f"cooling down: time constants {taus}; residual {fit.rms:.2f} K rms"


def _at_rated(course: Course, name: str, end: End | TooEarly) -> Sequence[str]:
    """Say where an inner spot would end in the warmest room that the maker allows."""
    sheet = course.header.model_sheet
    spot = sheet.spots.get(course.header.fixture.probes[name.removeprefix("probe.")].spot)
    rated_degc = sheet.rated_ambient_degc
    if rated_degc is None or spot is None:
        return []
    if spot.touched:
        return ["its limit is for a hand that touches it: not moved to another ambient"]
    if spot.touched is None:
        return ["the model sheet does not say whether it is touched: not moved to another ambient"]
    if isinstance(end, TooEarly):
        return []
    degc = at_rated_ambient(end.rise_k, 0.0, rated_degc)
    high = show_value(at_rated_ambient(end.bound_high_k, 0.0, rated_degc), "degC")
    room = show_value(rated_degc, "degC")
    said = f"in the rated ambient of {room} it would end at {show_value(degc, 'degC')}"
    limit_degc = spot.limit_degc
    beyond = ""
    if limit_degc is not None and at_rated_ambient(end.bound_high_k, 0.0, rated_degc) > limit_degc:
        beyond = f", above its limit of {show_value(limit_degc, 'degC')}"
    return [f"{said}, at most {high}{beyond} (its rise unchanged, IEC 60950-1 1.4.12)"]


def _beside(course: Course, name: str, end: End | TooEarly) -> Sequence[str]:
    """Set a spot beside the known-good units of the header."""
    spot = course.header.fixture.probes[name.removeprefix("probe.")].spot
    known = course.header.references.heat_reference
    rises = [reference.rises_k[spot] for reference in known if spot in reference.rises_k]
    if not rises or isinstance(end, TooEarly):
        return []
    middle = float(np.median(rises))
    above = end.rise_k - middle
    word = "above" if above >= 0 else "below"
    return [f"{show_value(abs(above), 'K')} {word} the median of {len(rises)} known-good"]


def _cycles(cycles: Sequence[HeatCycle]) -> Sequence[str]:
    if not cycles:
        return [f"no heat cycle of at least {WORTH_A_CYCLE_K:g} K"]
    return [
        f"heat cycle {number}: {cycle.range_k:.1f} K at {cycle.spot}, "
        f"{cycle.rate_k_per_min:.2g} K/min"
        for number, cycle in enumerate(cycles, 1)
    ]


def _drawn(course: Course) -> Sequence[str]:
    return [line for current in currents(course) for line in _drawn_in(current)]


def _drawn_in(one: Drawn) -> Sequence[str]:
    least, most = (show_value(x, one.unit) for x in (one.percentile_5, one.percentile_95))
    lines = [
        f"{one.quantity} {one.state}: {show_value(one.median, one.unit)} "
        f"(90 % within {least} to {most})"
    ]
    if one.creep is not None:
        creep = one.creep
        slope, low, high = (
            show_value(x, one.unit) for x in (creep.per_h, creep.bound_low, creep.bound_high)
        )
        word = "a trend" if creep.sure else "no trend to speak of"
        lines += [
            f"  {word}: {slope} an hour ({low} to {high}; "
            f"Mann-Kendall S {creep.s}, chance {creep.chance:.2g}, {creep.blocks} blocks)"
        ]
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
