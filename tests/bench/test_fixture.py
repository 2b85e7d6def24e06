"""Fixture files: what is accepted, and each mistake as one sentence."""

import contextlib
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import ClassVar, Literal, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soak.bench.fixture import check_claims, read_fixture
from soak.bench.model_sheet import read_model_sheet
from soak.bench.registry import Tools, driver
from soak.errors import FixtureError
from soak.frozen.fixture import Fixture
from soak.frozen.sheet import ModelSheet
from soak.frozen.wiring import CaptureWired, ProbeWired
from soak.instruments import Instruments
from soak.roles import Probe

SHEET = ModelSheet.model_validate(
    {
        "model": "Ferrow SP-40",
        "picture_when_on": "moving",
        "start_s": 20,
        "functions": {},
        "ports": {
            "hdmi": {"text": "video output", "kind": "video"},
            "service": {"text": "service port", "kind": "usb"},
        },
        "spots": {"heatsink": {"text": "heatsink"}, "outside": {"text": "top of the case"}},
    }
)


class SimulatedProbe(ProbeWired):
    driver: Literal["simulated"]


class SimulatedCapture(CaptureWired):
    driver: Literal["simulated"]


@driver("probe", "simulated", SimulatedProbe)
async def open_simulated(name: str, wired: SimulatedProbe, tools: Tools) -> Probe:
    """Never opened here."""
    raise AssertionError


@driver("capture", "simulated", SimulatedCapture)
async def open_simulated_capture(name: str, wired: SimulatedCapture, tools: Tools) -> Probe:
    """Never opened here."""
    raise AssertionError


EXTRA = {
    ("probe", "simulated"): open_simulated,
    ("capture", "simulated"): open_simulated_capture,
}

GOOD = r"""
name = "left jig"
[switch]
driver = "modbus_rtu"
port = "1a86:7523"
channel = "2"
[probe.heatsink]
driver = "serial_lines"
port = "/dev/ttyACM0"
pattern = '(\d+\.\d\d)'
spot = "heatsink"
accuracy = 0.5
silent_after_s = "20 s"
[probe.air]
driver = "number_file"
file = "/sys/class/hwmon/hwmon1/temp1_input"
scale = 0.001
spot = "ambient"
"""


def read(tmp_path: Path, text: str, sheet: ModelSheet | None = SHEET) -> Fixture:
    """Read a fixture with this text."""
    file = tmp_path / "jig.toml"
    file.write_text(text)
    return read_fixture(file, sheet, EXTRA)


def test_a_good_fixture_is_read_whole(tmp_path: Path) -> None:
    """Every entry stands where the file puts it, with the driver's defaults."""
    fixture = read(tmp_path, GOOD)
    assert [(name, wired.driver) for name, _, wired in fixture.entries()] == [
        ("switch", "modbus_rtu"),
        ("probe.heatsink", "serial_lines"),
        ("probe.air", "number_file"),
    ]
    assert fixture.probes["heatsink"].silent_after_s == 20.0


def test_the_header_holds_settings_and_identities(tmp_path: Path) -> None:
    """What is not wired is absent; an opened instrument says what it is."""

    class Meter:
        identity: ClassVar = {"port": "/dev/ttyACM0"}

    fixture = read(tmp_path, GOOD)
    opened = Instruments(probes={"probe.heatsink": cast(Probe, Meter())})
    data = fixture.opened(opened.identities()).as_json()
    assert set(data) == {"name", "file", "simulated", "switch", "probe"}
    assert data["probe"]["heatsink"]["identity"] == {"port": "/dev/ttyACM0"}
    assert data["probe"]["heatsink"]["accuracy"] == 0.5
    assert data["switch"]["identity"] == {}


