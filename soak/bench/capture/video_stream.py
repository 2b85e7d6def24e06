"""Pictures from a camera, a file or an address through OpenCV: the one wrapper of its capture.

Everything here blocks; the capture driver calls it off the loop.
"""

import os
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from soak.bench import nature
from soak.bench.capture.video_device import card_key, device_name, no_signal, node_of, stable_path
from soak.natures import Nature
from soak.outside import opened
from soak.records import Json
from soak.roles import Picture
from soak.words import msg

Kind = Literal["device", "file", "address"]

_MJPG = cv2.VideoWriter.fourcc(*"MJPG")
_YUYV = cv2.VideoWriter.fourcc(*"YUYV")
_CLOSE_LIMIT_S = 1.0
"""A read that is under way has so long to end before the stream is closed, s. Our own choice."""
_EARLIEST_S, _OLDEST_S = 0.1, 1.0
"""A driver's timestamp is believed if it lies between these, before and after the arrival. Our own
choice."""


class CannotOpen(OSError):
    """Report a source that cannot be opened: one sentence, what, where, what to do."""


@dataclass(frozen=True, slots=True)
class Frame:
    """One picture as read.

    Attributes
    ----------
    stamp_s : float or None
        The time within a file or stream, s.
    age_s : float or None
        How long ago a device's driver says that it was taken, s.
    """

    form: Literal["mjpeg", "yuyv", "bgr"]
    size: tuple[int, int]
    data: NDArray[np.uint8]
    stamp_s: float | None = None
    age_s: float | None = None

    def picture(self, t_s: float, number: int | None = None) -> Picture:
        """Return it as a watcher takes it, at soak time `t_s`."""
        flat = np.ascontiguousarray(self.data).data.cast("B")
        return Picture(t_s, number, self.form, size=self.size, data=flat)


