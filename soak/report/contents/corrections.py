"""What the ledger corrected after a soak had begun, and what became of hazards: as pages say it."""

from collections.abc import Mapping

from soak.report.contents.context import Amendment, Hazard, Opening, ReportContext
from soak.report.contents.given import NOBODY_YET, day, given
from soak.report.model import Corrected
from soak.words import Message, msg

_KINDS: Mapping[str, Message] = {
    "serial": msg("Serial"),
    "repair": msg("Repair"),
    "wiped": msg("Data"),
    "came back": msg("Came back"),
}
_HAZARDS: Mapping[str, Message] = {
    "smoke": msg("smoke"),
    "shock": msg("electric shock"),
    "burn": msg("burn"),
}


def corrected(context: ReportContext) -> tuple[Corrected, ...]:
    """Say what was stated when the newest soak began and is corrected since."""
    corrections = [
        Corrected(words=_amended(amendment), for_buyers=_for_buyers(amendment))
        for amendment in context.amendments
    ]
    for opening in context.openings:
        if opening.withdrawn:
            words = _not_opened(opening)
            corrections.append(Corrected(words=words, for_buyers=words))
    return tuple(corrections)


def said_as_limits(context: ReportContext) -> list[Message]:
    """Say what a buyer must know: that it was opened since, and the hazards it came back for."""
    opened = [
        msg(
            "The unit was opened after the newest of these soaks had begun ({on}: {why}): they "
            "say nothing of it since.",
            on=opening.on,
            why=opening.why,
        )
        for opening in context.openings
        if not opening.withdrawn
    ]
    return [*opened, *map(_hazard, context.hazards)]


def _amended(one: Amendment) -> Message:
    on = day(one.on)
    by = given(one.by, NOBODY_YET)
    if not one.now:
        return msg(
            "{kind}: withdrawn on {on} by {by} ({why}); when it was soaked it was stated so: "
            "{before}",
            kind=_KINDS[one.kind],
            on=on,
            by=by,
            why=one.why,
            before=one.before,
        )
    if not one.before:
        return msg(
            "{kind}: restored on {on} by {by} ({why}); it had been withdrawn when it was soaked: "
            "{now}",
            kind=_KINDS[one.kind],
            on=on,
            by=by,
            why=one.why,
            now=one.now,
        )
    return msg(
        "{kind}: corrected on {on} by {by} ({why}) to: {now}; when it was soaked it was stated so: "
        "{before}",
        kind=_KINDS[one.kind],
        on=on,
        by=by,
        why=one.why,
        now=one.now,
        before=one.before,
    )


def _for_buyers(one: Amendment) -> Message:
    """Say it without a serial, which is masked for them."""
    if one.kind != "serial":
        return _amended(one)
    return msg(
        "Serial: recorded with a mistake when it was soaked, corrected on {on}.", on=day(one.on)
    )


def _not_opened(one: Opening) -> Message:
    return msg(
        "That a new job was begun ({on}: {why}) is withdrawn as recorded by mistake: {withdrawn}",
        on=one.on,
        why=one.why,
        withdrawn=one.withdrawn,
    )


def _hazard(one: Hazard) -> Message:
    came = msg(
        "It came back on {on} ({hazard}: {complaint})",
        on=day(one.on),
        hazard=_HAZARDS[one.hazard],
        complaint=one.complaint,
    )
    if not one.found:
        return msg("{came}, and the cause is not settled.", came=came)
    return msg(
        "{came}; found: {found}; done: {done}.",
        came=came,
        found=one.found,
        done=given(one.done),
    )
