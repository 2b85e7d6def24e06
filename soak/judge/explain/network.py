"""Where to look when the network socket loses its link, slows down or stalls."""

from soak.derive.events.faults import UnitFault
from soak.instruments import WATCHES, gone_kind
from soak.judge.explain.clues import Clues
from soak.judge.explain.hints import what_they_go_with
from soak.words import NOTHING_SAID, Amount, Message, counted, joined, msg, paragraph

_ROLE = "network"
_TOO_FEW = 2
"""One loss alone points nowhere, as with any other port. Our own choice."""


def network_socket(clues: Clues) -> tuple[Message, int] | None:
    """Look for a link that alone is lost, or that came down to a lower speed."""
    others = clues.of(*(gone_kind(role) for role in ("stick", *WATCHES) if role != _ROLE))
    others += clues.of("dropout", "restart", "hang")
    alone = [e for e in clues.of(gone_kind(_ROLE)) if not clues.together(e, others)]
    slow = clues.of(f"slow {_ROLE}")
    failed = clues.of("failed fetch")
    lost = alone if len(alone) >= _TOO_FEW else []
    sentence = paragraph(_lost(clues, lost), _slow(slow), _failed(failed) if not lost else None)
    explains = len(lost) + 2 * bool(slow) + len(failed)
    return (sentence, explains) if sentence else None


def _lost(clues: Clues, lost: list[UnitFault]) -> Message | None:
    if not lost:
        return None
    alone = msg(
        "the network link alone was lost {count} times while the picture stayed", count=len(lost)
    )
    return msg(
        "Looks like the network socket, its joints, its transformer or the cable: {why}.",
        why=joined("; ", [alone, *what_they_go_with(clues, lost)]),
    )


def _slow(slow: list[UnitFault]) -> Message | None:
    """Say which pairs to look at: a gigabit link needs four, one at 100 Mb/s two of them."""
    if not slow:
        return None
    return msg(
        "Looks like one of the four pairs at the network socket (its contacts, its transformer): "
        "from {time} on {what}.",
        time=Amount(slow[0].from_s, "s"),
        what=slow[0].text,
    )


def _failed(failed: list[UnitFault]) -> Message | None:
    sentence = counted(
        len(failed),
        "1 fetch failed though the network link stayed: look at the unit's program and storage "
        "before its socket.",
        "{count} fetches failed though the network link stayed: look at the unit's program and "
        "storage before its socket.",
        none=NOTHING_SAID,
    )
    return sentence or None
