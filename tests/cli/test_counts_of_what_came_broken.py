"""`soak show` tells what the bench itself did: lines nobody could read, holes, clock steps.

A real soak of some seconds: relay and thermometer talk over pseudo terminals.
"""

import json
import threading

import pytest
from patience import LIMIT_S
from serial_peer import SerialPeer
from soak_process import RELAY, THERMOMETER, Relay, new_bench, started
from typed_bench import typed

SCRIPT = """\
name = "warm"
not_after = "5 min"
[[stretch]]
name = "run"
lasts = "6 s"
attended = true
[stretch.spots]
"""


@pytest.fixture(scope="module")
def garbled(tmp_path_factory):
    """Soak with a thermometer of which every fourth line comes garbled; return bench and count."""
    path = tmp_path_factory.mktemp("garbled")
    bench, over, said = path / "bench", threading.Event(), [0]
    with Relay(path / "relay") as relay, SerialPeer(path / "thermometer") as peer:
        new_bench(bench)
        wired = RELAY + THERMOMETER
        named = {"relay": relay.link, "thermometer": peer.link}
        (bench / "fixtures" / "left.toml").write_text('name = "left"\n' + wired.format(**named))
        (bench / "scripts").mkdir()
        (bench / "scripts" / "warm.toml").write_text(SCRIPT)

        def talk() -> None:
            number = 0
            while not over.wait(0.2):
                number += 1
                said[0] += number % 4 == 0
                peer.say(b"T=3#.5\n" if number % 4 == 0 else b"T=31.50\n")

        thread = threading.Thread(target=talk)
        thread.start()
        try:
            process = started(bench, "run", "warm", "--unit", "K1@left", "--may-sleep")
            _, err = process.communicate(timeout=LIMIT_S)
        finally:
            over.set()
            thread.join()
    return bench, said[0], err


def test_lines_that_nobody_could_read_are_counted(garbled):
    """How many, and the last of them as it came."""
    bench, said, err = garbled
    shown = typed("--bench", str(bench), "show", "last").out
    assert "could not be read" in shown, err
    assert "T=3#.5" in shown
    found = json.loads(typed("--bench", str(bench), "show", "last", "--json").out)
    assert 1 <= found["unread"]["probe.outside"] <= said
