"""Reads pictures in a thread, paces files, and hands each to the watcher where it arrives."""

import statistics
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence

from soak.bench.capture.video_stream import Frame, Stream
from soak.clock import SoakClock
from soak.errors import told_of
from soak.roles import BlindWatcher, Seen, Watcher
from soak.words import NOTHING_SAID, Message, Number, msg

_FAILED_READ_PAUSE_S = 0.05
"""A card that was pulled fails at once, tens of thousands of times a second. Our own choice."""
_LOST_AFTER_FAILS = 10
_LATE_S = 0.1
"""Who has not read for so long may have missed pictures: drivers keep about four in store. Our own
choice."""
_PERIODS_LEARNED, _SLOWEST_S = 31, 1.0
"""A stream's period is the median of so many gaps, and taken for so long until there is one, s. Our
own choice."""
_LOST_FROM_PERIODS = 1.5
"""Pictures so far apart have lost one between them: halfway to two periods."""
_ASK_EVERY_S = 0.5
"""A card is asked so often whether it has a signal, s. Our own choice."""
_FAST_S = 0.02
"""A read that fails faster than this did not wait for a picture: the card is gone. Our own
choice."""


class PictureReader:
    """Reads one opened stream for one watcher.

    Parameters
    ----------
    paced : bool
        Whether pictures are held back until their own time has come (a file in real time).
    again : callable or None
        Opens the file anew after its end.
    is_file : bool
        Whether a failed read is the end.
    silent_limit_s : float
        Without a picture for so long the stream is given up, s.
    stood_s : callable
        For how long of a span the computer itself stood still, s.

    Attributes
    ----------
    stream : Stream
        The one being read; another after a file was begun again.
    last_s : float
        When the last picture came, or reading began, s of soak time.
    """

    def __init__(
        self,
        stream: Stream,
        watcher: Watcher,
        clock: SoakClock,
        *,
        paced: bool,
        again: Callable[[], Stream] | None,
        is_file: bool,
        silent_limit_s: float,
        stood_s: Callable[[float, float], float] = lambda from_s, to_s: 0.0,
    ) -> None:
        self.stream = stream
        self._watcher = watcher
        self._clock = clock
        self._paced = paced
        self._again = again
        self._is_file = is_file
        self._silent_limit_s = silent_limit_s
        self._stood_s = stood_s
        self._origin_s = clock.now_s()
        self.last_s = self._read_s = self._origin_s
        self._stamped: tuple[float, float] | None = None
        self._usual_age_s: float | None = None
        self._gaps_s: deque[float] = deque(maxlen=_PERIODS_LEARNED)
        self._behind_s = 0.0
        self._fast_fails = 0
        self._asked_s = float("-inf")
        self._number = 0
        self._waiting: Frame | None = None
        self._seen: list[Seen] = []
        self._turn = threading.Lock()
        self._abandoned = False

    def abandon(self) -> None:
        """Keep a thread that may still hang in a read from touching the watcher afterwards."""
        with self._turn:
            self._abandoned = True

    def take_seen(self) -> Sequence[Seen]:
        """Return what was seen since the last call, also by a read that hangs by now."""
        with self._turn:
            seen = self._seen
            self._seen = []
        return seen

    def read_for(self, batch_s: float) -> Message:
        """Read and look for about `batch_s`; return why reading has ended, '' if it goes on."""
        until_s = self._clock.now_s() + batch_s
        while self._clock.now_s() < until_s and not self._abandoned:
            frame, took_s, away_s = self._read()
            if frame is None:
                why = self._nothing(took_s)
                if why:
                    return why
                continue
            self._fast_fails = 0
            t_s = self._time_of(frame)
            if self._paced and self._held_back(frame, t_s, until_s):
                break
            self._look(frame, t_s, away_s)
        return NOTHING_SAID

    def _read(self) -> tuple[Frame | None, float, float]:
        """Return the next picture, how long the read took, s, and how long nobody read before."""
        if self._waiting is not None:
            frame = self._waiting
            self._waiting = None
            return frame, 0.0, 0.0
        asked_s = self._clock.now_s()
        away_s = asked_s - self._read_s
        read = self.stream.read()
        self._read_s = self._clock.now_s()
        return read, self._read_s - asked_s, away_s

    def _time_of(self, frame: Frame) -> float:
        """Return soak time of a picture, s: the source's own timestamp where it has one."""
        if self._is_file and frame.stamp_s is not None:
            return self._origin_s + frame.stamp_s
        return self._clock.now_s() - (frame.age_s or 0.0)

    def _held_back(self, frame: Frame, t_s: float, until_s: float) -> bool:
        """Wait until the picture's time has come; keep it for the next batch if that is later."""
        wait_s = t_s - self._clock.now_s()
        if wait_s <= 0:
            return False
        room_s = until_s - self._clock.now_s()
        time.sleep(max(0.0, min(wait_s, room_s)))
        if wait_s > room_s:
            self._waiting = frame
            return True
        return False

    def _look(self, frame: Frame, t_s: float, away_s: float) -> None:
        previous_s = self._stamped[0] if self._stamped else t_s
        gap_s = t_s - previous_s
        with self._turn:
            if self._abandoned:
                return
            watcher = self._watcher
            self._ask_for_signal(t_s)
            usual_s = self._usual_gap_s()
            late = away_s > _LATE_S and gap_s > away_s - usual_s
            # A driver that stamps its pictures stores the oldest ones while nobody reads: the hole
            # comes after those, when the reader is back already.
            late |= self._behind_s > _LATE_S
            late |= self._stood_still(previous_s, t_s)
            late &= gap_s > max(_LATE_S, _LOST_FROM_PERIODS * usual_s)
            self._behind_s = self._lag_s(frame)
            if gap_s > 0:
                self._gaps_s.append(gap_s)
            if late and not self._is_file and isinstance(watcher, BlindWatcher):
                why = msg(
                    "this computer was too busy to take pictures for {time} s",
                    time=Number(gap_s, ".1f"),
                )
                self._seen += watcher.blind(previous_s, why, late=True)
            self._seen += watcher.look(frame.picture(t_s, self._number))
        self._number += 1
        self._stamped = (t_s, gap_s)
        self.last_s = t_s

    def _usual_gap_s(self) -> float:
        """Return how far apart pictures come, s; of an unknown stream the slowest there are."""
        return statistics.median(self._gaps_s) if self._gaps_s else _SLOWEST_S

    def _stood_still(self, from_s: float, to_s: float) -> bool:
        """Tell whether a gap is the computer's own: most of it nothing in it ran."""
        gap_s = to_s - from_s
        return gap_s > _LATE_S and self._stood_s(from_s, to_s) > 0.5 * gap_s

    def _ask_for_signal(self, t_s: float) -> None:
        """Let the watcher know what the driver says of its input, now and then."""
        if t_s - self._asked_s < _ASK_EVERY_S or self._is_file:
            return
        self._asked_s = t_s
        tell = getattr(self._watcher, "tell_signal", None)
        has_signal = getattr(self.stream, "has_signal", None)
        if tell is not None and has_signal is not None:
            tell(has_signal())

    def _lag_s(self, frame: Frame) -> float:
        """Return how much later than usual a stamped picture was fetched, s."""
        if frame.age_s is None:
            return 0.0
        if self._usual_age_s is None or frame.age_s < self._usual_age_s:
            self._usual_age_s = frame.age_s
        return frame.age_s - self._usual_age_s

    def _idle(self) -> None:
        with self._turn:
            now_s = self._clock.now_s()
            if not self._abandoned and not self._stood_still(self.last_s, now_s):
                self._seen += self._watcher.idle(now_s)

    def _nothing(self, took_s: float) -> Message:
        """Deal with a read that brought no picture; return why reading has ended, '' if not."""
        if self._is_file:
            return msg("the clip has ended") if self._again is None else self._play_again()
        if took_s < _FAST_S:
            self._fast_fails += 1  # the card's doing, so no stall is made of it
        else:
            self._fast_fails = 0
            self._idle()
        if self._fast_fails >= _LOST_AFTER_FAILS:
            return msg("the capture fails at once; it was unplugged or has crashed")
        silent_s = self._clock.now_s() - self.last_s
        if silent_s > self._silent_limit_s:
            return msg(
                "the capture has delivered nothing for {time} s; it is opened again",
                time=Number(silent_s, ".0f"),
            )
        time.sleep(_FAILED_READ_PAUSE_S)
        return NOTHING_SAID

    def _play_again(self) -> Message:
        assert self._again is not None
        if self._stamped is None:
            return msg("the clip holds no picture")
        self.stream.close()
        try:
            self.stream = self._again()
        except OSError as fault:
            return told_of(fault)
        last_s, period_s = self._stamped
        self._origin_s = last_s + period_s
        self._stamped = None
        return NOTHING_SAID
