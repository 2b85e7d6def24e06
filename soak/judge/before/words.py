"""What the jobs before saw, in words: open points, and lines for a page."""

import math
from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.jobs_before import MISSING, FailureKind, Failures, moved_port
from soak.judge.before.demands import words_of
from soak.judge.before.outlived import Before, Standing, Unmet, of_job, outlived
from soak.records import Header
from soak.rules.wiggle import heat_words
from soak.statistics.compare import LUCK
from soak.words import Amount, Message, Percent, Said, counted, just, msg, paragraph, sentence


def to_outlive(header: Header) -> list[Message]:
    """Return what a soak about to begin has to outlive, and what each needs: sentences.

    Raises
    ------
    JournalError
        If the header cannot be read by this version.
    """
    return open_points(outlived(header))


def not_outlived(soaks: Sequence[Course]) -> list[Message]:
    """Return what keeps a unit from being ready of what the jobs before saw: sentences."""
    return open_points(of_job(soaks))


def open_points(before: Before) -> list[Message]:
    """Return what is not outlived, with what would outlive it."""
    points = [_not_quiet(failure) for failure in before.failures if not failure.outlived]
    points += [_not_met_again(unmet) for unmet in before.unmet if not unmet.outlived]
    for soak in before.unread:
        text = msg(
            "Soak {soak} of a job before failed and its journal cannot be read ({why}), so nothing "
            "shows it outlived; put its folder back.",
            soak=soak.soak_id,
            why=unread_words(soak.unread),
        )
        points.append(text)
    return points


def unread_words(why: str) -> Message:
    """Say why a journal was not read."""
    return msg("journal missing") if why == MISSING else just(why)


def lines(before: Before) -> list[Message]:
    """Return how each thing stands that the jobs before saw, a sentence each."""
    sentences = [_line(failure) for failure in before.failures]
    sentences += [_line_of_unmet(unmet) for unmet in before.unmet]
    return [sentence(words) for words in sentences]


def _line(one: Standing) -> Message:
    before = seen(one.before)
    since = _since(one)
    if one.repair is not None and one.word_counts and not one.quiet_enough:
        return msg(
            "{before} before this repair ({what}); {since} since",
            before=before,
            what=one.repair.what,
            since=since,
        )
    if one.chance is None:
        return msg("{before} before; {since} since", before=before, since=since)
    return msg(
        "{before} before; {since} since, which is luck with a chance of {chance}",
        before=before,
        since=since,
        chance=Percent(one.chance, 1),
    )


def _line_of_unmet(one: Unmet) -> Message:
    demand = words_of(one.demand)
    if one.met_since:
        return msg("not met before, and met since for as long: {demand}", demand=demand)
    if one.repair is not None and one.word_counts:
        return msg(
            "not met before this repair ({what}): {demand}", what=one.repair.what, demand=demand
        )
    return msg("not met before, and not met since for as long: {demand}", demand=demand)


def seen(one: Failures) -> Message:
    """Say how often the unit failed in one way, and in what that was seen."""
    time = Amount(one.over, "s")
    match one.kind:
        case FailureKind.PICTURE:
            return counted(
                one.events,
                "1 loss of the picture in {time}",
                "{count} losses of the picture in {time}",
                time=time,
            )
        case FailureKind.RESTARTS:
            return counted(
                one.events,
                "1 restart or hang in {time}",
                "{count} restarts or hangs in {time}",
                time=time,
            )
        case FailureKind.STARTS:
            return counted(
                one.events,
                "1 failed of {tried} starts",
                "{count} failed of {tried} starts",
                tried=round(one.over),
            )
        case FailureKind.DATA:
            return counted(
                one.events,
                "wrong data once in {time} of transfer",
                "wrong data {count} times in {time} of transfer",
                time=time,
            )
        case FailureKind.PORT:
            return _at_port(one.where, one.events, time)
        case FailureKind.MOVED:
            return _moved(one)


def _at_port(source: str, events: int, time: Amount) -> Message:
    if source == "stick":
        return counted(
            events,
            "1 loss of the stick in {time}",
            "{count} losses of the stick in {time}",
            time=time,
        )
    return counted(
        events,
        "1 loss of the device at the port in {time}",
        "{count} losses of the device at the port in {time}",
        time=time,
    )


