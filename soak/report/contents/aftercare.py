"""What comes after the test: how long its grade may be relied on, and how a buyer looks again."""

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np

from soak.derive.course import Course
from soak.names import named
from soak.report.contents.context import ReportContext
from soak.report.contents.given import day
from soak.report.model import Soak, Wear
from soak.rules.core.verdict import Judgement, Verdict
from soak.words import NOTHING_SAID, Amount, Day, Message, counted, just, msg, paragraph

SHORTEST_S = 1800.0
"""A unit powered for less than that over all soaks has shown little, s. Our own choice."""


def shelf_life(told: Sequence[Soak], context: ReportContext) -> Message:
    """Say until when a unit kept in store needs no new look."""
    days = sorted(utc[:10] for soak in told for utc in (soak.began_utc,) if utc)
    keeps = context.grade_keeps_days
    again = msg("After that, and after any transport, a quick soak of ten minutes is run again.")
    try:
        until = date.fromisoformat(days[-1]) + timedelta(days=keeps)
    except (IndexError, ValueError):
        kept = counted(
            keeps,
            "This grade is relied on for 1 day in store.",
            "This grade is relied on for {count} days in store.",
        )
        return paragraph(kept, again)
    kept = counted(
        keeps,
        "If it is kept unused, this grade is relied on until {day} (1 day, the bench's own rule).",
        "If it is kept unused, this grade is relied on until {day} "
        "({count} days, the bench's own rule).",
        day=Day(until.isoformat()),
    )
    return paragraph(kept, again)


def rechecks(told: Sequence[Soak], judgement: Judgement) -> tuple[Message, ...]:
    """List the quick soaks that followed a longer one: each looks again at a stored unit."""
    sentences = []
    longer = False
    for soak in told:
        if not soak.fit_for_listing and longer:
            sentences.append(
                msg(
                    "Checked again on {day}, quick soak of {time}; it counts in the grade: "
                    "{grade}.",
                    day=day(soak.began_utc[:10]),
                    time=soak.lasted,
                    grade=named(judgement.grade),
                )
            )
        longer = longer or soak.fit_for_listing
    return tuple(sentences) or (msg("Not checked again since."),)


def no_picture(told: Sequence[Soak], judgement: Judgement, context: ReportContext) -> Message:
    """Say why no listing picture is made; empty if the unit is fit for one."""
    if not judgement.ready:
        return named(judgement.grade)
    if context.not_as_recorded:
        return msg("kept evidence is not what was recorded")
    if not any(soak.fit_for_listing for soak in told):
        return msg("only a quick soak was done")
    if sum(soak.wear.powered_s for soak in told) < SHORTEST_S:
        return msg("it was under power for less than {time}", time=Amount(SHORTEST_S, "s"))
    return NOTHING_SAID


def wear_of_all(told: Sequence[Soak]) -> Wear:
    """Add up what all soaks of the report cost the unit."""
    powered_s = sum(soak.wear.powered_s for soak in told)
    written = sum(soak.wear.written_bytes for soak in told)
    return Wear(
        starts=sum(soak.wear.starts for soak in told),
        powered=just(Amount(powered_s, "s")),
        powered_s=powered_s,
        written=just(Amount(written, "B")),
        written_bytes=written,
    )


def at_home(judgement: Judgement, courses: Sequence[Course]) -> tuple[Message, ...]:
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
                msg(
                    "Picture, five minutes: let it play and watch. The bench's count of breaks "
                    "stands above. Try another cable and socket before you blame the unit."
                ),
            ),
            ("transfer", _transfer()),
            ("spots", _warmth(courses)),
        )
        if check in shown and words
    ]
    return tuple(steps[:2])


def _starts(courses: Sequence[Course]) -> Message:
    took_s = [
        start.took_s for course in courses for start in course.starts if start.took_s is not None
    ]
    if not took_s:
        return NOTHING_SAID
    return msg(
        "Starts, five minutes: switch it off at the plug for 30 seconds and on again, three times. "
        "On the bench the picture came after {least} to {most}; a limit of {limit} was set.",
        least=Amount(min(took_s), "s"),
        most=Amount(max(took_s), "s"),
        limit=Amount(courses[-1].start_limit().limit_s, "s"),
    )


def _transfer() -> Message:
    return msg(
        "Data, five minutes: copy a folder of some 100 MB over the port and back, and open what "
        "came back."
    )


def _warmth(courses: Sequence[Course]) -> Message:
    hottest = [
        float(np.max(value))
        for course in courses
        for quantity in course.header.quantities
        if quantity.unit == "degC" and (value := course.series(quantity.name)[1]).size
    ]
    if not hottest:
        return NOTHING_SAID
    return msg(
        "Warmth, ten minutes: let it run and feel the outside with the back of a hand. The warmest "
        "place that the bench measured had {value}, some of them inside.",
        value=Amount(max(hottest), "degC"),
    )
