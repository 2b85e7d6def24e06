"""The run of a coded clip: which frames came, were lost, repeated or out of order."""

from collections import Counter
from dataclasses import dataclass

from soak.measure.video.coded_picture import Coded


@dataclass(frozen=True, slots=True)
class Told:
    """What came in a run so far.

    Attributes
    ----------
    came : int
        Frames of the clip that were shown, each counted once a round.
    lost : int
        Frames that never came between two that did.
    unseen : int
        The same where the capture itself had a gap: nobody's loss.
    stuttered : int
        Frames that stood longer than twice the usual number of pictures.
    out_of_order : int
        Frames that came after a later one.
    unread : int
        Pictures that could not be read.
    rounds : int
        Times the clip began anew.
    longest_run : int
        Most frames in order without a loss.
    colour_error : (float, float, float)
        Largest error of blue, green, red, share of full scale.
    """

    came: int = 0
    lost: int = 0
    unseen: int = 0
    stuttered: int = 0
    out_of_order: int = 0
    unread: int = 0
    rounds: int = 0
    longest_run: int = 0
    colour_error: tuple[float, float, float] = (0.0, 0.0, 0.0)

    @property
    def due(self) -> int:
        """Frames that were due: those that came and those that were lost."""
        return self.came + self.lost


class CodedRun:
    """Take what each picture says, in order.

    Parameters
    ----------
    frames : int
        Frames in the clip; it plays round and round.
    """

    def __init__(self, frames: int) -> None:
        self._frames = frames
        self._last: int | None = None
        self._stood = 0
        self._run = 0
        self._stays: Counter[int] = Counter()
        self._counts: Counter[str] = Counter()
        self._error = self._fresh_error = (0.0, 0.0, 0.0)
        self._unsure = False

    def take_error(self) -> tuple[float, float, float]:
        """Return the largest colour error since the last call."""
        error = self._fresh_error
        self._fresh_error = (0.0, 0.0, 0.0)
        return error

    def take(self, seen: Coded | None, *, after_gap: bool = False) -> None:
        """Take one picture; None if it could not be read.

        Parameters
        ----------
        after_gap : bool
            Whether pictures of the capture are missing before it: what was on them nobody knows.
        """
        self._unsure = self._unsure or after_gap
        if seen is None:
            self._counts["unread"] += 1
            return
        self._error = _larger(self._error, seen.colour_error)
        self._fresh_error = _larger(self._fresh_error, seen.colour_error)
        if self._last is None:
            self._came(seen.number, 0)
            return
        step = (seen.number - self._last) % self._frames
        if step == 0:
            self._stood += 1
        elif step > self._frames // 2:
            self._counts["out of order"] += 1
            self._run = 0
            self._moved(seen.number)
        else:
            if seen.number < self._last:
                self._counts["rounds"] += 1
            self._came(seen.number, step - 1)

    def forget(self) -> None:
        """Forget where the clip was: the next frame may be any, and nothing before it is lost."""
        self._counts["longest"] = max(self._counts["longest"], self._run)
        self._last = None
        self._stood = 0
        self._run = 0

    def told(self) -> Told:
        """Return what came so far."""
        usual = self._stays.most_common(1)[0][0] if self._stays else 1
        long = sum(number for stay, number in self._stays.items() if stay > 2 * usual)
        return Told(
            came=self._counts["came"],
            lost=self._counts["lost"],
            unseen=self._counts["unseen"],
            stuttered=long,
            out_of_order=self._counts["out of order"],
            unread=self._counts["unread"],
            rounds=self._counts["rounds"],
            longest_run=max(self._counts["longest"], self._run),
            colour_error=self._error,
        )

    def _came(self, number: int, lost: int) -> None:
        self._counts["came"] += 1
        self._counts["unseen" if self._unsure else "lost"] += lost
        if self._unsure:
            self._stood = 0  # nor how long the one before stood
        self._counts["longest"] = max(self._counts["longest"], self._run)
        self._run = 1 if lost else self._run + 1
        self._moved(number)

    def _moved(self, number: int) -> None:
        if self._stood:
            self._stays[self._stood] += 1
        self._last = number
        self._stood = 1
        self._unsure = False


def _larger(
    one: tuple[float, float, float], other: tuple[float, float, float]
) -> tuple[float, float, float]:
    return max(one[0], other[0]), max(one[1], other[1]), max(one[2], other[2])
