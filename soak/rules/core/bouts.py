"""The bound of how often something comes, by bouts, and what is said of it."""

from dataclasses import dataclass

from soak.derive.events.bouts import Seen
from soak.records import Json, Requirement
from soak.statistics.bouts import FEWEST, Bouts
from soak.words import NOTHING_SAID, Amount, Message, counted, joined, msg, paragraph

_METHOD = msg(
    "counted in bouts and live time: whether they come in bouts by Moran 1951 and Epstein 1960, "
    "the gap that parts them by Langton, Collett & Sibly 1995"
)


def by_bouts(method: Message) -> Message:
    """Say of a method that counts how it counts bouts."""
    return joined("; ", [method, _METHOD])


@dataclass(frozen=True, slots=True)
class Often:
    """How often something comes.

    Attributes
    ----------
    most_per_h : float or None
        Upper bound of bouts an hour; None where none is stated.
    told : Message
        How they come, and why no bound is stated; whole sentences, empty where neither needs words.
    detail : Json
        Bouts as they were counted, if there was one.
    """

    most_per_h: float | None
    told: Message
    detail: Json


def how_often(need: Requirement, seen: Seen) -> Often:
    """Return how often something comes, at the confidence of a requirement."""
    bouts = seen.most()
    most_per_s = bouts.rate_at_most(need.confidence or 0.95)
    detail = {
        "number": bouts.number,
        "live_h": round(bouts.live / 3600, 6),
        "gap_s": round(bouts.gap, 3),
    }
    sentence = paragraph(_merged(bouts), _unbounded(bouts))
    most_per_h = None if most_per_s is None else 3600 * most_per_s
    return Often(most_per_h, sentence, {"bouts": detail} if bouts.number else {})


def _merged(bouts: Bouts) -> Message | None:
    if not bouts.gap:
        return None
    return counted(
        bouts.number,
        "They come in bouts: 1, with gaps of less than {gap} within it.",
        "They come in bouts: {count}, parted by gaps of {gap} or longer.",
        gap=Amount(bouts.gap, "s"),
    )


def _unbounded(bouts: Bouts) -> Message:
    if bouts.enough or not bouts.number:
        return NOTHING_SAID
    if not bouts.clear:
        return msg("How often is not bounded: the gaps do not tell one bout from the next.")
    return msg(
        "How often is not bounded: fewer than {fewest} bouts do not tell how they come.",
        fewest=FEWEST,
    )