MISTAKES = {
    "half a file": ('name = "x"\n[switch', "", "is not valid TOML"),
    "no name": ('[switch]\ndriver = "by_hand"', "name", "is missing"),
    "no instrument": ('name = "x"', "", "wires no instrument"),
    "unknown table": (
        'name = "x"\n[swich]\ndriver = "by_hand"',
        "swich",
        "did you mean switch?",
    ),
    "no driver": (
        'name = "x"\n[switch]\nport = "COM3"',
        "switch.driver",
        "by_hand, hub_port, modbus_rtu",
    ),
    "unknown driver": (
        'name = "x"\n[switch]\ndriver = "modbus"',
        "switch.driver",
        "did you mean modbus_rtu?",
    ),
    "driver of another role": (
        'name = "x"\n[probe.air]\ndriver = "modbus_rtu"\nspot = "ambient"',
        "probe.air.driver",
        'there is no probe driver "modbus_rtu"',
    ),
    "driver that is a number": ('name = "x"\n[switch]\ndriver = 5', "switch.driver", "no switch"),
    "unknown key": (
        'name = "x"\n[probe.air]\ndriver = "number_file"\nfile = "/x"\nscal = 1\nspot = "ambient"',
        "probe.air.scal",
        "did you mean scale?",
    ),
    "wrong type": (
        'name = "x"\n[switch]\ndriver = "modbus_rtu"\nport = "COM3"\nbaud = "9600"',
        "switch.baud",
        "write a whole number from 50 to 4000000",
    ),
    "impossible value": (
        'name = "x"\n[switch]\ndriver = "modbus_rtu"\nport = "COM3"\ndevice = 300',
        "switch.device",
        "whole number from 1 to 247",
    ),
    "coil that is a name": (
        'name = "x"\n[switch]\ndriver = "modbus_rtu"\nport = "COM3"\nchannel = "left"',
        "switch.channel",
        "number of a coil",
    ),
    "pattern without a number": (
        'name = "x"\n[probe.air]\ndriver = "serial_lines"\nport = "COM3"\npattern = "T="\n'
        'spot = "ambient"',
        "probe.air.pattern",
        "needs one group",
    ),
    "pattern that is none": (
        'name = "x"\n[probe.air]\ndriver = "serial_lines"\nport = "COM3"\npattern = "("\n'
        'spot = "ambient"',
        "probe.air.pattern",
        "no regular expression",
    ),
    "swapped units": (
        'name = "x"\n[probe.air]\ndriver = "serial_lines"\nport = "COM3"\nunit = "V"\n'
        'pattern = "(.)"\ninstrument_unit = "degF"',
        "probe.air",
        "degF is not a kind of unit V",
    ),
    "a switch that only toggles": (
        'name = "x"\n[switch]\ndriver = "serial_text"\nport = "COM3"\non = "T"\noff = "T"',
        "switch",
        "on and off are the same",
    ),
    "an answer that never ends": (
        'name = "x"\n[switch]\ndriver = "serial_text"\nport = "COM3"\non = "1"\noff = "0"\n'
        'on_answer = "OK"\nline_end = ""',
        "switch",
        "give line_end",
    ),
    "a table where a word belongs": ('name = "x"\nswitch = 3', "switch", "write a table"),
    "a probe without a name": (
        'name = "x"\n[probe]\ndriver = "by_hand"',
        "probe.driver",
        "write a table",
    ),
    "a spot the model has not": (
        'name = "x"\n[probe.a]\ndriver = "number_file"\nfile = "/x"\nspot = "heatsnk"',
        "probe.a.spot",
        "did you mean heatsink?",
    ),
    "no spot": (
        'name = "x"\n[probe.a]\ndriver = "number_file"\nfile = "/x"',
        "probe.a.spot",
        "is missing",
    ),
    "a real instrument in a simulated fixture": (
        'name = "x"\nsimulated = "good"\n[switch]\ndriver = "by_hand"',
        "switch.driver",
        "real instrument in a simulated fixture",
    ),
    "a simulated instrument without a scene": (
        'name = "x"\n[probe.a]\ndriver = "simulated"\nspot = "ambient"',
        "simulated",
        "name the scene",
    ),
    "a port of another kind": (
        'name = "x"\nsimulated = "good"\n[capture]\ndriver = "simulated"\nport = "service"',
        "capture.port",
        "is a usb port in the model sheet of Ferrow SP-40; its video ports: hdmi",
    ),
    "a port the model has not": (
        'name = "x"\nsimulated = "good"\n[capture]\ndriver = "simulated"\nport = "hdm"',
        "capture.port",
        "did you mean hdmi?",
    ),
    "one port twice": (
        'name = "x"\n[switch]\ndriver = "by_hand"\n'
        '[probe.a]\ndriver = "serial_lines"\nport = "COM3"\nspot = "ambient"\n'
        'pattern = "(.)"\n[probe.b]\ndriver = "scpi_meter"\nport = "com3"\nspot = "heatsink"',
        "probe.b",
        "which probe.a takes too",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_told_with_its_key_and_what_to_do(mistake: str, tmp_path: Path) -> None:
    """File, key path and the nearest valid word, in one line."""
    text, key, what = MISTAKES[mistake]
    with pytest.raises(FixtureError) as fault:
        read(tmp_path, text)
    assert (fault.value.file, fault.value.key) == (str(tmp_path / "jig.toml"), key)
    assert what in str(fault.value)
    assert "\n" not in str(fault.value).removeprefix(str(tmp_path))


@given(st.data())
def test_a_damaged_fixture_is_a_fixture_error_and_nothing_else(data: st.DataObject) -> None:
    """Whatever a slip of the hand makes of a file, it is read or told in one way."""
    at = data.draw(st.integers(0, len(GOOD)))
    cut = data.draw(st.integers(0, 12))
    put = data.draw(st.text("= [].\"'\n0-a{}\\\x00\ud7ff", max_size=6))
    with TemporaryDirectory() as folder, contextlib.suppress(FixtureError):
        assert list(read(Path(folder), GOOD[:at] + put + GOOD[at + cut :]).entries())


def test_the_same_channel_in_two_fixtures_of_a_run_is_refused_with_both(tmp_path: Path) -> None:
    """Two units on one relay would be switched together."""
    one, two = tmp_path / "one.toml", tmp_path / "two.toml"
    one.write_text(GOOD)
    two.write_text(GOOD.replace("/dev/ttyACM0", "/dev/ttyACM1"))
    with pytest.raises(FixtureError, match=r"two.toml: switch: .*coil 2.*switch of .*one.toml"):
        check_claims([read_fixture(one), read_fixture(two)])


def test_two_channels_of_one_board_serve_two_fixtures(tmp_path: Path) -> None:
    """A relay board with several channels may be shared."""
    one, two = tmp_path / "one.toml", tmp_path / "two.toml"
    one.write_text(GOOD)
    other = GOOD.replace("/dev/ttyACM0", "/dev/ttyACM1").replace('channel = "2"', 'channel = "3"')
    two.write_text(other)
    check_claims([read_fixture(one), read_fixture(two)])


EXAMPLES = Path(__file__).parents[2] / "fixtures"


@pytest.mark.parametrize("file", sorted(EXAMPLES.glob("*.toml")), ids=lambda file: file.stem)
def test_an_example_fixture_fits_the_example_model(file: Path) -> None:
    """Every fixture that ships can be read with the model sheet that ships."""
    sheet = read_model_sheet(EXAMPLES / "models" / "ferrow-sp-40.toml")
    assert list(read_fixture(file, sheet).entries())
