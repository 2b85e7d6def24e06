"""USB through libusb: the one file that knows PyUSB.

Lists devices where the system has no list of its own, asks hubs for the status of their ports, and
switches the power of a port. Everything here blocks: call it off the loop.
"""

import errno
import platform
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from soak.bench.host.access import RULES_FILE, rule_for
from soak.bench.usb import words
from soak.bench.usb.device import Devices, UsbDevice, UsbFault, hub_and_port
from soak.bench.usb.words import HubWords, PortStatus
from soak.errors import told_of
from soak.instruments import SUPER_MBPS
from soak.words import msg

UDEV_RULE = rule_for("usb", "", "plugdev")
"""The rule that lets members of a group speak to USB devices."""

_ANSWER_MS = 1000
_HUB_DESCRIPTOR_BYTES = 71
"""The longest hub descriptor: 7 bytes and two bit maps for 255 ports, USB 2.0 table 11-13."""


class LibUsb:
    """The host's USB as libusb sees it.

    Parameters
    ----------
    backend : object or None
        A PyUSB backend; None: the library that comes with `libusb-package`, or the system's.

    Raises
    ------
    UsbFault
        If there is no libusb here.
    """

    def __init__(self, backend: Any = None) -> None:
        # PyUSB keeps the first backend it finds for the whole process: always hand one over.
        self._backend = backend if backend is not None else _find_backend()
        self._serials: dict[tuple[str, int], str] = {}

    def read(self) -> Devices:
        """Return the devices that are plugged in now, by path.

        Raises
        ------
        UsbFault
            If they cannot be listed.
        """
        with _plainly("the list of USB devices"):
            devices = [self._described(device) for device in self._all()]
        self._serials = {(d.path, d.number): d.serial for d in devices}
        return {device.path: device for device in devices}

    def hub_words(self, path: str) -> HubWords:
        """Return what a hub says of itself.

        Raises
        ------
        UsbFault
            If there is no such hub, or it cannot be asked.
        """
        hub = self._device(path)
        kind = words.DT_SUPER_HUB if _is_super(hub) else words.DT_HUB
        with self._open(hub, path):
            answer = hub.ctrl_transfer(
                words.HUB_DESCRIPTOR_FROM,
                words.GET_DESCRIPTOR,
                kind << 8,
                0,
                _HUB_DESCRIPTOR_BYTES,
                _ANSWER_MS,
            )
        try:
            return words.hub_words(bytes(answer))
        except ValueError as fault:
            raise UsbFault(msg("{path} is no hub: {why}", path=path, why=told_of(fault))) from None

    def port_status(self, path: str, port: int) -> PortStatus:
        """Return what a hub says of one of its ports.

        Raises
        ------
        UsbFault
            If there is no such hub, or it cannot be asked.
        """
        hub = self._device(path)
        with self._open(hub, path):
            answer = bytes(
                hub.ctrl_transfer(words.PORT_STATUS_FROM, words.GET_STATUS, 0, port, 4, _ANSWER_MS)
            )
        if len(answer) < 4:
            raise UsbFault(
                msg(
                    "the hub at {path} answered {answer} for port {port}",
                    path=path,
                    answer=answer.hex(),
                    port=port,
                )
            )
        status, change = (int.from_bytes(answer[at : at + 2], "little") for at in (0, 2))
        return words.port_status(status, change, _is_super(hub))

    def set_port_power(self, path: str, port: int, on: bool) -> None:
        """Command the power of one port of a hub; whether it obeyed is for others to see.

        Raises
        ------
        UsbFault
            If there is no such hub, or it refuses.
        """
        hub = self._device(path)
        request = words.SET_FEATURE if on else words.CLEAR_FEATURE
        with self._open(hub, path):
            hub.ctrl_transfer(
                words.PORT_FEATURE_TO, request, words.PORT_POWER, port, None, _ANSWER_MS
            )

    def ask_descriptor(self, path: str) -> bytes:
        """Ask a device for its descriptor over the wire; its driver keeps it all the same.

        Raises
        ------
        UsbFault
            If it is not there, does not answer, or may not be asked.
        """
        device = self._device(path)
        with self._open(device, path):
            kind = words.DT_DEVICE << 8
            answer = device.ctrl_transfer(
                words.DEVICE_DESCRIPTOR_FROM, words.GET_DESCRIPTOR, kind, 0, 18, _ANSWER_MS
            )
        return bytes(answer)

    def status_above(self, path: str) -> PortStatus:
        """Return what the hub says of the port that a device hangs on, or hung on.

        Raises
        ------
        UsbFault
            If it cannot be asked.
        """
        return self.port_status(*hub_and_port(path))

    def _all(self) -> Sequence[Any]:
        import usb.core

        return list(usb.core.find(find_all=True, backend=self._backend))

    def _device(self, path: str) -> Any:
        with _plainly("the list of USB devices"):
            match = next((device for device in self._all() if _path(device) == path), None)
        if match is None:
            raise UsbFault(
                msg("there is no USB device at {path}; look where it is plugged in", path=path)
            )
        return match

    def _described(self, device: Any) -> UsbDevice:
        path = _path(device)
        number = int(device.address or 0)
        serial = self._serials.get((path, number))
        return UsbDevice(
            path=path,
            number=number,
            vendor=int(device.idVendor),
            product=int(device.idProduct),
            serial=_serial(device) if serial is None else serial,
            speed_mbps=words.LIBUSB_SPEED_MBPS.get(int(device.speed or 0)),
            device_class=int(device.bDeviceClass),
        )

    @contextmanager
    def _open(self, device: Any, path: str) -> Iterator[None]:
        import usb.util

        with _plainly(f"the USB device at {path}"):
            try:
                yield
            finally:
                usb.util.dispose_resources(device)


