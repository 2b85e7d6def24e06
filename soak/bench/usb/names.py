"""How a fixture names a USB device, checked when the fixture is read."""

from typing import Annotated

from pydantic import AfterValidator

from soak.bench.usb.device import is_name


def _names_a_device(name: str) -> str:
    if not is_name(name):
        raise ValueError(f"{name!r} is no VID:PID, VID:PID/SERIAL or bus path like 2-1.4")
    return name


DeviceName = Annotated[str, AfterValidator(_names_a_device)]
"""`VID:PID`, `VID:PID/SERIAL`, or a bus path."""