def _moved(one: Failures) -> Message:
    port, heat = moved_port(one.where)
    where: dict[str, Said] = {"port": port, "heat": heat_words(heat), "time": Amount(one.over, "s")}
    return counted(
        one.events,
        "1 episode at the port {port} moved {heat} for {time}",
        "{count} episodes at the port {port} moved {heat} for {time}",
        none=msg("no episode at the port {port} moved {heat} for {time}", **where),
        **where,
    )


def _since(one: Standing) -> Message:
    if one.since.events:
        return seen(one.since)
    return _none_in(one.since)


def _none_in(since: Failures) -> Message:
    if not since.over:
        return msg("nothing watched")
    if since.kind is FailureKind.STARTS:
        return msg("none of {tried} starts", tried=round(since.over))
    return msg("none in {time}", time=Amount(since.over, "s"))


def _not_quiet(one: Standing) -> Message:
    text = msg(
        "The jobs before saw {before}; since then {since}.",
        before=seen(one.before),
        since=_since(one),
    )
    luck = None
    if one.chance is not None:
        luck = msg(
            "Luck alone would leave so little with a chance of {chance}; at most {allowed} is "
            "allowed.",
            chance=Percent(one.chance, 1),
            allowed=Percent(LUCK),
        )
    return paragraph(text, _in_bouts(one.before), luck, _needed(one), _no_word(one))


def _in_bouts(before: Failures) -> Message | None:
    """Say that failures count as fewer bouts; nothing where each counts by itself."""
    if before.bouts_told >= before.events:
        return None
    return counted(
        before.bouts_told,
        "They may have come in 1 bout and count as one.",
        "They may have come in {count} bouts and count as so many.",
    )


def _needed(one: Standing) -> Message:
    if one.needed is None:
        return msg("No time was watched in which it came, so a quiet time since shows nothing.")
    if one.before.kind is FailureKind.STARTS:
        return counted(
            round(one.needed),
            "1 more start without a failed one would bring it below {allowed}.",
            "{count} more starts without a failed one would bring it below {allowed}.",
            allowed=Percent(LUCK),
        )
    time = Amount(_rounded_up(one.needed), "s")
    allowed = Percent(LUCK)
    if one.before.kind is FailureKind.DATA:
        return msg(
            "{time} more of transfer without wrong data would bring it below {allowed}.",
            time=time,
            allowed=allowed,
        )
    return msg(
        "{time} more without one would bring it below {allowed}.", time=time, allowed=allowed
    )


def _rounded_up(needed_s: float) -> float:
    """Return a time so that it is still enough as it is said: in whole seconds, then minutes."""
    step_s = 60 if needed_s >= 3600 else 1
    return float(math.ceil(needed_s / step_s) * step_s)


def _no_word(one: Standing | Unmet) -> Message | None:
    """Say why a repair that names the function does not stand in for quiet."""
    if one.repair is None or one.word_counts:
        return None
    if one.looked_for:
        return msg("An intake saw it, so that the repair can be measured by its quiet.")
    return msg(
        "The repair ({what}) does not stand in for that: it failed again after such a repair.",
        what=one.repair.what,
    )


def _not_met_again(one: Unmet) -> Message:
    text = counted(
        one.times,
        "A soak of the jobs before did not meet: {demand}.",
        "{count} soaks of the jobs before did not meet: {demand}.",
        demand=words_of(one.demand),
    )
    time = Amount(one.demand.lasted_s, "s")
    ambient = one.demand.ambient_degc
    if not one.demand.timed:
        needed = msg("Once the same demand is met once more, it counts as outlived.")
    elif ambient is None:
        needed = msg("Met by the same demand, no looser, for {time}, it is outlived.", time=time)
    else:
        needed = msg(
            "Met by the same demand, no looser, for {time} in a room of {ambient}, it is outlived.",
            time=time,
            ambient=Amount(ambient, "degC"),
        )
    return paragraph(text, needed, _no_word(one))
