"""A unit that is played by the test: a real clip over HTTP that follows a relay.

While its relay is off the picture is black; so long after on it plays. The address goes into a
fixture as the capture's `source`.
"""

import http.server
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import cv2
from faulty_clips import black_like, clip_frames, there_and_back
from soak_process import Relay

STARTS_AFTER_S = 0.5
FRAME_S = 0.04


class PlayedUnit:
    """Serve Motion JPEG to whoever asks; the picture depends on the relay."""

    def __init__(self, relay: Relay) -> None:
        self._relay, self._on_since_s = relay, -1.0
        real = there_and_back(clip_frames("bigbuckbunny.mp4", rows=180, most=60), 118)
        self._moving = [_jpeg(frame) for frame in real]
        self._black = _jpeg(black_like(real[0], luma=2))
        self._server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self.address = f"http://127.0.0.1:{self._server.server_port}/"

    def frame(self, number: int) -> bytes:
        """Return what the video output shows now."""
        now_s = time.monotonic()
        if not self._relay.is_on:
            self._on_since_s = -1.0
        elif self._on_since_s < 0:
            self._on_since_s = now_s
        up = self._relay.is_on and now_s - self._on_since_s >= STARTS_AFTER_S
        return self._moving[number % len(self._moving)] if up else self._black

    def serve(self) -> None:
        """Serve until `close`."""
        self._server.serve_forever(poll_interval=0.1)

    def close(self) -> None:
        """End serving."""
        self._server.shutdown()
        self._server.server_close()

    def _handler(self) -> type[http.server.BaseHTTPRequestHandler]:
        unit = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def log_message(self, *_: object) -> None:
                pass

            def do_GET(self) -> None:
                self.send_response(200)
                self.send_header("Content-Type", "multipart/x-mixed-replace; boundary=frame")
                self.end_headers()
                begun_s, number = time.monotonic(), 0
                try:
                    while True:
                        data = unit.frame(number)
                        head = f"--frame\r\nContent-Length: {len(data)}\r\n"
                        self.wfile.write(head.encode() + b"Content-Type: image/jpeg\r\n\r\n")
                        self.wfile.write(data + b"\r\n")
                        number += 1
                        time.sleep(max(0.0, begun_s + number * FRAME_S - time.monotonic()))
                except OSError:
                    return  # whoever asked has gone

        return Handler


@contextmanager
def played_unit(
    relay: Relay, make: Callable[[Relay], PlayedUnit] = PlayedUnit
) -> Iterator[PlayedUnit]:
    """Play a unit on a relay."""
    unit = make(relay)
    thread = threading.Thread(target=unit.serve)
    thread.start()
    try:
        yield unit
    finally:
        unit.close()
        thread.join()


def _jpeg(frame: object) -> bytes:
    return bytes(cv2.imencode(".jpg", frame)[1])
