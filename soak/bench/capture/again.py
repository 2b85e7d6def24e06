"""Finding a lost capture card again, under whatever number it has by then."""

from dataclasses import replace

from soak.bench.capture.video_device import node_of_card
from soak.bench.capture.video_stream import Asked, CannotOpen
from soak.records import Json
from soak.words import msg


def asked_again(asked: Asked, identity: Json) -> Asked:
    """Return what to ask for, so that the card of that identity is opened and no other.

    Raises
    ------
    CannotOpen
        If that card is not plugged in.
    """
    stable = str(identity.get("stable", asked.source))
    card = str(identity.get("card", ""))
    if card:
        stable = node_of_card(card)  # by now another card may have its old number
        if not stable:
            name = identity.get("name") or "the capture card"
            raise CannotOpen(
                msg("{name} ({card}) is not plugged in; plug it in again", name=name, card=card)
            )
    return replace(asked, source=stable)
