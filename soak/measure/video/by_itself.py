"""What one picture is by itself, whatever came before it."""

from soak.measure.video.dark import TrueBlack, is_hum
from soak.measure.video.picture import NOISE, Held, Luma, black_limit, is_black
from soak.measure.video.snow import is_noise
from soak.measure.video.taught import TaughtPictures
from soak.states import BLACK, BLIND, NO_SIGNAL, PICTURE, PROTECTED


class ByItself:
    """Judges single pictures; each is judged once.

    Parameters
    ----------
    taught, protected : tuple of bytes
        Pictures taught as shown without a signal, and as a notice of protected output.
    luma : str or None
        Luma range of the stream; None: limited for YUYV, full for the rest.

    Raises
    ------
    ValueError
        If a taught picture cannot be decoded.
    """

    def __init__(
        self, taught: tuple[bytes, ...], protected: tuple[bytes, ...], luma: Luma | None
    ) -> None:
        self._taught = TaughtPictures(taught)
        self._protected = TaughtPictures(protected)
        self._luma = luma
        self._black = TrueBlack()

    def verdict(self, held: Held) -> str:
        """Return what it is: `noise` only may be; `blind` if it cannot be decoded."""
        if held.verdict is None:
            held.verdict = self._judged(held)
        return held.verdict

    def _judged(self, held: Held) -> str:
        grey = held.grey()
        if grey is None:
            return BLIND
        luma = self._luma or ("limited" if held.form == "yuyv" else "full")
        if self._protected.shows(held, luma):
            return PROTECTED
        if self._taught.shows(held, luma):
            return NO_SIGNAL
        if is_black(grey, black_limit(luma)):
            return PICTURE if self._black.lives(held, grey) else BLACK
        if is_hum(grey):
            held.bars = True
            return BLACK
        return NOISE if is_noise(grey, held.form, held.size[1]) else PICTURE
