"""Look at pictures where they arrive and say what the capture is seen to be: a `roles.Watcher`.

Everything is learned from the stream itself: its rhythm, its noise, its usual repeats. A single
black picture is a state of its own; nothing is smoothed away, judging comes later.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from soak.marks import COUNTED, PictureSaid, state_of
from soak.measure.video.accounts import FrameAccounts
from soak.measure.video.by_itself import ByItself
from soak.measure.video.cadence import UNKNOWN_STALL_S, Cadence
from soak.measure.video.colour import colour_of_file
from soak.measure.video.evidence_frames import EvidenceFrames
from soak.measure.video.fade import Fade
from soak.measure.video.fine.follow import FineFaults
from soak.measure.video.in_turn import InTurn
from soak.measure.video.intake import Arrived, Intake
from soak.measure.video.motion import Motion
from soak.measure.video.picture import NOISE, Held
from soak.measure.video.snow import NoiseRun
from soak.measure.video.unchanged import Unchanged
from soak.measure.video.watcher_settings import WatcherSettings as WatcherSettings
from soak.roles import Picture, Seen
from soak.states import BLACK, BLIND, FROZEN, NO_SIGNAL, OTHER_SIZE, PICTURE, PROTECTED, STALLED
from soak.words import Message, msg

ACCOUNT_AT_A_BREAK_S = 10.0
"""Where the stream breaks off its account is told, if the last one is so old, s. Own choice."""
_SIZE_KNOWN_S = 5.0
"""The first size that lasts so long is the expected one, where none is given: a unit may start in
another mode than the one it works in. Our own choice."""

_PASSED_OVER_IN = (PICTURE, FROZEN, BLACK, NO_SIGNAL, PROTECTED, OTHER_SIZE)
"""States in which pictures are passed over; what ends one is placed to the picture afterwards."""


_NOTHING_MORE = PictureSaid()


class PictureWatcher:
    """Turn pictures into states; fills `roles.Watcher`. Picklable; one for each stream.

    Parameters
    ----------
    settings : WatcherSettings

    Attributes
    ----------
    pictures, damaged : int
        Pictures taken, and packets that were no whole picture.

    Raises
    ------
    ValueError
        If a taught picture cannot be decoded.
    """

    def __init__(self, settings: WatcherSettings) -> None:
        self.settings = settings
        self.pictures = self.damaged = 0
        self._by_itself = ByItself(settings.taught, settings.protected, settings.luma)
        self._noise = NoiseRun()
        self._cadence = Cadence(settings.stalled_after_s, settings.stalled_periods)
        self._intake = Intake()
        # A logo that stands is no freeze; where a still picture is a mere reading, it is one.
        logo_s = settings.still_at_start_s if settings.moving else 0.0
        self._motion = Motion(settings.frozen_after_s, logo_s)
        self._in_turn = InTurn()
        self._unchanged = Unchanged(f"{settings.source}.unchanged", settings.unchanged_every_s)
        self._follows_motion = settings.moving or settings.unchanged_every_s > 0
        self._fade = Fade()
        self.accounts = FrameAccounts()
        self._accounted_s: float | None = None
        self._packet_bytes = 0
        bounds = (settings.frames_of_a_state, settings.frames_in_all)
        self._frames = EvidenceFrames(settings.source, settings.names, *bounds)
        fine_frames = EvidenceFrames(settings.source, f"{settings.names}-fine", *bounds)
        self._fine = FineFaults(
            settings.source,
            settings.fine_every,
            fine_frames,
            menus=tuple(colour_of_file(file) for file in settings.menu),
            logo_s=settings.still_at_start_s,
        )
        self._state = ""
        self._began_s = 0.0
        self._size = settings.size
        self._size_since: tuple[tuple[int, int], float] | None = None
        self._last_s: float | None = None
        self._waiting_since_s: float | None = None
        self._damaged_since: tuple[float, float] | None = None
        self._previous: Held | None = None
        self._faded: tuple[float, float] | None = None
        self._content_black_s = 0.0
        self._pending: list[Arrived] = []
        self._passed: list[Arrived] = []
        self._shown_first = False
        self._has_signal = True
        self._show_after = False

    @property
    def longest_still_s(self) -> float:
        """The longest time that the picture has stood still so far, s."""
        return self._motion.longest_s

    @property
    def state(self) -> str:
        """The state now, empty before the first."""
        return self._state

    def look(self, picture: Picture) -> Sequence[Seen]:
        """Look at one picture; say what began, nothing if nothing did."""
        t_s = max(
            picture.t_s, self._began_s, self._began_s if self._last_s is None else self._last_s
        )
        gap_s = 0.0 if self._last_s is None else t_s - self._last_s
        # A stall was watched while it lasted: its end is known to a period, not to its length.
        within_s = min(gap_s, self._cadence.period_s or gap_s) if self._stalls(gap_s) else gap_s
        arrived = self._intake.take(picture, t_s, within_s)
        if arrived is None:
            return tuple(self._damaged_packet(t_s, gap_s))
        said = list(self._gap_before(t_s, gap_s))
        self._last_s = t_s
        self.pictures += 1
        self._fade.pass_by(arrived.held)
        # Asked before anything is seen fully, so that the fine check changes nothing in it.
        is_due = self._intake.is_due(arrived)
        said += self._look_closely(arrived)
        said += self._account(arrived)
        if self._state in _PASSED_OVER_IN and not is_due:
            self._pending.append(arrived)
            self._damaged_since = None
            return tuple(said)
        for waiting in self._worth_judging(arrived):
            said += self._judge(waiting)
        return tuple(said)

    def _look_closely(self, arrived: Arrived) -> Iterator[Seen]:
        if self._fine.is_due(arrived, self._intake.jumped):
            yield from self._fine.see(arrived, self._kind_for_fine)
        else:
            self._fine.pass_over(arrived)

    def _account(self, arrived: Arrived) -> Iterator[Seen]:
        self.accounts.see(arrived.t_s, self._intake.repeated)
        self._packet_bytes = len(arrived.held.data)
        yield from self._tell_account(arrived.t_s, self.settings.account_every_s)

    def _tell_account(self, t_s: float, every_s: float) -> Iterator[Seen]:
        """Say what was learned, unless that was said within `every_s`."""
        if not self.settings.account_every_s or not self.accounts.period_s:
            return
        if self._accounted_s is None or t_s - self._accounted_s >= every_s:
            self._accounted_s = t_s
            said = PictureSaid(
                pictures=self.pictures,
                lost=self.accounts.lost,
                repeated=self.accounts.repeated,
                damaged=self.damaged,
                period_s=round(self.accounts.period_s, 9),
                noise_luma=round(self._motion.floor.luma, 3),
                packet_bytes=self._packet_bytes,
            )
            yield state_of(t_s, f"{self.settings.source}.stream", COUNTED, said)

    def idle(self, t_s: float) -> Sequence[Seen]:
        """Say what began because no picture has come up to `t_s` (a stalled stream)."""
        if self._state in (STALLED, BLIND):
            return ()
        if self._last_s is None:
            if self._waiting_since_s is None:
                self._waiting_since_s = t_s
            since_s = self._waiting_since_s
            if t_s - since_s < UNKNOWN_STALL_S:
                return ()
            return tuple(self._begin(STALLED, since_s, 0.0, None))
        if not self._cadence.is_stall(t_s - self._last_s):
            return ()
        return tuple(self._stall())

    def blind(self, t_s: float, why: Message, *, late: bool = False) -> Sequence[Seen]:
        """Say that the bench cannot see from `t_s` on; the next picture begins afresh."""
        if self._state == BLIND:
            return ()
        said = [*self._judge_pending()]
        last_s = t_s if self._last_s is None else self._last_s
        t_s = max(t_s, last_s)
        said += self._begin(
            BLIND, t_s, t_s - last_s, held=None, said=PictureSaid(why=why, late=late)
        )
        self._last_s = None
        return tuple(said)

    def tell_signal(self, there: bool) -> None:
        """Take the driver's own word whether its input has a signal; noise may look like one."""
        self._has_signal = there

    def finish(self) -> Sequence[Seen]:
        """Say what the last pictures of a recording still change."""
        return tuple(self._judge_pending())

    def _damaged_packet(self, t_s: float, gap_s: float) -> Iterator[Seen]:
        self.damaged += 1
        if self._damaged_since is None:
            self._damaged_since = (t_s, gap_s)
        since_s, within_s = self._damaged_since
        if self._state != BLIND and self._cadence.is_stall(t_s - since_s + within_s):
            yield from self._judge_pending()
            why = msg(
                "the card delivers packets that are no whole picture; check its cable and port"
            )
            yield from self._begin(BLIND, since_s, within_s, held=None, said=PictureSaid(why=why))

    def _stalls(self, gap_s: float) -> bool:
        return self._state == STALLED or self._cadence.is_stall(gap_s)

    def _gap_before(self, t_s: float, gap_s: float) -> Iterator[Seen]:
        if self._last_s is None or self._state in (STALLED, BLIND):
            return
        if self._stalls(gap_s):
            yield from self._stall()
        else:
            self._cadence.learn(gap_s)

    def _stall(self) -> Iterator[Seen]:
        """Begin a stall when the next picture was due."""
        assert self._last_s is not None
        yield from self._judge_pending()
        period_s = self._cadence.period_s or self.settings.stalled_after_s
        yield from self._begin(STALLED, self._last_s + period_s, period_s, None)

    def _worth_judging(self, arrived: Arrived) -> Sequence[Arrived]:
        """Return the pictures to judge: those passed over too, where something has changed."""
        passed = self._pending
        self._pending = []
        before = self._passed  # directly before the picture judged last
        self._passed = []
        if not passed and not before:
            return (arrived,)
        kind = self._kind(arrived.held)
        if self._state not in (PICTURE, FROZEN):
            return (arrived,) if kind == self._state else (*passed, arrived)
        continues = self.settings.moving and self._motion.is_repeat_of_run(arrived.held)
        if continues:
            self._motion.reach_back(
                [(picture.t_s, picture.gap_s, picture.held) for picture in before]
            )
        if not passed or (kind == PICTURE and continues and self._motion.is_settled):
            return (arrived,)
        ends = self.settings.moving and not continues and self._motion.runs_long(passed[-1].t_s)
        if kind != PICTURE or continues or ends or self._in_turn.goes_on:
            return (*passed, arrived)
        self._passed = passed
        return (*(picture for picture in passed if picture.held is arrived.held), arrived)

    def _judge_pending(self) -> Iterator[Seen]:
        passed = self._pending
        self._pending = []
        for arrived in passed:
            yield from self._judge(arrived)

    def _judge(self, arrived: Arrived) -> Iterator[Seen]:
        """Judge one picture in its turn."""
        held = arrived.held
        t_s = arrived.t_s
        gap_s = arrived.gap_s
        kind = self._kind(held)
        if kind == BLIND:  # it looked whole and could not be decoded
            yield from self._damaged_packet(t_s, gap_s)
            return
        self._damaged_since = None
        if kind == PICTURE:
            self._learn_size(held.size, t_s)
        if kind == NOISE:
            noise = self._noise.see(arrived)
            if noise is None:
                return
            kind, t_s, gap_s = noise
            kind = OTHER_SIZE if kind == PICTURE and self._is_other_size(held) else kind
        else:
            self._noise.rest()
        if kind == BLACK:
            kind, t_s, gap_s = self._black_or_fade(held, t_s, gap_s)
        else:
            self._faded = None
            self._fade.see(held)
        if kind == PICTURE and self._faded is None and self._follows_motion:
            stands = self._motion.see(t_s, gap_s, held)
            frozen = self._in_turn.see(arrived) or stands
            if not self.settings.moving:
                yield from self._unchanged.see(t_s, frozen[0] if frozen else None)
            elif frozen is not None:
                kind, (t_s, gap_s) = FROZEN, frozen
        elif kind != PICTURE or self._faded is not None:
            self._motion.rest()
            self._in_turn.rest()
            yield from self._unchanged.end()
        if kind != self._state:
            yield from self._begin(kind, t_s, gap_s, held=held, said=self._how(kind, held))
        self._previous = held

    def _kind(self, held: Held) -> str:
        """Return what one picture is by itself; `blind` if it cannot be decoded."""
        verdict = self._by_itself.verdict(held)
        if not self._has_signal and verdict != BLIND:
            return NO_SIGNAL
        other_size = verdict in (PICTURE, BLACK) and self._is_other_size(held)
        return OTHER_SIZE if other_size else verdict

    def _kind_for_fine(self, held: Held) -> str:
        """Return what one picture is; texture that looks like noise is a picture all the same."""
        kind = self._kind(held)
        return PICTURE if kind == NOISE and self._state == PICTURE else kind

    def _is_other_size(self, held: Held) -> bool:
        return self._size is not None and held.size != self._size

    def _how(self, kind: str, held: Held) -> PictureSaid:
        """Say what a state without the unit's picture looks like."""
        if kind == PROTECTED:
            return PictureSaid(looks_like="a picture taught as protected output")
        if kind == BLACK and held.bars:
            return PictureSaid(looks_like="black with bars across it")
        if kind != NO_SIGNAL:
            return _NOTHING_MORE
        if not self._has_signal:
            told = "anything: the card's driver says that nothing comes in"
            return PictureSaid(looks_like=told)
        noise = held.verdict == NOISE
        return PictureSaid(looks_like="noise" if noise else "a picture taught as no signal")

    def _black_or_fade(self, held: Held, t_s: float, gap_s: float) -> tuple[str, float, float]:
        if self._faded is None:
            self._content_black_s = self._content_black(held)
            if not self._content_black_s:
                return BLACK, t_s, gap_s
            self._faded = (t_s, gap_s)
        if self._state == BLACK or t_s - self._faded[0] > self._content_black_s:
            return BLACK, *self._faded
        return PICTURE, t_s, gap_s

    def _content_black(self, held: Held) -> float:
        """Return for how long the black that begins may be content, s."""
        if self._state not in (PICTURE, FROZEN):
            return 0.0
        told_s = self.settings.longest_black_s
        return max(told_s, self.settings.fade_black_s) if self._fade.led_to(held) else told_s

    def _learn_size(self, size: tuple[int, int], t_s: float) -> None:
        if self._size is not None:
            return
        if self._size_since is None or self._size_since[0] != size:
            self._size_since = (size, t_s)
        elif t_s - self._size_since[1] >= _SIZE_KNOWN_S:
            self._size = size

    def _begin(
        self,
        state: str,
        t_s: float,
        within_s: float,
        held: Held | None,
        said: PictureSaid = _NOTHING_MORE,
    ) -> Iterator[Seen]:
        """Begin a state, with its evidence frames before, during and after."""
        t_s = max(t_s, self._began_s)
        was = self._state
        self._state = state
        self._began_s = t_s
        if held is not None:
            said = replace(said, size=held.size, luma=round(held.mean_luma(), 1))
        yield state_of(t_s, self.settings.source, state, said, within_s=within_s)
        if state in (STALLED, BLIND):
            self._motion.rest()
            self._in_turn.rest()
            self._fade.forget()
            self.accounts.interrupt()
            yield from self._fine.gone(t_s)
            yield from self._unchanged.end()
            yield from self._tell_account(t_s, ACCOUNT_AT_A_BREAK_S)
        yield from self._evidence(was, state, t_s, held)

    def _evidence(self, was: str, state: str, t_s: float, held: Held | None) -> Iterator[Seen]:
        if state == PICTURE:
            if not self._shown_first:
                self._shown_first = True
                yield from self._frames.frame(t_s, held, "first", state)
            elif self._show_after:
                yield from self._frames.frame(t_s, held, "after", was)
            self._show_after = False
            return
        self._show_after = self._frames.begin(t_s, state)
        if self._show_after:
            yield from self._frames.frame(t_s, self._previous, "before", state)
            yield from self._frames.frame(t_s, held, "during", state)
