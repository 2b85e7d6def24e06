"""The swap test: which part do the losses go with? A few minutes that decide unit or bench."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from soak.derive.course import course_of
from soak.evidence import Evidence
from soak.judge.explain.causes import Cause
from soak.judge.explain.clues import Clues
from soak.statistics.bouts import Bouts
from soak.statistics.compare import LUCK, chance_of_so_few, chance_of_starts
from soak.words import Message, Percent, Said, Stated, all_of, msg, paragraph

CHANNEL = "channel of the switch"
"""Stays as it is: on another channel the guard could not switch the unit off."""
PARTS = {
    "picture": ("cable", "port of the bench", "capture card"),
    "data": ("cable", "port of the bench", "device at the port"),
    "network": ("cable", "port of the bench"),
    "restarts": ("power lead", "power supply", "cable of the picture", "capture card", CHANNEL),
    "starts": ("power lead", "power supply", "cable of the picture", "capture card", CHANNEL),
}
"""What of the bench could lose each thing that is watched."""
_NAMED = {
    "cable": msg("cable"),
    "port of the bench": msg("port of the bench"),
    "capture card": msg("capture card"),
    "device at the port": msg("device at the port"),
    "power lead": msg("power lead"),
    "power supply": msg("power supply"),
    "cable of the picture": msg("cable of the picture"),
    CHANNEL: msg("channel of the switch"),
}
_SWAPS: Mapping[str, tuple[str, str]] = {
    "video port": ("picture", "dropout"),
    "power": ("restarts", "restart"),
    "usb port": ("data", "link gone"),
    "network socket": ("network", "network gone"),
    "start": ("starts", "failed start"),
}
"""By pointer what a swap can watch to tell the unit from the bench, and the event it must be of."""


@dataclass(frozen=True, slots=True)
class Swapped:
    """One part exchanged, and what was seen for a while.

    Attributes
    ----------
    part : str
        What was exchanged; empty for the first look at everything as it was.
    losses : int
        Losses seen, or starts that failed.
    watched_s : float
        For how long, s.
    starts : int
        Starts tried; 0 where losses are counted over the time.
    fewest : Bouts or None
        As few bouts as these losses may be; None: each is one.
    """

    part: str
    losses: int
    watched_s: float
    starts: int = 0
    fewest: Bouts | None = None


def luck_of(first: Swapped, look: Swapped) -> float:
    """Return the chance of so few losses in a look if what was exchanged does not matter.

    References
    ----------
    Losses in a time: exact conditional test of two Poisson rates, the first in as few bouts as they
    may be; failed starts: Fisher's exact
    test; both one-sided (`soak.statistics.compare`).
    """
    if first.starts:
        return chance_of_starts(first.losses, first.starts, look.losses, look.starts)
    before = first.fewest or Bouts(first.losses, first.watched_s)
    if before.live <= 0:
        return 1.0
    return chance_of_so_few(before.number, before.live, look.losses, look.watched_s)


def too_few(first: Swapped, parts: int) -> bool:
    """Tell whether no look as long as the first could decide, not even one without a loss."""
    quiet = Swapped("quiet", 0, first.watched_s, first.starts)
    return first.losses > 0 and luck_of(first, quiet) > LUCK / max(parts, 1)


def decide(looks: Sequence[Swapped], parts: Sequence[str] = PARTS["picture"]) -> Message:
    """Say where the fault lies, with its chance, and what was not exchanged.

    A part counts as the cause where its exchange left fewer losses than luck explains; of all
    looks together luck may err in 5 % of cases, so each has its share of that (Bonferroni). It is
    the unit only where every part was exchanged, and losses stayed each time.

    Parameters
    ----------
    looks : sequence of Swapped
        The first as it was, then one part after another, each put back before the next.
    parts : sequence of str
        All that could be exchanged.
    """
    if not looks or looks[0].part:
        raise ValueError("the first look is at everything as it was")
    first = looks[0]
    rest = looks[1:]
    if not first.losses:
        return _none_to_begin_with(first)
    if not rest:
        return msg("Nothing was swapped, so nothing is decided.")
    went = [look for look in rest if luck_of(first, look) <= LUCK / len(rest)]
    if len(went) > 1:
        sentence = _comes_and_goes(went)
    elif went:
        sentence = _went(
            first, went[0], any(swapped.losses for swapped in rest if swapped is not went[0])
        )
    else:
        sentence = _none_went(first, rest, parts)
    left = [part for part in parts if part not in [look.part for look in rest]]
    return paragraph(
        sentence, msg("Not exchanged: {parts}.", parts=all_of(map(_named, left))) if left else None
    )


def _named(part: str) -> Said:
    return _NAMED.get(part, part)


def _none_to_begin_with(first: Swapped) -> Message:
    if first.starts:
        return msg(
            "None of {count} starts failed as it was: make it show, then swap; without a loss "
            "nothing can be decided.",
            count=first.starts,
        )
    return msg(
        "No loss in {time} as it was: move the plug or warm the unit until it shows, then "
        "swap; without a loss nothing can be decided.",
        time=Stated(round(first.watched_s), "s"),
    )


def _went(first: Swapped, look: Swapped, stayed_elsewhere: bool) -> Message:
    luck = _percent(luck_of(first, look))
    if look.losses:
        return msg(
            "Most losses went with the {part} ({before} before, {after} with another; luck in "
            "{luck} of cases): the bench has its share. Keep the other one and swap again for "
            "those that stayed.",
            part=_named(look.part),
            before=first.losses,
            after=look.losses,
            luck=luck,
        )
    if stayed_elsewhere:
        return msg(
            "The losses went with the {part} ({before} before, none with another; luck in {luck} "
            "of cases): it is the bench, not the unit.",
            part=_named(look.part),
            before=first.losses,
            luck=luck,
        )
    return msg(
        "The losses went with the {part} ({before} before, none with another; luck in {luck} of "
        "cases), which points at the bench. Put the old one back: if no loss comes again, moving "
        "the plug cured it.",
        part=_named(look.part),
        before=first.losses,
        luck=luck,
    )


def _none_went(first: Swapped, rest: Sequence[Swapped], parts: Sequence[str]) -> Message:
    names = all_of(_named(look.part) for look in rest)
    rarest = min(luck_of(first, look) for look in rest)
    quiet = [look for look in rest if not look.losses]
    if quiet:
        return msg(
            "No loss with another {parts}, which is luck in {luck} of cases: nothing is decided; "
            "watch longer.",
            parts=all_of(_named(look.part) for look in quiet),
            luck=_percent(max(luck_of(first, look) for look in quiet)),
        )
    if luck_of(first, _together(rest)) <= LUCK:
        return _comes_and_goes(rest)
    if set(parts) - {look.part for look in rest}:
        return msg(
            "The losses stay with another {parts} (so few are luck in {luck} of cases), so that "
            "alone is not it; whether the unit or the bench is open.",
            parts=names,
            luck=_percent(rarest),
        )
    return msg(
        "The losses stay whatever is exchanged ({parts}; so few are luck in {luck} of cases): it "
        "is the unit.",
        parts=names,
        luck=_percent(rarest),
    )


def _together(looks: Sequence[Swapped]) -> Swapped:
    return Swapped(
        "together",
        sum(look.losses for look in looks),
        sum(look.watched_s for look in looks),
        sum(look.starts for look in looks),
    )


def _comes_and_goes(looks: Sequence[Swapped]) -> Message:
    return msg(
        "Fewer losses whatever is exchanged ({parts}): the fault comes and goes, or moving the "
        "plugs cured it. Nothing is decided; watch longer as it is now.",
        parts=all_of(_named(look.part) for look in looks),
    )


def _percent(chance: float) -> Percent | Message:
    """Say a chance; never none at all."""
    if chance < 0.001:
        return msg("less than {least}", least=Percent(0.001, 1))
    return Percent(chance, 1 if chance < 0.1 else 0)


def worth_swapping(soaks: Sequence[Evidence], causes: Sequence[Cause]) -> Sequence[str]:
    """Return what `soak swap` can watch of what went wrong; where nothing points, of all of it."""
    kinds = {event.kind for soak in soaks for event in Clues(course_of(soak)).events}
    keys = [cause.key for cause in causes] or list(_SWAPS)
    known = [_SWAPS[key] for key in keys if key in _SWAPS]
    return [of for of, kind in known if kind in kinds]


def swap_told(of: str) -> Message:
    """Say that a swap tells the unit from the bench."""
    return msg(
        "A swap of one part of the bench after another tells the unit from the bench: soak swap "
        "UNIT@FIXTURE --of {what}.",
        what=of,
    )
