"""The real program with relays and a presser on ports of their own: pressed off, then cut."""

import time
from pathlib import Path

import pytest
from guarded_bench import GuardedBench
from patience import LIMIT_S
from serial_peer import SerialPeer, line_by_line

BUTTON = """
[button]
driver = "serial_press"
port = "{port}"
press = "PRESS"
release = "RELEASE"
press_answer = "OK"
release_answer = "OK"
settle_s = 0.05
answer_s = 20
"""
SHEET = """
[button]
stops = true
stop_limit_s = "1 s"
stop_held_s = 0.2
stays_off = {stays_off}
start_after_s = 0.1
"""


class Presser:
    """What presses: keeps what it was told, and when."""

    def __init__(self) -> None:
        self.told: list[tuple[float, str]] = []

    def answer(self, line: bytes) -> bytes:
        """Obey and remember."""
        self.told.append((time.monotonic(), line.decode().strip()))
        return b"OK\r\n"

    def presses(self) -> list[float]:
        """Return when it pressed."""
        return [t_s for t_s, word in self.told if word == "PRESS"]


@pytest.mark.parametrize("stays_off", [False, True])
def test_the_last_cut_comes_after_the_press_and_a_start_is_pressed(tmp_path: Path, stays_off):
    """Two adapters, two processes: on, pressed on where it stays off, pressed off, off."""
    presser = Presser()
    with (
        GuardedBench(tmp_path) as bench,
        SerialPeer(tmp_path / "button-port", line_by_line(presser.answer)) as peer,
    ):
        with (tmp_path / "fixtures" / "f1.toml").open("a") as fixture:
            fixture.write(BUTTON.format(port=peer.link))
        with (tmp_path / "fixtures" / "models" / "sp.toml").open("a") as sheet:
            sheet.write(SHEET.format(stays_off=str(stays_off).lower()))
        script = tmp_path / "scripts" / "long.toml"
        script.write_text(script.read_text().replace('"1 h"', '"2 s"'))
        runner = bench.run()
        runner.wait(LIMIT_S)
        ons = [t_s for t_s, _, on in bench.relays.told if on]
        offs = [t_s for t_s, _, on in bench.relays.told if not on]
        assert presser.told[0][1] == presser.told[-1][1] == "RELEASE"
        assert len(presser.presses()) == 1 + stays_off
        assert presser.presses()[-1] < offs[-1]
        if stays_off:
            assert presser.presses()[0] > ons[0]
        assert not bench.relays.is_on()
