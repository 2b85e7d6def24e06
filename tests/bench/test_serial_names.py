"""Naming serial adapters, and knowing them again."""

import contextlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soak.bench.serial.names import Adapter, again, named

ONE = Adapter("/dev/ttyUSB0", "0403:6001", "A1", "1-1")
TWO = Adapter("/dev/ttyUSB1", "0403:6001", "B2", "1-2")
PLAIN = Adapter("/dev/ttyUSB2", "1a86:7523", "", "1-3")
THERE = [ONE, TWO, PLAIN]
ONE_IS_NOW_TWO = Adapter("/dev/ttyUSB0", "0403:6001", "B2", "1-2")


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("/dev/ttyUSB1", TWO),
        ("0403:6001/B2", TWO),
        ("A1", ONE),
        ("1A86:7523", PLAIN),
    ],
)
def test_each_way_of_naming_finds_the_adapter(name: str, found: Adapter) -> None:
    """Path, VID:PID, VID:PID/SERIAL and serial number alone all work."""
    assert named(name, THERE) == found


def test_a_name_that_fits_two_is_refused_with_both() -> None:
    """Nobody guesses which of two adapters is meant."""
    with pytest.raises(LookupError, match=r"2 adapters .*ttyUSB0.*ttyUSB1"):
        named("0403:6001", THERE)


def test_a_name_that_fits_none_says_what_is_there() -> None:
    """The operator sees the names to choose from."""
    with pytest.raises(LookupError, match=r"no serial port C3 .* 0403:6001/A1 .*1a86:7523"):
        named("C3", THERE)


def test_a_link_is_followed_to_its_adapter(tmp_path: Path) -> None:
    """A link such as those under /dev/serial/by-id names the adapter behind it."""
    link = tmp_path / "by-id"
    link.symlink_to("/dev/ttyUSB1")
    assert named(str(link), [Adapter(str(link.resolve()), "0403:6001", "B2")]).serial_number == "B2"


def test_an_adapter_is_known_again_under_another_name() -> None:
    """After plugging in anew the names are swapped, the serial numbers are not."""
    swapped = [Adapter("/dev/ttyUSB1", "0403:6001", "A1", "1-1"), ONE_IS_NOW_TWO]
    assert again(ONE, "/dev/ttyUSB0", swapped).device == "/dev/ttyUSB1"


def test_another_adapter_that_took_the_path_is_not_taken_for_it() -> None:
    """A path is no identity: the wrong relay board must never be switched."""
    with pytest.raises(LookupError, match="0403:6001/A1 is not plugged in any more"):
        again(ONE, "/dev/ttyUSB0", [ONE_IS_NOW_TWO])


def test_an_adapter_without_a_serial_number_is_known_by_its_socket() -> None:
    """A twin in another socket is another adapter."""
    moved = Adapter("/dev/ttyUSB0", "1a86:7523", "", "1-3")
    twin = Adapter("/dev/ttyUSB2", "1a86:7523", "", "1-4")
    assert again(PLAIN, "/dev/ttyUSB2", [twin, moved]) == moved


@given(st.text(max_size=40), st.text(max_size=10), st.text(max_size=10))
def test_any_name_is_found_or_refused(name: str, usb_id: str, serial_number: str) -> None:
    """Whatever an operator writes and an adapter says, nothing but LookupError is raised."""
    there = [Adapter("/dev/x", usb_id, serial_number)]
    with contextlib.suppress(LookupError):
        assert named(name, there).device
