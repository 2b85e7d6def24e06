"""What is plugged in, and the TOML to paste."""

from pathlib import Path

import pytest

from soak.bench.find import find_hwmon, find_serial
from soak.bench.fixture import read_fixture
from soak.bench.serial.names import Adapter

RELAY = Adapter("/dev/ttyUSB0", "1a86:7523", "", "1-1.1", "USB Serial")
TWIN = Adapter("/dev/ttyUSB1", "1a86:7523", "", "1-1.2", "USB Serial")
METER = Adapter("/dev/ttyACM0", "2341:0043", 'A"5', "1-2", "Meter")


@pytest.mark.parametrize("adapter", [RELAY, METER, Adapter("/dev/ttyS0")])
def test_what_is_offered_can_be_pasted(adapter: Adapter, tmp_path: Path) -> None:
    """The TOML of a found port is a valid fixture that names this port."""
    found = find_serial([adapter])[0]
    file = tmp_path / "fixture.toml"
    file.write_text(f'name = "bench"\n{found.switch_toml}\n{found.probe_toml}')
    with pytest.raises(Exception, match=r"which switch takes too"):
        read_fixture(file)
    for entry in (found.switch_toml, found.probe_toml):
        file.write_text(f'name = "bench"\n{entry}')
        port = next(iter(read_fixture(file).entries()))[2].claims()[0].port
        assert port == adapter.best_name


def test_twins_without_a_serial_number_are_named_by_path_with_a_warning() -> None:
    """Two adapters that call themselves alike are not named by what they share."""
    found = find_serial([RELAY, TWIN])
    assert [port.name for port in found] == ["/dev/ttyUSB0", "/dev/ttyUSB1"]
    assert all("may swap" in port.note for port in found)


def test_a_thermometer_is_named_by_its_device_and_can_be_pasted(tmp_path: Path) -> None:
    """The number that changes from boot to boot is a star, and the value is in degC."""
    chip = tmp_path / "devices" / "usb1" / "hwmon" / "hwmon3"
    chip.mkdir(parents=True)
    (chip / "name").write_text("thermo\n")
    (chip / "temp1_label").write_text("outside\n")
    (chip / "temp1_input").write_text("23500\n")
    root = tmp_path / "class"
    root.mkdir()
    (root / "hwmon3").symlink_to(chip)
    found = find_hwmon(root)[0]
    assert found.description == "thermo outside"
    assert found.file == str(chip.parent / "*" / "temp1_input")
    file = tmp_path / "fixture.toml"
    file.write_text(f'name = "bench"\n{found.toml}')
    assert read_fixture(file).probes["ambient"].spot == "ambient"


def test_a_thermometer_that_cannot_be_read_is_listed(tmp_path: Path) -> None:
    """A chip that gives nothing now is still found."""
    chip = tmp_path / "hwmon0"
    chip.mkdir()
    (chip / "temp1_input").write_text("")
    assert len(find_hwmon(tmp_path)) == 1


def test_no_thermometers_are_found_where_the_system_has_none(tmp_path: Path) -> None:
    """A system without hwmon gives an empty list."""
    assert find_hwmon(tmp_path / "none") == []
