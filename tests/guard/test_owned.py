"""What the guard's process opens, and that settings survive the way there."""

from pathlib import Path

import pytest

from soak.bench.fixture import read_fixture
from soak.errors import BenchFault
from soak.run.guard.owned import as_order, from_order, owned, without

RELAY = """
name = "x"
[switch]
driver = "serial_text"
port = "1a86:7523"
on = "ON"
off = "OFF"
"""
SUPPLY = """
name = "x"
[switch]
driver = "scpi_supply"
port = "0403:6001/S1"
[probe.current]
driver = "scpi_supply"
port = "0403:6001/S1"
unit = "A"
[probe.room]
driver = "number_file"
file = "/sys/room"
spot = "ambient"
"""
GUARDING = """
[probe.heatsink]
driver = "scpi_meter"
port = "0403:6001/METER1"
spot = "heatsink"
guards = true
[probe.room]
driver = "number_file"
file = "/sys/room"
spot = "ambient"
"""
BY_HAND = """
name = "x"
[switch]
driver = "by_hand"
[probe.heatsink]
driver = "number_file"
file = "/sys/hot"
spot = "heatsink"
guards = true
"""
ASKED = """
[probe.heatsink]
driver = "by_hand"
text = "the thermometer"
spot = "heatsink"
guards = true
"""


def fixture(tmp_path: Path, text: str):
    path = tmp_path / "f.toml"
    path.write_text(text)
    return read_fixture(path)


@pytest.mark.parametrize(
    ("text", "sources"),
    [
        (RELAY, ["switch"]),
        (RELAY + GUARDING, ["switch", "probe.heatsink"]),
        (SUPPLY, ["switch", "probe.current"]),
        (BY_HAND, []),
        (RELAY + ASKED, ["switch"]),
    ],
    ids=["relay", "guarding probe", "supply that is both", "operator switches", "operator reads"],
)
def test_the_guard_owns_the_switch_what_guards_and_what_shares_a_port(tmp_path, text, sources):
    """Nothing else, and nothing that needs the operator."""
    found = fixture(tmp_path, text)
    assert list(owned(found)) == sources
    left = [source for source, _, _ in without(found, sources).entries()]
    assert sorted([*sources, *left]) == sorted(source for source, _, _ in found.entries())


@pytest.mark.parametrize("text", [RELAY + GUARDING, SUPPLY])
def test_settings_arrive_as_they_were(tmp_path, text):
    """The guard opens with the settings the fixture file gave."""
    found = fixture(tmp_path, text)
    wired = {source: entry for source, _, entry in found.entries() if source in owned(found)}
    arrived = from_order(as_order(found, owned(found)))
    assert {source: entry for source, (_, entry) in arrived.items()} == wired


def test_settings_of_an_unknown_driver_are_refused_by_name(tmp_path):
    """A guard of another version says which instrument it does not know."""
    with pytest.raises(BenchFault, match=r"probe\.x: .*does not know"):
        from_order({"probe.x": {"role": "probe", "settings": {"driver": "from another world"}}})
