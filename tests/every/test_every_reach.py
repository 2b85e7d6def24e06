"""What an instrument is reached by is known of every driver, so that troubles with it are told."""

import pytest

from soak.bench.reached import WAYS
from soak.bench.registry import drivers

BY_NO_DEVICE = {"by_hand", "hand", "stood_in"}
"""A person works these, or a computer elsewhere."""


@pytest.mark.parametrize(("role", "kind"), sorted(drivers()))
def test_every_driver_is_reached_by_a_key_that_is_known(role, kind):
    """A new driver's key of a device stands in `soak.bench.reached`, or it speaks over serial."""
    keys = set(drivers()[role, kind].settings.model_fields)
    known = "baud" in keys or any((role, key) in WAYS for key in keys)
    assert known or kind in BY_NO_DEVICE