def _find_backend() -> Any:
    import usb.backend.libusb1

    try:
        import libusb_package

        backend = libusb_package.get_libusb1_backend()
    except (ImportError, OSError):
        backend = None
    backend = backend or usb.backend.libusb1.get_backend()
    if backend is None:
        raise UsbFault(
            msg(
                "libusb is missing; install it (pip install libusb-package, or your system's "
                "libusb)"
            )
        )
    return backend


def _path(device: Any) -> str:
    ports = tuple(device.port_numbers or ())
    return f"{device.bus}-{'.'.join(map(str, ports))}" if ports else f"usb{device.bus}"


def _is_super(device: Any) -> bool:
    speed_mbps = words.LIBUSB_SPEED_MBPS.get(int(device.speed or 0))
    if speed_mbps is not None:
        return speed_mbps >= SUPER_MBPS
    return int(device.bcdUSB) >= 0x0300


def _serial(device: Any) -> str:
    """Return the serial number, which has to be asked for; empty if it may not be."""
    if not device.iSerialNumber:
        return ""
    import usb.core
    import usb.util

    try:
        return str(usb.util.get_string(device, device.iSerialNumber) or "")
    except (usb.core.USBError, ValueError, NotImplementedError):
        return ""
    finally:
        usb.util.dispose_resources(device)


@contextmanager
def _plainly(what: str) -> Iterator[None]:
    """Turn what PyUSB raises into one sentence."""
    import usb.core

    try:
        yield
    except usb.core.USBError as fault:
        raise UsbFault(_sentence(what, fault)) from None
    except NotImplementedError:
        raise UsbFault(
            msg("{what}: this system's USB driver does not allow that", what=what)
        ) from None


def _sentence(what: str, fault: Any) -> str:
    if fault.errno in (errno.EACCES, errno.EPERM):
        if platform.system() == "Linux":
            return (
                f"{what} may not be spoken to; write the line {UDEV_RULE} into {RULES_FILE}, "
                "join the group plugdev, and plug it in anew"
            )
        return f"{what} may not be spoken to; another driver holds it"
    if fault.errno in (errno.ENODEV, errno.ENOENT):
        return f"{what} has gone"
    if fault.errno in (errno.ETIMEDOUT, errno.ETIME):
        return f"{what} does not answer"
    if fault.errno == errno.EPIPE:
        return f"{what} refuses the request"
    return f"{what}: {fault.strerror or fault}"
