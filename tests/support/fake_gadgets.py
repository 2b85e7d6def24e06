"""A folder that behaves as configfs and the kernel's view of a device-mode port."""

import errno
import os
import shutil
from pathlib import Path

from soak.bench.stand_in.gadget import ConfigFs, Gadget, StickPlayed
from soak.bench.stand_in.gadget_state import Port

SETTINGS = {
    "soak-stand-in": ("UDC", "idVendor", "idProduct", "bcdUSB"),
    "0x409": ("manufacturer", "product", "serialnumber", "configuration"),
    "c.1": ("MaxPower", "bmAttributes"),
}


class FakeConfigFs(ConfigFs):
    """What the kernel does when folders are made and settings written."""

    def __init__(self, kernel: "FakeKernel") -> None:
        self._kernel = kernel

    def make(self, folder: Path) -> None:
        folder.mkdir()
        names = SETTINGS.get(folder.name, ())
        if folder.name == "soak-stand-in":
            for inner in ("strings", "configs", "functions"):
                (folder / inner).mkdir()
        if folder.name == "c.1":
            (folder / "strings").mkdir()
        if folder.name == "mass_storage.0":
            (folder / "lun.0").mkdir()
            for name in ("file", "removable", "ro", "cdrom"):
                (folder / "lun.0" / name).touch()
        for name in names:
            (folder / name).touch()

    def remove(self, folder: Path) -> None:
        links = [file for file in folder.iterdir() if file.is_symlink()]
        if links or ((folder / "UDC").exists() and (folder / "UDC").read_text().strip()):
            raise OSError(errno.EBUSY, "busy", str(folder))
        shutil.rmtree(folder)

    def write(self, file: Path, text: str) -> None:
        if file.name == "UDC":
            if text and self._kernel.refuses:
                raise OSError(self._kernel.refuses, os.strerror(self._kernel.refuses))
            self._kernel.state("powered" if text else "not attached")
        if not file.exists():
            raise FileNotFoundError(errno.ENOENT, "no such setting", str(file))
        file.write_text(f"{text}\n")


class FakeKernel:
    """One device-mode port `fake.0`, and the thread that serves its stick."""

    def __init__(self, folder: Path, ports: tuple[str, ...] = ("fake.0",)) -> None:
        self.configfs, self.udcs, self.proc = (
            folder / "config" / "usb_gadget",
            folder / "udc",
            folder / "proc",
        )
        self.image = folder / "stick.img"
        self.image.write_bytes(bytes(8192))
        self.refuses = 0
        for place in (self.configfs, self.udcs, self.proc / "7"):
            place.mkdir(parents=True)
        for port in ports:
            (self.udcs / port).mkdir()
        (self.proc / "7" / "comm").write_text("file-storage\n")
        self.moved(1000, 500)
        if ports:
            self.state("not attached")

    def state(self, state: str, speed: str = "UNKNOWN") -> None:
        """Let the port be in a state."""
        for port in self.udcs.iterdir():
            (port / "state").write_text(f"{state}\n")
            (port / "current_speed").write_text(f"{speed}\n")

    def enumerate_at(self, speed: str = "high-speed") -> None:
        """Let the unit configure the stick."""
        self.state("configured", speed)

    def moved(self, read_bytes: int, written_bytes: int) -> None:
        """Let the serving thread have read and written so much in all."""
        text = f"rchar: {read_bytes}\nwchar: {written_bytes}\nsyscr: 3\nsyscw: 0\n"
        (self.proc / "7" / "io").write_text(text)

    def gadget(self, **given: object) -> Gadget:
        """Return the gadget on this kernel."""
        played = StickPlayed(**{"image": self.image, "serial": "KY0001", **given})
        return Gadget(played, self.configfs, self.udcs, FakeConfigFs(self))

    def port(self) -> Port:
        """Return what looks at the port."""
        return Port("fake.0", self.udcs, self.proc)
