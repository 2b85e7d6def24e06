"""What holds for every driver that is registered, found without a list."""

import subprocess
import sys
from pathlib import Path
from typing import Any, get_args

import pytest
from bench_tools import open_driver, run_real
from dialogues import kinds, of_kind
from headers import fixture_of
from serial_peer import SerialPeer, line_by_line

from soak.bench.registry import ROLE_SETTINGS, Driver, Tools, drivers
from soak.bench.serial.port import SerialSettings
from soak.frozen.wiring import Wired
from soak.natures import NO_INSTRUMENT, Nature, nature_of
from soak.records import canonical_json

ALL = [pytest.param(found, id=f"{role} {kind}") for (role, kind), found in drivers().items()]
DRIVERS = Path(__file__).parents[2] / "soak" / "bench" / "drivers"

every_driver = pytest.mark.parametrize("found", ALL)


@every_driver
def test_the_kind_is_the_name_of_the_file(found: Driver) -> None:
    """Who reads a fixture knows where to look."""
    assert (DRIVERS / f"{found.kind}.py").is_file()
    assert found.open.__module__ == f"soak.bench.drivers.{found.kind}"
    assert found.settings.__module__ == f"soak.bench.drivers.{found.kind}"


@every_driver
def test_the_settings_are_the_roles_and_name_just_this_kind(found: Driver) -> None:
    """What the role says is said by this one too, and unknown keys are refused."""
    assert issubclass(found.settings, ROLE_SETTINGS[found.role])
    assert get_args(found.settings.model_fields["driver"].annotation) == (found.kind,)
    assert found.settings.model_config["extra"] == "forbid"
    assert found.settings.model_config["frozen"] is True


@every_driver
def test_the_opener_says_what_it_does(found: Driver) -> None:
    """The docstring is what a person reads first; it ends like a sentence."""
    assert (found.open.__doc__ or "").strip().splitlines()[0].endswith(".")
    assert (found.settings.__doc__ or "").strip()


@every_driver
def test_one_that_speaks_serial_has_a_dialogue_file(found: Driver) -> None:
    """Right answers, wrong answers, half lines and garbage are written down."""
    if issubclass(found.settings, SerialSettings):
        assert found.kind in kinds()


@every_driver
def test_one_that_takes_a_port_claims_it(found: Driver) -> None:
    """Two fixtures on one port and channel can be noticed before anything starts."""
    if issubclass(found.settings, SerialSettings):
        assert found.settings.claims is not Wired.claims


def test_finding_the_drivers_loads_no_heavy_library() -> None:
    """Reading a fixture stays quick: what a driver needs of the system is loaded when it opens."""
    program = (
        "import sys; from soak.bench.registry import drivers; drivers(); "
        "print([name for name in ('serial', 'usb', 'pandas', 'scipy') if name in sys.modules])"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert ran.stdout.strip() == "[]"


def answer(request: bytes) -> bytes:
    """Answer like a friendly SCPI instrument, so that any serial driver opens."""
    return b'0,"No error"\n' if request.endswith(b"?\n") else b""


OPENED_WITH: dict[tuple[str, str], dict[str, Any]] = {
    ("load", "serial_text"): {"on": "1", "off": "0", "current_a": 0.5},
    ("probe", "scpi_supply"): {"unit": "A"},
    ("button", "serial_press"): {"press": "1", "release": "0"},
    ("servo", "serial_servo"): {
        "at_port": "video",
        "move": "{position}",
        "rest": "0",
        "positions": {"left": "1"},
    },
}
"""Where a kind's dialogue file is of another role, or wants answers to what is told on opening."""


def smallest(found: Driver, tmp_path: Path, port: Path) -> dict[str, Any] | None:
    """Return the smallest settings with which the driver opens here; None if it cannot."""
    settings: dict[str, Any] = {"driver": found.kind}
    if issubclass(found.settings, SerialSettings):
        settings |= {"port": str(port), "settle_s": 0.0}
        given = OPENED_WITH.get((found.role, found.kind))
        settings |= of_kind(found.kind)["settings"] if given is None else given
        return settings
    more: dict[str, dict[str, Any]] = {
        "by_hand": {"text": "a plug"},
        "number_file": {"file": str(tmp_path / "number")},
        "folder": {"folder": str(tmp_path), "size": 1_000_000},
        "opencv": {"source": str(tmp_path / "clip.avi")},
    }
    return {**settings, **more[found.kind]} if found.kind in more else None


def small_clip(file: Path) -> None:
    """Write a short clip of grey pictures."""
    import cv2
    import numpy as np

    writer = cv2.VideoWriter(str(file), cv2.VideoWriter.fourcc(*"MJPG"), 30.0, (64, 48))
    for level in range(30):
        writer.write(np.full((48, 64, 3), 100 + level, np.uint8))
    writer.release()


@every_driver
def test_closing_twice_is_safe(found: Driver, tmp_path: Path) -> None:
    """It says what it is, is closed twice, and can be opened anew."""
    (tmp_path / "number").write_text("1\n")
    small_clip(tmp_path / "clip.avi")

    async def main(tools: Tools) -> None:
        with SerialPeer(tmp_path / "port", line_by_line(answer)) as peer:
            settings = smallest(found, tmp_path, peer.link)
            if settings is None:
                pytest.skip(
                    "cannot be opened without its instrument: its own tests must close it twice"
                )
            for _ in range(2):
                instrument = await open_driver("device", found.role, settings, tools)
                assert canonical_json(dict(instrument.identity)) != b"{}"
                # What the tests plug in is none, or a hand: each driver must have noticed.
                wired = {"capture": {"identity": dict(instrument.identity)}}
                told = nature_of(fixture_of(wired), "capture")
                assert told in NO_INSTRUMENT | {Nature.HAND}
                await instrument.aclose()
                await instrument.aclose()

    run_real(main)
