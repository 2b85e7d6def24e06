"""How a fixture names a USB device, checked when the fixture is read."""

from typing import Annotated

from pydantic import AfterValidator

from soak.allowed import Takes
from soak.bench.usb.device import is_name
from soak.words import msg

DEVICE = Takes(msg("VID:PID, VID:PID/SERIAL, or a bus path like 2-1.4"))


def names_a_device(name: str) -> str:
    """Return the name.

    Raises
    ------
    ValueError
        If it names no device.
    """
    if not is_name(name):
        raise ValueError(f"{name!r} is no VID:PID, VID:PID/SERIAL or bus path like 2-1.4")
    return name


DeviceName = Annotated[str, AfterValidator(names_a_device), DEVICE]
"""A USB device as `soak find` lists it."""
