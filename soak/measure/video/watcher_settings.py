"""What a watcher is told before it sees a picture."""

from dataclasses import dataclass

from soak.measure.video.motion import FROZEN_AFTER_S
from soak.measure.video.picture import Luma


@dataclass(frozen=True, slots=True)
class WatcherSettings:
    """What a watcher is told beforehand.

    Attributes
    ----------
    source : str
        Source of the states.
    moving : bool
        Whether the model sheet promises motion; only then is a still picture `frozen`.
    size : (int, int) or None
        Expected width and height in pixels; None: the first size that lasts 5 s.
    taught : tuple of bytes
        The card's own no-signal pictures, as JPEG or PNG files.
    protected : tuple of bytes
        What is shown instead of protected output, likewise.
    menu : tuple of bytes
        Pictures of the unit's own whose colours are known to be right, likewise.
    luma : str or None
        Luma range of the stream; None: limited for YUYV, full for the rest.
    frozen_after_s : float
        Shortest freeze that is said, s; more than the default is how long the content may stand.
    still_at_start_s : float
        A picture that has hardly moved since it appeared is frozen only after this long, s: units
        start with a logo.
    stalled_after_s, stalled_periods : float
        No picture for longer than both, in s and in usual periods, is a stall.
    fade_black_s : float
        Black after a fade is part of the content up to this long, s: a title is held as long.
    longest_black_s : float
        Any other black is part of the content up to this long, s; 0: none is.
    frames_of_a_state, frames_in_all : int
        Bounds of the evidence: changes shown for each state at first (one more every 10 min),
        frames in all (0: none); for fine faults as many again.
    names : str
        Beginning of the evidence frames' names; a resumed soak gives another.
    fine_every : int
        One picture in so many is seen fully, for the fine faults; 0: none.
    account_every_s : float
        What was learned of the stream, and which pictures it lost and repeated, is said so often
        as a state of `source.stream`, s; 0: never.
    unchanged_every_s : float
        Where no motion is promised: how long a picture stands unchanged is said so often as a
        reading `source.unchanged`, s; 0: never.
    """

    source: str = "capture"
    moving: bool = False
    size: tuple[int, int] | None = None
    taught: tuple[bytes, ...] = ()
    protected: tuple[bytes, ...] = ()
    menu: tuple[bytes, ...] = ()
    luma: Luma | None = None
    frozen_after_s: float = FROZEN_AFTER_S
    still_at_start_s: float = 30.0
    stalled_after_s: float = 0.2
    stalled_periods: float = 6.0
    fade_black_s: float = 5.0
    longest_black_s: float = 0.0
    frames_of_a_state: int = 20
    frames_in_all: int = 300
    names: str = "capture"
    fine_every: int = 0
    account_every_s: float = 0.0
    unchanged_every_s: float = 0.0
