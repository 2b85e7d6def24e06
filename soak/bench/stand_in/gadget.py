"""A USB stick played by this computer: the kernel's mass-storage gadget, made through configfs.

Only on Linux with a port that can be a *device* (a USB device controller, UDC), and only for root.

References
----------
Linux, Documentation/usb/gadget_configfs.rst; Documentation/ABI/testing/configfs-usb-gadget and
configfs-usb-gadget-mass-storage.
"""

import contextlib
import errno
import os
from dataclasses import dataclass
from pathlib import Path

from soak.bench.stand_in.gadget_state import UDCS
from soak.words import msg

CONFIGFS = Path("/sys/kernel/config/usb_gadget")
NAME = "soak-stand-in"
_VENDOR = "0x1d6b"
_PRODUCT = "0x0104"
"""Linux Foundation, composite gadget: the numbers the kernel's own documentation uses."""
_ENGLISH = "0x409"


class GadgetFault(OSError):
    """Report what keeps this computer from playing a stick, in one sentence."""


@dataclass(frozen=True, slots=True)
class StickPlayed:
    """What the unit shall see.

    Attributes
    ----------
    image : Path
        File that holds the stick's content, a whole number of 512-byte sectors.
    serial : str
        Serial number the stick tells.
    udc : str
        The device-mode port; empty for the only one.
    read_only : bool
        Whether the unit may not write.
    """

    image: Path
    serial: str
    udc: str = ""
    read_only: bool = False


class ConfigFs:
    """The few things done in configfs; a test puts a folder in its place."""

    def make(self, folder: Path) -> None:
        """Make a folder, in which the kernel then shows its settings."""
        folder.mkdir()

    def remove(self, folder: Path) -> None:
        """Remove a folder with the settings in it."""
        folder.rmdir()

    def write(self, file: Path, text: str) -> None:
        """Write one setting; the file is there already."""
        descriptor = os.open(file, os.O_WRONLY)
        try:
            os.write(descriptor, text.encode() + b"\n")
        finally:
            os.close(descriptor)


class Gadget:
    """The stick, from `plug` to `close`.

    Parameters
    ----------
    played : StickPlayed
    root, udcs : Path
        Where the kernel shows gadgets and device-mode ports.
    """

    def __init__(
        self,
        played: StickPlayed,
        root: Path = CONFIGFS,
        udcs: Path = UDCS,
        configfs: ConfigFs | None = None,
    ) -> None:
        self._played = played
        self._configfs = configfs or ConfigFs()
        self._root = root
        self._udcs = udcs
        self._folder = root / NAME
        self.udc = ""

    def plug(self) -> None:
        """Make the stick and show it to the unit.

        Raises
        ------
        GadgetFault
            One sentence: no such kernel, no port, no root, port or name taken, a bad image.
        """
        _usable_image(self._played.image)
        if not self._root.is_dir():
            raise GadgetFault(
                msg(
                    "{root}: this kernel shows no USB gadgets; load libcomposite and mount "
                    "configfs at /sys/kernel/config",
                    root=str(self._root),
                )
            )
        self.udc = _the_udc(self._played.udc, self._udcs)
        if self._folder.exists():
            self.close()  # what a stand-in that was killed left behind
        try:
            self._build()
            self._configfs.write(self._folder / "UDC", self.udc)
        except OSError as fault:
            self.close()
            raise GadgetFault(_why(fault, self.udc)) from None

    def close(self) -> None:
        """Unplug and take apart; twice is safe."""
        folder = self._folder
        function = self._folder / "functions" / "mass_storage.0"
        with contextlib.suppress(OSError):
            self._configfs.write(folder / "UDC", "")
        with contextlib.suppress(OSError):
            (folder / "configs" / "c.1" / "mass_storage.0").unlink()
        for inner in (
            folder / "configs" / "c.1" / "strings" / _ENGLISH,
            folder / "configs" / "c.1",
            function,
            folder / "strings" / _ENGLISH,
            folder,
        ):
            with contextlib.suppress(OSError):
                self._configfs.remove(inner)

    def _build(self) -> None:
        folder = self._folder
        make = self._configfs.make
        write = self._configfs.write
        make(folder)
        write(folder / "idVendor", _VENDOR)
        write(folder / "idProduct", _PRODUCT)
        make(texts := folder / "strings" / _ENGLISH)
        write(texts / "manufacturer", "soak")
        write(texts / "product", "stand-in stick")
        write(texts / "serialnumber", self._played.serial)
        make(config := folder / "configs" / "c.1")
        make(config / "strings" / _ENGLISH)
        write(config / "strings" / _ENGLISH / "configuration", "stick")
        write(config / "MaxPower", "100")
        make(function := folder / "functions" / "mass_storage.0")
        lun = function / "lun.0"
        write(lun / "removable", "1")
        write(lun / "ro", "1" if self._played.read_only else "0")
        write(lun / "file", str(self._played.image.resolve()))
        (config / "mass_storage.0").symlink_to(function)


def _usable_image(image: Path) -> None:
    try:
        size_bytes = image.stat().st_size
    except OSError as fault:
        raise GadgetFault(
            msg(
                "{image}: cannot be read ({why}); make an image",
                image=str(image),
                why=str(fault.strerror),
            )
        ) from None
    if not image.is_file() or not size_bytes or size_bytes % 512:
        raise GadgetFault(
            msg(
                "{image}: holds {size_bytes} B; an image is whole sectors of 512 B",
                image=str(image),
                size_bytes=size_bytes,
            )
        )


def _the_udc(wanted: str, udcs: Path) -> str:
    there = sorted(entry.name for entry in udcs.iterdir()) if udcs.is_dir() else []
    if not there:
        raise GadgetFault(
            msg(
                "this computer has no USB port that can be a device; use one that has, and "
                "enable it"
            )
        )
    if wanted in there:
        return wanted
    listed = ", ".join(there)
    if wanted:
        raise GadgetFault(
            msg(
                "there is no device-mode port {wanted}; there is {listed}",
                wanted=wanted,
                listed=listed,
            )
        )
    if len(there) > 1:
        raise GadgetFault(
            msg(
                "there are {there} device-mode ports; name one of {listed}",
                there=len(there),
                listed=listed,
            )
        )
    return there[0]


def _why(fault: OSError, udc: str) -> str:
    if fault.errno in (errno.EACCES, errno.EPERM):
        return "only root may play a stick; run it as root"
    if fault.errno == errno.EBUSY:
        return f"{udc} plays another gadget already; end that one"
    if fault.errno == errno.ENOENT:
        return f"the kernel does not know mass storage ({fault.filename}); load usb_f_mass_storage"
    return f"the kernel refused: {fault.strerror or fault}"
