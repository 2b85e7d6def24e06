"""Write a coded clip: what the video library at hand can encode."""

from collections.abc import Iterator
from pathlib import Path

import cv2

from soak.errors import UsageError
from soak.measure.video.coded_picture import Image, draw
from soak.words import joined, msg

_FOURCC = {".avi": "MJPG", ".mp4": "mp4v", ".mkv": "MJPG"}


def write_clip(
    path: Path, clip: int, size: tuple[int, int], rate_hz: float, frames: int, encoder: str
) -> None:
    """Write a clip of so many coded pictures.

    Parameters
    ----------
    encoder : str
        `h264` (needs the extra `soak[clip]`), or `plain`: what OpenCV writes.

    Raises
    ------
    UsageError
        If the ending is unknown, the encoder is not there, or the file cannot be written.
    """
    pictures = (draw(number, clip, size, frames) for number in range(frames))
    try:
        if encoder == "h264":
            _write_h264(path, pictures, size, rate_hz)
        else:
            _write_plain(path, pictures, size, rate_hz)
    except OSError as fault:
        raise UsageError(
            msg("{path}: cannot be written: {why}", path=str(path), why=str(fault.strerror))
        ) from None


def _write_plain(
    path: Path, pictures: Iterator[Image], size: tuple[int, int], rate_hz: float
) -> None:
    fourcc = _FOURCC.get(path.suffix.lower())
    if fourcc is None:
        raise UsageError(
            msg(
                "{path}: give it one of the endings {fourcc}",
                path=str(path),
                fourcc=joined(", ", _FOURCC),
            )
        )
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*fourcc), rate_hz, size)
    if not writer.isOpened():
        raise UsageError(
            msg("{path}: cannot be written; is the folder there and writable?", path=str(path))
        )
    try:
        for picture in pictures:
            writer.write(picture)
    finally:
        writer.release()


def _write_h264(
    path: Path, pictures: Iterator[Image], size: tuple[int, int], rate_hz: float
) -> None:
    try:
        import av
    except ImportError:
        raise UsageError(
            msg("H.264 needs the extra: pip install 'soak[clip]'; or use --encoder plain")
        ) from None
    from fractions import Fraction

    with av.open(str(path), "w") as container:
        rate = Fraction(rate_hz).limit_denominator(1001)
        stream = container.add_stream("libx264", rate=rate)
        stream.width = size[0]
        stream.height = size[1]
        stream.pix_fmt = "yuv420p"
        for picture in pictures:
            for packet in stream.encode(av.VideoFrame.from_ndarray(picture, format="bgr24")):
                container.mux(packet)
        for packet in stream.encode():
            container.mux(packet)
