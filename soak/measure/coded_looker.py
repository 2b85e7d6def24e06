"""Read a coded clip off the pictures of a capture, beside the looker that watches for states."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np

from soak.measure.coded_picture import Image, read
from soak.measure.coded_run import CodedRun, Told
from soak.records import Reading
from soak.roles import BlindLooker, Looker, Picture, Seen

SAY_EVERY_S = 1.0
FORGET_AFTER_S = 5.0
"""Unreadable for longer than this is a restart or a break that the picture check sees: the clip may
begin anew anywhere, so nothing between is counted as lost."""
COUNTED = ("came", "lost", "stuttered", "out_of_order", "unread")


@dataclass(slots=True)
class CodedLooker:
    """Say once a second what came of the clip since the last time.

    Parameters
    ----------
    frames : int
        Frames in the clip.
    """

    frames: int
    _run: CodedRun | None = None
    _said: Told = field(default_factory=Told)
    _said_s: float = -1e9
    _read_s: float = -1e9

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
        run.take(seen)
        if picture.t_s - self._said_s < SAY_EVERY_S:
            return ()
        return self._say(picture.t_s, run.told())

    def idle(self, t_s: float) -> Sequence[Seen]:
        """Say nothing: a stalled stream is the other looker's."""
        return ()

    def blind(self, t_s: float, why: str) -> Sequence[Seen]:
        """Forget where the clip was: what passed while blind is not lost."""
        if self._run is not None:
            self._run.forget()
        return ()

    def _say(self, t_s: float, told: Told) -> list[Seen]:
        before, self._said, self._said_s = self._said, told, t_s
        found: list[Seen] = [
            Reading(t_s, f"clip.{name}", float(getattr(told, name) - getattr(before, name)))
            for name in COUNTED
        ]
        return [*found, Reading(t_s, "clip.colour_error", max(told.colour_error))]


@dataclass(slots=True)
class Both:
    """Two lookers at one stream."""

    one: Looker
    other: Looker

    def look(self, picture: Picture) -> Sequence[Seen]:
        """Let both look."""
        return [*self.one.look(picture), *self.other.look(picture)]

    def idle(self, t_s: float) -> Sequence[Seen]:
        """Tell both."""
        return [*self.one.idle(t_s), *self.other.idle(t_s)]

    def blind(self, t_s: float, why: str) -> Sequence[Seen]:
        """Tell both that can be told."""
        able = [one for one in (self.one, self.other) if isinstance(one, BlindLooker)]
        return [seen for looker in able for seen in looker.blind(t_s, why)]


def decoded(picture: Picture) -> Image | None:
    """Return a picture as blue, green, red; half size where it came as a big JPEG."""
    data = np.frombuffer(picture.data, np.uint8)
    width, height = picture.size
    if picture.form == "mjpeg":
        how = cv2.IMREAD_REDUCED_COLOR_2 if width >= 1280 else cv2.IMREAD_COLOR
        found = cv2.imdecode(data, how)
    elif picture.form == "yuyv":
        if data.size != width * height * 2:
            return None
        found = cv2.cvtColor(data.reshape(height, width, 2), cv2.COLOR_YUV2BGR_YUYV)
    else:
        if data.size != width * height * 3:
            return None
        found = data.reshape(height, width, 3)
    return None if found is None else np.asarray(found, np.uint8)
