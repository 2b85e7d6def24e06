"""The USB devices as Linux lists them below `/sys/bus/usb/devices`; needs no permission.

References
----------
Linux, Documentation/ABI/testing/sysfs-bus-usb and Documentation/ABI/stable/sysfs-bus-usb.
"""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from soak.bench.usb.device import Devices, UsbDevice, hubs_above, path_of_port

ROOT = Path("/sys/bus/usb/devices")


class SysfsDevices:
    """Read the list of devices again and again; what cannot change is read once.

    Parameters
    ----------
    root : Path
        The folder that lists them.
    """

    def __init__(self, root: Path = ROOT) -> None:
        self._root = root
        self._known: dict[str, UsbDevice] = {}

    @property
    def there(self) -> bool:
        """Whether this host lists its devices so."""
        return self._root.is_dir()

    def read(self) -> Devices:
        """Return the devices that are plugged in now, root hubs included, by path."""
        known = dict(self._found())
        # A folder read while a hub goes may still list what hung on it.
        self._known = {
            path: device
            for path, device in known.items()
            if all(hub in known for hub in hubs_above(path))
        }
        return self._known

    def _found(self) -> Iterator[tuple[str, UsbDevice]]:
        for entry in sorted(self._root.iterdir()):
            if ":" not in entry.name:
                device = self._device(entry)
                if device is not None:
                    yield device.path, device

    def _device(self, folder: Path) -> UsbDevice | None:
        """Return one device; None if it went while it was read."""
        try:
            number = int(_text(folder / "devnum"))
            known = self._known.get(folder.name)
            if known is None or known.number != number:
                known = _read(folder, number)
            count = _optional(folder / "port" / "over_current_count")
            return known if not count else replace(known, over_current=int(count))
        except (OSError, ValueError):
            return None


def device_above(entry: Path) -> Path | None:
    """Return the folder of the USB device that an entry of `/sys/class` hangs on; None if none."""
    interface = entry / "device"
    if not interface.exists():
        return None
    real = interface.resolve()
    return next((at for at in (real, *real.parents) if (at / "idVendor").exists()), None)


def _read(folder: Path, number: int) -> UsbDevice:
    peer = folder / "port" / "peer"
    return UsbDevice(
        path=folder.name,
        number=number,
        vendor=int(_text(folder / "idVendor"), 16),
        product=int(_text(folder / "idProduct"), 16),
        serial=_optional(folder / "serial"),
        speed_mbps=_speed(_optional(folder / "speed")),
        device_class=int(_optional(folder / "bDeviceClass") or "0", 16),
        text=_optional(folder / "product"),
        peer=path_of_port(peer.resolve().name) if peer.exists() else "",
    )


def _speed(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None  # "unknown" while a device is being set up


def _text(file: Path) -> str:
    return file.read_text(encoding="utf-8", errors="replace").strip()


def _optional(file: Path) -> str:
    try:
        return _text(file)
    except OSError:
        return ""
