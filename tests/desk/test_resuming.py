"""Going on with a soak: what the header says of an instrument must still hold."""

from types import SimpleNamespace

import pytest
from headers import fixture_of

from soak.desk.soaking.resuming import _still_instruments
from soak.errors import BenchFault
from soak.frozen.fixture import Fixture


def fixture(capture: str) -> Fixture:
    """Return a fixture whose capture is of this nature."""
    return fixture_of({"capture": {"driver": "opencv", "identity": {"nature": capture}}})


def test_a_recording_does_not_take_the_place_of_a_card():
    """The header says "a device" of all sessions: nothing else may record under it."""
    plan = SimpleNamespace(header=SimpleNamespace(fixture=fixture("device")))
    with pytest.raises(BenchFault, match="was a device when this soak began and is a recording"):
        _still_instruments(plan, fixture("recording"))


@pytest.mark.parametrize(("before", "now"), [("device", "unknown"), ("recording", "recording")])
def test_what_was_no_instrument_before_and_what_is_not_told_may_go_on(before, now):
    """A device that is not there yet has no nature; a recording is told of by the header."""
    plan = SimpleNamespace(header=SimpleNamespace(fixture=fixture(before)))
    assert _still_instruments(plan, fixture(now)) is plan
