"""What a capture's child process and its parent tell each other."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Literal

from soak.bench.capture.video_stream import Asked, Stream
from soak.records import Json
from soak.roles import Seen
from soak.words import NOTHING_SAID, Message

BATCH_S = 0.25
"""What was seen is told so often, s; a word without anything new is the heartbeat. Our own
choice."""
FIRST_PAUSE_S, LONGEST_PAUSE_S = 0.5, 30.0
"""Pauses between attempts to open a lost card again, s; each doubles the one before. Our own
choice."""
WELL_AFTER_S = 5.0
"""A card that has delivered for so long is well again: the next pause is the first, s. Our own
choice."""


@dataclass(frozen=True, slots=True)
class Job:
    """What a child is to capture; it pickles.

    Attributes
    ----------
    name : str
        The capture's source.
    asked : Asked
        What to open.
    opener : callable
        Opens it; importable by name.
    boot_s_at_zero : float
        Boot clock at soak time 0, s: the boot clock is one for all processes.
    is_file, paced, again : bool
        Whether it is a file, keeps to its own times, and begins anew after its end.
    silent_limit_s : float
        Without a picture for so long it is closed and opened again, s.
    """

    name: str
    asked: Asked
    opener: Callable[[Asked], Stream]
    boot_s_at_zero: float
    is_file: bool
    paced: bool
    again: bool
    silent_limit_s: float


Kind = Literal["opened", "cannot open", "seen", "busy", "ended", "broke", "gone"]


@dataclass(slots=True)
class Word:
    """What a child tells.

    Attributes
    ----------
    kind : str
        `"opened"`: the source is open (`identity`); `"cannot open"`: it is not (`why`); `"seen"`:
        what the watcher said, often nothing; `"busy"`: up, and about to open or close the source,
        which may take its time; `"ended"`: the file is at its end; `"broke"`: the watcher or the
        driver raised (`why`); `"gone"`: no child any more (`why`), said by the parent's end.
    seen : list of Seen
        In order of time; evidence comes with its bytes.
    last_s : float
        When the last picture came, s of soak time.
    dropped : int
        Evidence frames and readings dropped since the child began, for want of a reader.
    """

    kind: Kind
    seen: list[Seen] = field(default_factory=list)
    last_s: float = 0.0
    why: Message = NOTHING_SAID
    identity: Json = field(default_factory=dict)
    dropped: int = 0


Order = tuple[Literal["path", "job", "watcher"], Any]
"""What a child is told: where to import from, its `Job`, a watcher; no more: the end of the pipe
is the end of the child."""
