"""What comes after the test: how long its grade may be relied on, and how a buyer looks again."""

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np

from soak.derive.course import Course
from soak.quantities import show_bytes, show_duration, show_value
from soak.report.context import ReportContext
from soak.report.model import Soak, Wear
from soak.rules.core.verdict import Judgement, Verdict

SHORTEST_S = 1800.0
"""A unit powered for less than that over all soaks has shown little, s. Our own choice."""


def shelf_life(told: Sequence[Soak], context: ReportContext) -> str:
    """Say until when a unit kept in store needs no new look."""
    days = sorted(utc[:10] for soak in told for utc in (soak.began_utc,) if utc)
    again = "After that, and after any transport, a quick soak of ten minutes is run again."
    try:
        until = date.fromisoformat(days[-1]) + timedelta(days=context.grade_keeps_days)
    except (IndexError, ValueError):
        return f"This grade is relied on for {context.grade_keeps_days} days in store. {again}"
    return (
        f"If it is kept unused, this grade is relied on until {until.isoformat()} "
        f"({context.grade_keeps_days} days, the bench's own rule). {again}"
    )


def rechecks(told: Sequence[Soak], judgement: Judgement) -> tuple[str, ...]:
    """List the quick soaks that followed a longer one: each looks again at a stored unit."""
    found, longer = [], False
    for soak in told:
        if not soak.fit_for_listing and longer:
            found.append(
                f"Checked again on {soak.began_utc[:10]}, quick soak of {soak.lasted}; it counts "
                f"in the grade: {judgement.grade}."
            )
        longer = longer or soak.fit_for_listing
    return tuple(found) or ("Not checked again since.",)


def no_picture(told: Sequence[Soak], judgement: Judgement) -> str:
    """Say why no listing picture is made; empty if the unit is fit for one."""
    if not judgement.ready:
        return judgement.grade
    if not any(soak.fit_for_listing for soak in told):
        return "only a quick soak was done"
    if sum(soak.wear.powered_s for soak in told) < SHORTEST_S:
        return f"it was under power for less than {show_duration(SHORTEST_S)}"
    return ""


def wear_of_all(told: Sequence[Soak]) -> Wear:
    """Add up what all soaks of the report cost the unit."""
    powered_s = sum(soak.wear.powered_s for soak in told)
    written = sum(soak.wear.written_bytes for soak in told)
    return Wear(
        starts=sum(soak.wear.starts for soak in told),
        powered=show_duration(powered_s),
        powered_s=powered_s,
        written=show_bytes(written),
        written_bytes=written,
    )


def at_home(judgement: Judgement, courses: Sequence[Course]) -> tuple[str, ...]:
    """Say how to repeat two of the checks in ten minutes, with what the bench saw beside it."""
    shown = {
        finding.requirement.check
        for finding in judgement.findings
        if finding.verdict in (Verdict.MET, Verdict.NOT_MET)
    }
    steps = [
        words
        for check, words in (
            ("power_cycles", _starts(courses)),
            (
                "picture",
                "Picture, five minutes: let it play and watch. The bench's count of breaks stands "
                "above. Try another cable and socket before you blame the unit.",
            ),
            ("transfer", _transfer()),
            ("spots", _warmth(courses)),
        )
        if check in shown and words
    ]
    return tuple(steps[:2])


def _starts(courses: Sequence[Course]) -> str:
    took_s = [one.took_s for course in courses for one in course.starts if one.took_s is not None]
    if not took_s:
        return ""
    return (
        "Starts, five minutes: switch it off at the plug for 30 seconds and on again, three "
        f"times. On the bench the picture came after {show_duration(min(took_s))} to "
        f"{show_duration(max(took_s))}."
    )


def _transfer() -> str:
    return (
        "Data, five minutes: copy a folder of some 100 MB over the port and back, and open what "
        "came back."
    )


def _warmth(courses: Sequence[Course]) -> str:
    hottest = [
        float(np.max(value))
        for course in courses
        for quantity in course.header.quantities
        if quantity.unit == "degC" and (value := course.series(quantity.name)[1]).size
    ]
    if not hottest:
        return ""
    return (
        "Warmth, ten minutes: let it run and feel the outside with the back of a hand. The warmest "
        f"place that the bench measured had {show_value(max(hottest), 'degC')}, some of them "
        "inside."
    )
