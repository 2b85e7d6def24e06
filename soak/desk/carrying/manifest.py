"""The manifest of a pack: whose it is. The data tells the rest, so losing it loses little."""

import contextlib
import hashlib
import json
import textwrap
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from soak.desk.bench_folder import BenchFolder
from soak.desk.carrying.place import FOLDER
from soak.measure.stick.carried import Pack, is_number
from soak.outside import json_of, read_bytes
from soak.records import canonical_json
from soak.words import Amount, Message, Said, indented, joined, lines_of, msg

FILE = "MANIFEST.JSN"
CARD = "READ-ME.TXT"
_FORMAT = 1


@dataclass(frozen=True, slots=True)
class Manifest:
    """Whose pack it is, and how it was packed.

    Attributes
    ----------
    number : int
        The pack's number.
    unit, job_id, port : str
        Tag of the unit, its job, and the port of its model sheet.
    packed_utc : str
        When, RFC 3339.
    ending : str
        Ending of the files' names.
    file_system : str
        Identity of the file system it was packed on; empty if unknown.
    stamped : bool
        Whether the files were given their time stamps (`time_stamp`).
    """

    number: int
    unit: str
    job_id: str
    port: str
    packed_utc: str
    ending: str
    file_system: str
    stamped: bool

    @property
    def pack(self) -> Pack:
        """The pack."""
        return Pack(self.number)

    def text(self) -> bytes:
        """Return the file: readable JSON with a checksum over its content."""
        data: dict[str, Any] = {"soak_pack": _FORMAT, "name": self.pack.name, **asdict(self)}
        data["files"] = {
            f"{self.pack.file_name(number)}.{self.ending}": length
            for number, length in enumerate(self.pack.lengths_bytes)
        }
        data["sha256"] = hashlib.sha256(canonical_json(data)).hexdigest()
        return json.dumps(data, indent=1).encode("ascii")


def read_manifest(data: bytes) -> Manifest | None:
    """Return the manifest; None if it is not one, or was changed since."""
    with contextlib.suppress(ValueError, KeyError, TypeError, AttributeError, RecursionError):
        content = json_of(data)
        if content.pop("sha256") != hashlib.sha256(canonical_json(content)).hexdigest():
            return None
        plain = {field.name: content[field.name] for field in fields(Manifest)}
        as_meant = all(type(plain[field.name]) is field.type for field in fields(Manifest))
        if content["soak_pack"] == _FORMAT and as_meant and is_number(plain["number"]):
            return Manifest(**plain)
    return None


def known_here(bench: BenchFolder) -> Mapping[int, Manifest]:
    """Return the manifests that this bench kept of its packs, by pack number."""
    manifests: dict[int, Manifest] = {}
    for file in sorted(_kept(bench).glob("*.json")):
        with contextlib.suppress(OSError):
            manifest = read_manifest(read_bytes(file))
            if manifest is not None:
                manifests[manifest.number] = manifest
    return manifests


def keep(bench: BenchFolder, manifest: Manifest) -> Path:
    """Keep a manifest in the bench's folder, where no unit can change it."""
    folder = _kept(bench)
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / f"{manifest.pack.name}.json"
    file.write_bytes(manifest.text())
    return file


def _kept(bench: BenchFolder) -> Path:
    return bench.path / "packs"


_STEPS: Sequence[Message] = (
    msg("Plug this stick into the port named above, and nowhere else."),
    msg(
        "With the unit's own menu copy the folder {folder} to the unit's own storage. Playing does "
        "not help here: the unit must copy or move the files.",
        folder=FOLDER,
    ),
    msg(
        "Copy it back from there to this stick, INTO ANOTHER FOLDER of any name; or move it there "
        "and back (then any folder will do). Or read the unit's storage another way (as a drive, "
        "over the network)."
    ),
    msg(
        "Bring the stick back to the bench, and run there what stands below. FOLDER is where the "
        "stick is mounted; where the storage was read another way, the folder of the copies, and "
        "{option} behind it.",
        option="--through-folder",
    ),
)
_AS_TWO = str.maketrans(
    {"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "ß": "ss"}
)
"""How German is written where there are no umlauts: DIN 5007-2, from memory."""
_WIDTH = 78
"""Characters of a line of the card: a screen of 80 shows it whole."""


def card(manifest: Manifest, unit_text: Said, port_text: str) -> Message:
    """Return the card for the operator."""
    pack = manifest.pack
    steps = [msg("{number}. {what}", number=at, what=step) for at, step in enumerate(_STEPS, 1)]
    return lines_of(
        [
            msg(
                "PACK {name} FOR UNIT {unit} ({what})",
                name=pack.name,
                unit=manifest.unit,
                what=unit_text,
            ),
            msg("PORT: {port}", port=port_text),
            msg(
                "{count} files *.{ending}, {size} together. Nobody needs to understand them: they "
                "say of themselves what they are, and tell whether they came across whole.",
                count=len(pack.lengths_bytes),
                ending=manifest.ending,
                size=Amount(pack.size_bytes, "B"),
            ),
            *steps,
            indented(joined(" ", ["soak carry unpack FOLDER --unit", manifest.unit]), "   "),
            msg(
                "Names, capitals, time stamps and this file do not matter. Files that are missing "
                "can be copied later; unpack again. The original files on this stick show nothing "
                "of the unit: only what the unit wrote or handed over counts."
            ),
        ]
    )


def plain_card(text: str) -> bytes:
    """Return a card as it is written: ASCII, short lines, readable on anything."""
    plain = unicodedata.normalize("NFKD", text.translate(_AS_TWO)).encode("ascii", "ignore")
    lines = (
        textwrap.fill(line, _WIDTH, break_on_hyphens=False) for line in plain.decode().splitlines()
    )
    return "\n\n".join(lines).replace("\n", "\r\n").encode("ascii") + b"\r\n"


def time_stamp(number: int) -> int:
    """Return the time stamp an original is given, s since 1970: far in the past, on a FAT's 2 s.

    A file with this stamp in this place was not written by anybody else since.
    """
    return 978_350_400 + 2 * number  # 2001-01-01 12:00 UTC, and 2 s a file


def is_stamp(number: int, seen_s: float) -> bool:
    """Return whether a time is an original's, read back on a computer of any time zone."""
    off_s = seen_s - time_stamp(number)
    quarter_s = 900
    nearest_s = round(off_s / quarter_s) * quarter_s
    return abs(off_s) <= 26 * 3600 and abs(off_s - nearest_s) <= 2
