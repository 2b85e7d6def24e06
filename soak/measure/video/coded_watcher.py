"""Read a coded clip off the pictures of a capture, beside the watcher that watches for states."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np

from soak.measure.decode import decode
from soak.measure.video.cadence import Cadence
from soak.measure.video.coded_picture import Image, read
from soak.measure.video.coded_run import CodedRun
from soak.measure.video.jpeg_header import NotAJpeg, can_hold, read_jpeg_header
from soak.records import Reading
from soak.roles import BlindWatcher, Picture, Seen, Watcher
from soak.words import Message

SAY_EVERY_S = 1.0
"""Readings of a clip come so often, s. Our own choice."""
FORGET_AFTER_S = 5.0
"""Unreadable for longer than this is a restart or a break that the picture check sees: the clip may
begin anew anywhere, so nothing between is counted as lost. Our own choice."""
COUNTED = ("came", "lost", "unseen", "stuttered", "out_of_order", "unread")
LANES = ("blue", "green", "red")
GAP_PERIODS = 1.6
"""Usual periods without a picture after which one of the capture's is missing. Own choice."""


@dataclass(slots=True)
class CodedWatcher:
    """Say once a second what came of the clip since the last time.

    Parameters
    ----------
    frames : int
        Frames in the clip.
    """

    frames: int
    _run: CodedRun | None = None
    _said: dict[str, int] = field(default_factory=lambda: dict.fromkeys(COUNTED, 0))
    _said_s: float = -1e9
    _read_s: float = -1e9
    _cadence: Cadence = field(default_factory=lambda: Cadence(0.0, GAP_PERIODS))
    _came_s: float | None = None

    def look(self, picture: Picture) -> Sequence[Seen]:
        """Look at one picture."""
        run = self._run or CodedRun(self.frames)
        self._run = run
        image = decoded(picture)
        seen = None if image is None else read(image)
        if seen is not None and picture.t_s - self._read_s > FORGET_AFTER_S:
            run.forget()
        if seen is not None:
            self._read_s = picture.t_s
        run.take(seen, after_gap=self._gap_before(picture.t_s))
        if picture.t_s - self._said_s < SAY_EVERY_S:
            return ()
        return self._say(picture.t_s, run)

    def idle(self, t_s: float) -> Sequence[Seen]:
        """Say nothing: a stalled stream is the other watcher's."""
        return ()

    def blind(self, t_s: float, why: Message, *, late: bool = False) -> Sequence[Seen]:
        """Forget where the clip was: what passed while blind is not lost."""
        self._came_s = None
        if self._run is not None:
            self._run.forget()
        return ()

    def _gap_before(self, t_s: float) -> bool:
        """Tell whether the capture has left out a picture before this one."""
        came_s = self._came_s
        self._came_s = t_s
        if came_s is None:
            return False
        period_s = self._cadence.period_s
        gap_s = t_s - came_s
        self._cadence.learn(gap_s)
        return period_s > 0 and gap_s > GAP_PERIODS * period_s

    def _say(self, t_s: float, run: CodedRun) -> list[Seen]:
        lines = run.told()
        self._said_s = t_s
        seen: list[Seen] = []
        for name in COUNTED:
            now: int = getattr(lines, name)
            # What is usual is learned: a frame once thought to have stood too long may not have.
            seen.append(Reading(t_s, f"clip.{name}", float(max(0, now - self._said[name]))))
            self._said[name] = max(now, self._said[name])
        seen.append(Reading(t_s, "clip.longest_run", float(lines.longest_run)))
        errors = run.take_error()
        seen += [
            Reading(t_s, f"clip.colour_error.{lane}", error)
            for lane, error in zip(LANES, errors, strict=True)
        ]
        return [*seen, Reading(t_s, "clip.colour_error", max(errors))]


@dataclass(slots=True)
class Both:
    """Two watchers at one stream."""

    one: Watcher
    other: Watcher

    def look(self, picture: Picture) -> Sequence[Seen]:
        """Let both look."""
        return [*self.one.look(picture), *self.other.look(picture)]

    def idle(self, t_s: float) -> Sequence[Seen]:
        """Tell both."""
        return [*self.one.idle(t_s), *self.other.idle(t_s)]

    def blind(self, t_s: float, why: Message, *, late: bool = False) -> Sequence[Seen]:
        """Tell both that can be told."""
        able = [watcher for watcher in (self.one, self.other) if isinstance(watcher, BlindWatcher)]
        return [seen for watcher in able for seen in watcher.blind(t_s, why, late=late)]


def _decodable(packet: bytes) -> bool:
    try:
        return can_hold(packet, read_jpeg_header(packet))
    except NotAJpeg:
        return False


def decoded(picture: Picture) -> Image | None:
    """Return a picture as blue, green, red; half size where it came as a big JPEG."""
    data = np.frombuffer(picture.data, np.uint8)
    width, height = picture.size
    if picture.form == "mjpeg":
        if not _decodable(bytes(picture.data)):
            return None
        how = cv2.IMREAD_REDUCED_COLOR_2 if width >= 1280 else cv2.IMREAD_COLOR
        return decode(bytes(picture.data), how)
    if picture.form == "yuyv":
        if data.size != width * height * 2:
            return None
        image = cv2.cvtColor(data.reshape(height, width, 2), cv2.COLOR_YUV2BGR_YUYV)
    else:
        if data.size != width * height * 3:
            return None
        image = data.reshape(height, width, 3)
    return np.asarray(image, np.uint8)