class Stream(Protocol):
    """What the capture driver reads from."""

    @property
    def identity(self) -> Json:
        """What was opened, what was asked of it and what came."""
        ...

    def read(self) -> Frame | None:
        """Return the next picture; None if none came."""
        ...

    def close(self) -> None:
        """Let go; twice is safe."""
        ...


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of a source.

    Attributes
    ----------
    source : str
        A number or path of a device, a file, or an address with `://`.
    size : (int, int) or None
        Width and height in pixels.
    rate_hz : float or None
        Pictures a second.
    open_limit_s, read_limit_s : float
        After so long opening or reading gives up.
    """

    source: str
    size: tuple[int, int] | None = None
    rate_hz: float | None = None
    open_limit_s: float = 10.0
    read_limit_s: float = 2.0


def kind_of_source(source: str) -> Kind:
    """Tell a device (a number, or a path under `/dev`) from a file and from an address."""
    if "://" in source:
        return "address"
    return "device" if source.isdigit() or source.startswith("/dev/") else "file"


def open_stream(asked: Asked) -> "OpenCvStream":
    """Open a source.

    Raises
    ------
    CannotOpen
        If it is not there, may not be read, or OpenCV finds no video in it.
    """
    # OpenCV and its ffmpeg speak to the terminal, past everything; what matters is said here.
    os.environ.setdefault("OPENCV_FFMPEG_LOGLEVEL", "-8")
    os.environ["OPENCV_VIDEOIO_V4L_SELECT_TIMEOUT"] = str(max(1, round(asked.read_limit_s)))
    logging: Any = cv2.utils.logging
    logging.setLogLevel(logging.LOG_LEVEL_SILENT)
    kind = kind_of_source(asked.source)
    if kind == "device":
        return _open_device(asked)
    if kind == "file":
        check_file(asked.source)
    limits = [
        *(cv2.CAP_PROP_OPEN_TIMEOUT_MSEC, round(asked.open_limit_s * 1000)),
        *(cv2.CAP_PROP_READ_TIMEOUT_MSEC, round(asked.read_limit_s * 1000)),
    ]
    capture = cv2.VideoCapture(asked.source, cv2.CAP_FFMPEG, limits)
    if not capture.isOpened():
        capture.release()
        if kind == "file":
            raise CannotOpen(
                msg("{source} is no video that can be read; give a video file", source=asked.source)
            )
        raise CannotOpen(
            msg("{source} does not answer; check address and network", source=asked.source)
        )
    if _code(capture) == _MJPG:
        capture.set(cv2.CAP_PROP_FORMAT, -1)  # hand out packets as they are, without decoding
    return OpenCvStream(capture, asked, kind, asked.source)


def check_file(source: str) -> None:
    """Check that a video file is there and may be read.

    Raises
    ------
    CannotOpen
        If not.
    """
    path = Path(source)
    try:
        opened(path).close()
    except FileNotFoundError:
        raise CannotOpen(msg("there is no file {source}; check the name", source=source)) from None
    except PermissionError:
        raise CannotOpen(
            msg("no permission to read {source}; change its mode or owner", source=source)
        ) from None
    except OSError as fault:
        raise CannotOpen(
            msg("{file}: cannot be read: {why}", file=source, why=str(fault.strerror))
        ) from None


def _open_device(asked: Asked) -> "OpenCvStream":
    node = node_of(asked.source)
    if sys.platform != "linux" and asked.source.isdigit():
        capture = cv2.VideoCapture(int(asked.source))
    else:
        if not node:
            raise CannotOpen(
                msg(
                    "there is no camera {source}; plug it in or run `soak find`",
                    source=asked.source,
                )
            )
        if not os.access(node, os.R_OK | os.W_OK):
            raise CannotOpen(
                msg(
                    "no permission to open {node}; `soak trouble` says what lets you",
                    node=node,
                )
            )
        capture = cv2.VideoCapture(node, cv2.CAP_V4L2)
    if not capture.isOpened():
        capture.release()
        raise CannotOpen(
            msg(
                "{source} cannot be opened as a camera; another program may be using it",
                source=asked.source,
            )
        )
    # Unasked, OpenCV takes YUYV 640 x 480 at a few pictures a second.
    if not capture.set(cv2.CAP_PROP_FOURCC, _MJPG) or _code(capture) != _MJPG:
        capture.set(cv2.CAP_PROP_FOURCC, _YUYV)  # raw, looked at without conversion
    if asked.size is not None:
        capture.set(cv2.CAP_PROP_FRAME_WIDTH, asked.size[0])
        capture.set(cv2.CAP_PROP_FRAME_HEIGHT, asked.size[1])
    if asked.rate_hz is not None:
        capture.set(cv2.CAP_PROP_FPS, asked.rate_hz)
    capture.set(cv2.CAP_PROP_CONVERT_RGB, 0 if _code(capture) in (_MJPG, _YUYV) else 1)
    return OpenCvStream(capture, asked, "device", node or asked.source)


def _nature(kind: Kind, opened: str) -> Nature:
    if kind == "device":
        return nature.of_node(opened, "video4linux")
    return Nature.RECORDING if kind == "file" else nature.of_address(opened)


def _code(capture: Any) -> int:
    return int(capture.get(cv2.CAP_PROP_FOURCC))


class OpenCvStream:
    """A source that OpenCV has opened."""

    def __init__(self, capture: Any, asked: Asked, kind: Kind, opened: str) -> None:
        self._capture = capture
        self._asked = asked
        self._kind = kind
        self._opened = opened
        self._turn = threading.Lock()
        self._open = True
        self._width = int(capture.get(cv2.CAP_PROP_FRAME_WIDTH))
        self._rows = int(capture.get(cv2.CAP_PROP_FRAME_HEIGHT))
        self._backend = str(capture.getBackendName())
        self._rate_hz = float(capture.get(cv2.CAP_PROP_FPS))
        code = _code(capture)
        self._fourcc = code.to_bytes(4, "little", signed=True).decode("ascii", "replace").strip()

    @property
    def identity(self) -> Json:
        identity: dict[str, Any] = {
            "source": self._asked.source,
            "opened": self._opened,
            "backend": self._backend,
            "fourcc": self._fourcc,
            "size": [self._width, self._rows],
            "rate_hz": round(self._rate_hz, 6),
        }
        identity["nature"] = _nature(self._kind, self._opened)
        if self._kind == "device":
            identity["stable"] = stable_path(self._opened)
            identity["name"] = device_name(self._opened)
            identity["card"] = card_key(self._opened)
        replaced = self.replaced()
        return {**identity, "replaced": replaced} if replaced else identity

    def replaced(self) -> str:
        """Return in words what was silently replaced by something else, '' if nothing was."""
        asked = self._asked.size
        came = (self._width, self._rows)
        parts = []
        if asked is not None and asked != came:
            parts.append(f"asked for {asked[0]} × {asked[1]}, got {came[0]} × {came[1]}")
        rate_hz = self._asked.rate_hz
        if rate_hz is not None and abs(rate_hz - self._rate_hz) > 0.01 * rate_hz:
            parts.append(f"asked for {rate_hz:g} pictures/s, got {self._rate_hz:g}")
        return "; ".join(parts)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels as the driver announces them."""
        return self._width, self._rows

    @property
    def rate_hz(self) -> float:
        """Pictures a second as the driver announces them; 0 where it does not."""
        return self._rate_hz

    def read(self) -> Frame | None:
        with self._turn:
            came, image = self._capture.read() if self._open else (False, None)
            times_s = self._times_s() if came else (None, None)
        if not came or image is None or not image.size:
            return None
        if image.ndim == 2 and image.shape[0] == 1:
            form: Literal["mjpeg", "yuyv", "bgr"] = "mjpeg"
            size = (self._width, self._rows)
        else:
            form = "yuyv" if image.ndim == 3 and image.shape[2] == 2 else "bgr"
            if image.ndim == 2:
                image = cv2.cvtColor(image, cv2.COLOR_GRAY2BGR)
            size = (image.shape[1], image.shape[0])
        return Frame(form, size, image, *times_s)

    def has_signal(self) -> bool:
        """Tell whether the driver says that its input has a signal; True where it does not tell."""
        return self._kind != "device" or not no_signal(self._opened)

    def _times_s(self) -> tuple[float | None, float | None]:
        """Return the time within a file and the age on arrival, s; None where not known."""
        stamp_s = float(self._capture.get(cv2.CAP_PROP_POS_MSEC)) / 1000
        if self._kind != "device":
            # A stream of bare JPEG pictures has no times: the reader makes some up, at 25 a second.
            has_times = self._kind == "file" or self._fourcc != "MJPG"
            return (stamp_s if has_times and stamp_s >= 0 else None), None
        # V4L2 stamps with the monotonic clock; some drivers stamp the coming edge of a frame.
        age_s = time.monotonic() - stamp_s
        return None, (age_s if -_EARLIEST_S <= age_s <= _OLDEST_S else None)

    def close(self) -> None:
        self._open = False
        # Releasing a capture under a read that hangs would crash; then it is left behind.
        if self._turn.acquire(timeout=_CLOSE_LIMIT_S):
            self._capture.release()
            self._turn.release()


def pictures_of(path: str) -> Iterator[Picture]:
    """Yield the pictures of a file or stream with their own times, s, as fast as they can be read.

    A stream that has no times of its own is timed by its arrival.

    Raises
    ------
    CannotOpen
        If it is not there or is no video.
    """
    stream = open_stream(Asked(path))
    last_s = -1.0
    number = 0
    is_live = kind_of_source(path) == "address"
    began_s = time.monotonic()
    period_s = 1 / stream.rate_hz if stream.rate_hz > 0 else 0.04
    try:
        while (frame := stream.read()) is not None:
            stamp_s = frame.stamp_s
            if stamp_s is None and is_live:
                stamp_s = time.monotonic() - began_s if number else 0.0
                began_s = began_s if number else time.monotonic()
            if stamp_s is None or stamp_s <= last_s:  # a container without times of its own
                stamp_s = last_s + period_s if number else 0.0
            yield frame.picture(stamp_s, number)
            last_s = stamp_s
            number = number + 1
    finally:
        stream.close()
