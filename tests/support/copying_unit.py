"""A unit that copies files as closed boxes do: names, times and sometimes data suffer."""

import shutil
from pathlib import Path

from soak.desk.carrying import pack as carry
from soak.desk.carrying import unpack as carry_unpack
from soak.ledger.ledger import Ledger

SHEET = """
model = "Ferrow SP-40"
picture_when_on = "moving"
start_s = "20 s"
mains = false
disk = false
lithium_cell = false
holds_data = false
[ports.usb1]
text = "service port"
kind = "usb"
[ports.usb2]
text = "second USB port"
kind = "usb"
[ports.video]
text = "video output"
kind = "video"
[functions.usb2]
text = "plays clips from a stick in the second USB port"
port = "usb2"
[functions.service]
text = "takes clips over the service port"
check = "transfer"
port = "usb1"
"""


class Workshop:
    """A bench with the units K1 and K2, a stick, and the unit's own storage."""

    def __init__(self, folder: Path) -> None:
        self.bench, self.stick, self.storage = folder / "bench", folder / "stick", folder / "unit"
        for place in (self.bench / "fixtures" / "models", self.stick, self.storage):
            place.mkdir(parents=True)
        (self.bench / "fixtures" / "models" / "ferrow-sp-40.toml").write_text(SHEET)
        self.ledger = Ledger(self.bench / "ledger.sqlite")
        for serial, tag in (("SP40-1017", "K1"), ("SP40-1018", "K2")):
            self.ledger.add_unit(serial=serial, model="ferrow-sp-40", tag=tag)

    @property
    def packed(self) -> Path:
        """Where the pack lies on the stick."""
        return self.stick / "SOAKPACK"

    def pack(
        self, unit: str = "K1", port: str = "usb2", size: str = "4 MB", **given: object
    ) -> str:
        """Pack the stick."""
        more = carry.Given(**{"own_disk": True, **given})
        return carry.pack(self.bench, self.stick, unit, port, size, more)

    def files(self) -> list[Path]:
        """Return the packed files by their length, without card and manifest."""
        found = [file for file in self.packed.iterdir() if file.suffix == ".BIN"]
        return sorted(found, key=lambda file: (file.stat().st_size, file.name))

    def copy(self, to: Path, rename=lambda number, name: name) -> Path:
        """Copy all files as the unit does: new time stamps, and names as `rename` gives them."""
        to.mkdir(parents=True, exist_ok=True)
        for number, file in enumerate(self.files()):
            shutil.copyfile(file, to / rename(number, file.name))
        return to

    def unpack(self, folder: Path | None = None, unit: str = "K1", **given: object):
        """Unpack; return text and exit code."""
        return carry_unpack.unpack(
            self.bench, folder or self.stick, unit, carry_unpack.Given(**given)
        )
