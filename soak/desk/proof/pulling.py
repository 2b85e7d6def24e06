"""What a card showed before its plug was pulled, and whether it merely keeps showing that."""

import threading
from collections import deque
from collections.abc import Callable, Iterable, Sequence

from soak.bench.capture.video_stream import Frame, Stream
from soak.errors import BenchFault
from soak.measure.video.card_colours import CardColours
from soak.measure.video.colour import colour_of
from soak.measure.video.picture import Held, Luma
from soak.measure.video.taught import TaughtPictures
from soak.words import msg

_REMEMBERED = 1800
"""Pictures of which the colours are kept while the operator pulls the plug: half a minute at 60 a
second. Our own choice."""
_JUST_BEFORE = 8
"""So many pictures before the card's own are compared with it: a card may show one or two of its
own making on the way. Our own choice."""


def held_of(frame: Frame) -> Held:
    """Return a picture as it was read, kept."""
    return Held(frame.form, frame.size, frame.data.tobytes())


class Watched:
    """Reads a live stream on while the operator is asked, and remembers the colours that it had.

    Parameters
    ----------
    stream : Stream
        Nobody else reads it meanwhile.
    live : bool
        Whether it goes on by itself; a file waits for whoever reads it.
    """

    def __init__(self, stream: Stream, live: bool) -> None:
        self._stream = stream
        self._live = live
        self._seen: deque[CardColours] = deque(maxlen=_REMEMBERED)

    def while_asked(self, ask: Callable[[], object]) -> None:
        """Ask, and read on until that is answered."""
        if not self._live:
            ask()
            return
        over = threading.Event()
        reading = threading.Thread(target=self._read, args=(over,), daemon=True)
        reading.start()
        try:
            ask()
        finally:
            over.set()
            reading.join()

    def remember(self, pictures: Iterable[Held]) -> None:
        """Take pictures that were read otherwise."""
        for held in pictures:
            colour = colour_of(held)
            if colour is not None:
                self._seen.append(CardColours(colour))

    def _read(self, over: threading.Event) -> None:
        while not over.is_set():
            frame = self._stream.read()
            if frame is not None:
                self.remember([held_of(frame)])
            else:
                over.wait(0.05)

    def goes_on_in(self, held: Held) -> bool:
        """Tell whether a picture that now stands is the next one of what moved before it stood."""
        own = colour_of(held)
        if own is None:
            return False
        seen = list(self._seen)
        stands = next((at for at, one in enumerate(seen) if one.are_those_of(own)), len(seen))
        card = CardColours(own)
        return any(
            card.continues(picture) for picture in seen[max(0, stands - _JUST_BEFORE) : stands]
        )


def refuse_units_own(watched: Watched, shown: Sequence[Held], card: Held, luma: Luma) -> None:
    """Refuse a card's picture that is the unit's own, or would be found in it.

    Raises
    ------
    BenchFault
        With what to do.
    """
    own = colour_of(card)
    colours = [colour for held in shown if (colour := colour_of(held)) is not None]
    kept = own is not None and any(CardColours(colour).are_those_of(own) for colour in colours)
    if kept or watched.goes_on_in(card):
        what = msg(
            "the picture did not change when the plug was pulled: this card keeps its last "
            "picture, so a lost signal cannot be seen with it; use another card, or let the unit "
            'show what always moves and say picture_when_on = "moving": then what stands is frozen'
        )
        raise BenchFault("capture", what)
    taught = TaughtPictures([card.as_jpeg()])
    if any(taught.shows(held, luma) for held in shown):
        what = msg(
            "what the unit showed before would be taken for this picture: they have the same "
            "ground; have the unit show something else in the soak, and teach again with that"
        )
        raise BenchFault("capture", what)
