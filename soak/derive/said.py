"""What the records of a soak amount to, in words: states, faults and losses."""

from collections.abc import Sequence

from soak.derive.events.dropouts import Episode
from soak.derive.seeing.holes import Hole
from soak.derive.spans import Span
from soak.derive.starting.starts import Start
from soak.states import StartLimit
from soak.words import Amount, Message, Said, Stated, counted, msg


def state_words(state: str) -> Said:
    """Return a state of a source as it is said; one of another's own making as it is written."""
    return _STATES.get(state, state)


_STATES = {
    "picture": msg("picture"),
    "black": msg("black"),
    "no signal": msg("no signal"),
    "frozen": msg("frozen"),
    "stalled": msg("stalled"),
    "other size": msg("other size"),
    "gone": msg("gone"),
    "seen": msg("seen"),
    "blind": msg("blind"),
    "protected output": msg("protected output"),
    "clean": msg("clean"),
    "tint": msg("tint"),
    "torn": msg("torn"),
    "sparkle": msg("sparkle"),
}


def limit_words(limit: StartLimit) -> Message:
    """Say how long a start may take, and who says so."""
    time = Stated(round(limit.limit_s, 1), "s")
    if limit.says == "usual start":
        usual = Stated(limit.of, "s")
        return msg("limit {time}, from the model's usual start of {usual}", time=time, usual=usual)
    if limit.says == "units like it":
        return msg("limit {time}, from {units} units like it", time=time, units=round(limit.of))
    if limit.says == "own starts":
        return msg("limit {time}, from its own first starts", time=time)
    if limit.says == "model sheet":
        return msg("limit {time}, from the model sheet", time=time)
    if limit.says == "script":
        return msg("limit {time}, from the script", time=time)
    return msg("limit {time}, as demanded", time=time)


EPISODES = {
    "dropout": msg("dropout"),
    "restart": msg("restart"),
    "hang": msg("hang"),
}
"""What an episode is called by its kind."""

EPISODES_TOLD = {
    "dropout": msg("picture lost"),
    "restart": msg("restarted"),
    "hang": msg("hung"),
}
"""What happened in an episode, by its kind."""


def in_short(episode: Episode) -> Message:
    """Say what an episode was, how it looked and how long its longest loss was."""
    return msg(
        "{kind} ({state}, {time})",
        kind=EPISODES[episode.kind],
        state=state_words(episode.dropouts[0].state),
        time=Amount(episode.longest_s, "s"),
    )


def start_words(start: Start) -> Message:
    """Return what a start is called; one after a short break of the supply says so."""
    number = start.number
    if start.kind == "quick" and start.check == "supply_margin":
        return msg("start after short break {number}", number=number)
    return numbered_start(start.kind, number)


def numbered_start(kind: str, number: int) -> Message:
    """Return one of the starts of a kind as it is called."""
    named = {
        "first": msg("first start {number}", number=number),
        "warm": msg("warm start {number}", number=number),
        "cold": msg("cold start {number}", number=number),
        "quick": msg("quick start {number}", number=number),
        "lowest voltage": msg("lowest voltage start {number}", number=number),
        "highest voltage": msg("highest voltage start {number}", number=number),
    }
    return named.get(kind) or msg("{kind} start {number}", kind=kind, number=number)


def failed_words(start: Start) -> Message:
    """Say how a start failed: without a picture, or with one that came too late."""
    if start.took_s is None:
        return msg("{start}: no picture", start=start_words(start))
    time = Amount(start.took_s, "s")
    return msg("{start}: too slow ({time})", start=start_words(start), time=time)


def dead_words(dead: Hole, starts: Sequence[Start], power: Sequence[Span]) -> Message:
    """Say that a unit showed nothing any more though nothing tells whether its power came."""
    failed = next((one for one in starts if dead.from_s <= one.t_on <= dead.to_s), None)
    if power and dead.from_s <= power[0][0]:
        told = msg("the unit never showed anything")
    elif failed is None or failed.t_on - dead.from_s > MISSED_S:
        told = msg(
            "from {time} on the unit showed nothing to the end", time=Amount(dead.from_s, "s")
        )
    else:
        told = msg("from {start} on the unit showed nothing to the end", start=start_words(failed))
    return msg(
        "{told}, and nothing tells whether its power came: the unit failed or the switch did; put "
        "a unit known to be good on this channel, or another channel under this unit, and run it "
        "again",
        told=told,
    )


MISSED_S = 60.0
"""A start that failed so long after the unit was seen last is not called the first. Our own
choice."""


def starts_called(kind: str, number: float) -> Message:
    """Return what starts of one kind are called; `number` says whether it is one or several."""
    named = {
        "first": counted(number, "first start", "first starts"),
        "warm": counted(number, "warm start", "warm starts"),
        "cold": counted(number, "cold start", "cold starts"),
        "quick": counted(number, "quick start", "quick starts"),
        "lowest voltage": counted(number, "lowest voltage start", "lowest voltage starts"),
        "highest voltage": counted(number, "highest voltage start", "highest voltage starts"),
    }
    return named.get(kind) or counted(number, "{kind} start", "{kind} starts", kind=kind)


def degree_words(degree: str) -> Said:
    """Return a degree of what a disturbance of the supply did, as it is said."""
    return _DEGREES.get(degree, degree)


_DEGREES = {
    "no effect": msg("no effect"),
    "recovers by itself": msg("recovers by itself"),
    "needs a hand": msg("needs a hand"),
    "does not recover": msg("does not recover"),
}
