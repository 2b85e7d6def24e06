"""Take in pictures: refuse what is no picture, spot repeats, decide which need decoding.

Decoding is the cost of watching an MJPEG stream, so a packet is decoded only when its size
jumps, when it has been repeated, or one in eight. Passed-over packets are kept until the
next one that is decoded: when that one shows a change, they are looked at after all, so the
change is placed to the picture.
"""

import math
from collections import deque
from dataclasses import dataclass

from soak.measure.video.jpeg_header import NotAJpeg, can_hold, is_whole, read_jpeg_header
from soak.measure.video.picture import Held
from soak.roles import Picture

SIZE_JUMP = 0.10
"""A packet that differs by more than this share of the last one's bytes is decoded. Our own
choice."""
JUMP_TIMES_USUAL = 8.0
"""So is one that differs by so many times the stream's usual difference, where that is less: what
is lost may be as large as the picture was. Own choice: 5 standard deviations of normal sizes."""
KEPT_IN_TURN = 4
"""So many pictures a card may keep and show in turn. Own choice: of two to four buffers, as capture
drivers commonly ask for."""
_USUAL_OF, _USUAL_EVERY = 31, 8
"""The usual change of a packet's size is the median of so many, taken anew at each so manieth. Our
own choice."""
DECODE_AFTER = (6, 10)
"""At least the sixth and the tenth packet after the last one that was decoded are, by turns: one in
eight. Our own choice: the sixth of two or three pictures shown in turn is the same one again."""
_REPEATS_TO_DECODE = 3
"""After so many packets alike one is decoded: it may be a still. Our own choice."""


@dataclass(frozen=True, slots=True)
class Arrived:
    """A picture with its time, s, and the time since the one before, s.

    `in_turn` says since when, and within what, s, each picture has been one of the last few but not
    the last: a card that lost its signal and shows what it keeps, in turn.
    """

    t_s: float
    gap_s: float
    held: Held
    in_turn: tuple[float, float] | None = None


class Intake:
    """Keeps the last picture and counts since the last decoding.

    Attributes
    ----------
    jumped : bool
        Whether the last packet's size jumped.
    repeated : bool
        Whether the last packet was the one before, byte for byte.
    """

    def __init__(self) -> None:
        self._last: Held | None = None
        self._kept: deque[Held] = deque(maxlen=KEPT_IN_TURN)
        self._in_turn: tuple[float, float] | None = None
        self.repeated = False
        self.jumped = False
        self._since_decoded = max(DECODE_AFTER)
        self._decoded = 0
        self._repeats = 0
        self._steps: deque[int] = deque(maxlen=_USUAL_OF)
        self._taken = 0
        self._usual_step = math.inf

    def take(self, picture: Picture, t_s: float, gap_s: float) -> Arrived | None:
        """Copy a picture out of the capture's memory; None if it is no whole picture."""
        last = self._last
        data = bytes(picture.data)
        if last is not None and data == last.data and picture.form == last.form:
            self._repeats += 1
            self.jumped = False
            self.repeated = True
            self._in_turn = None  # what a unit draws in turn it holds for several pictures
            self._kept.append(last)
            return Arrived(t_s, gap_s, last)
        size = _true_size(picture, data)
        if size is None:
            return None
        kept = next(
            (picture for picture in self._kept if picture.size == size and picture.data == data),
            None,
        )
        goes_on = kept is None and self._in_turn is not None  # it moves again
        self._in_turn = None if kept is None else self._in_turn or (t_s, gap_s)
        other = last is None or size != last.size or self._leaps(len(data), len(last.data))
        self.jumped = other or goes_on
        self._repeats = 0
        self.repeated = False
        self._last = kept or Held(picture.form, size, data)
        self._kept.append(self._last)
        return Arrived(t_s, gap_s, self._last, self._in_turn)

    def _leaps(self, now: int, before: int) -> bool:
        """Tell whether a packet of so many bytes after one of so many is out of the ordinary."""
        step = abs(now - before)
        leaps = step > min(SIZE_JUMP * before, JUMP_TIMES_USUAL * self._usual_step)
        self._steps.append(step)
        self._taken += 1
        if self._taken % _USUAL_EVERY == 0 and len(self._steps) == _USUAL_OF:
            self._usual_step = float(sorted(self._steps)[_USUAL_OF // 2])
        return leaps

    def is_due(self, arrived: Arrived) -> bool:
        """Tell whether the picture just taken is to be looked at now."""
        if arrived.held.form != "mjpeg" or arrived.held.asked:
            return True
        self._since_decoded += 1
        due = (
            self.jumped
            or self._repeats >= _REPEATS_TO_DECODE
            or self._since_decoded >= DECODE_AFTER[self._decoded % len(DECODE_AFTER)]
        )
        if due:
            self._since_decoded = 0
            self._decoded += 1
            arrived.held.asked = True
        return due


def _true_size(picture: Picture, data: bytes) -> tuple[int, int] | None:
    """Return width and height in pixels; of a JPEG those in its own header; None if damaged."""
    if picture.form == "mjpeg":
        try:
            header = read_jpeg_header(data)
        except NotAJpeg:
            return None
        whole = is_whole(data) and can_hold(data, header)
        return (header.width, header.height) if whole else None
    width, rows = picture.size
    depth = 2 if picture.form == "yuyv" else 3
    if not data or len(data) != width * rows * depth:
        return None
    return width, rows
