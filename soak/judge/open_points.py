"""What keeps a unit from being ready besides its requirements."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.records import Json
from soak.rules.core.verdict import Finding, Verdict
from soak.words import Message, Said, msg


def open_points(newest: Course, findings: Sequence[Finding], stated: Json) -> list[Message]:
    """Return the open points as plain sentences.

    Parameters
    ----------
    newest : Course
        The newest soak: its end and its header count.
    findings : sequence of Finding
        All findings since the repair.
    stated : Json
        As `header.unit` of the newest soak, or as corrected since.
    """
    return [
        *_end_of(newest),
        *_opened(newest, stated),
        *_repairs(newest, findings, stated),
        *_data(newest, stated),
    ]


def _opened(newest: Course, stated: Json) -> list[Message]:
    return [
        msg(
            "The unit was opened while soak {soak} ran ({on}: {why}); soak it again.",
            soak=newest.header.soak_id,
            on=str(one["on"]),
            why=str(one["why"]),
        )
        for one in stated.get("opened_during") or ()
    ]


def _end_of(newest: Course) -> list[Message]:
    soak_id = newest.header.soak_id
    if newest.seal is None:
        told = msg(
            "Soak {soak} is not sealed: it still runs or was cut off; resume it.", soak=soak_id
        )
        return [told]
    if newest.seal.ended == "stopped":
        return [msg("Soak {soak} was stopped before its end.", soak=soak_id)]
    if newest.seal.ended == "bench fault":
        told = msg(
            "Soak {soak} ended with a fault of the bench; mend the bench and run on.", soak=soak_id
        )
        return [told]
    return []


def _repairs(newest: Course, findings: Sequence[Finding], stated: Json) -> list[Message]:
    met = [finding for finding in findings if finding.verdict == Verdict.MET]
    shown = {function for finding in met for function in finding.requirement.shows_repair}
    functions = newest.header.model_sheet.get("functions", {})
    points = []
    for repair in stated.get("repairs") or ():
        what: Said = repair.get("what") or msg("unnamed")
        function = str(repair.get("function") or "")
        if not function:
            told = msg("The repair ({what}) names no function, so nothing can show it.", what=what)
            points.append(told)
        elif function not in shown:
            told = msg(
                "The repair ({what}) was not shown: no requirement on '{function}' was met.",
                what=what,
                function=str(functions.get(function, {}).get("text") or function),
            )
            points.append(told)
    return points


def _data(newest: Course, stated: Json) -> list[Message]:
    holds_data = newest.header.model_sheet.get("holds_data")
    if holds_data and stated.get("wiped") is None:
        return [msg("This model holds data, and no wiping was recorded before the soak.")]
    return []
