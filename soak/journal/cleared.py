"""What stays in a soak's folder once its journal was cleared: in which backup it is."""

from dataclasses import asdict, dataclass
from pathlib import Path

from soak.journal.durable import write_durable
from soak.outside import json_of, read_bytes
from soak.records import canonical_json
from soak.words import Day, Message, msg

FILE = "cleared.json"


@dataclass(frozen=True, slots=True)
class Cleared:
    """That a soak's journal was cleared.

    Attributes
    ----------
    soak_id : str
    backup : str
        Name of the backup's file.
    sha256 : str
        What the backup ends with: the SHA-256 of all that stands before it.
    on : str
        Day on which the journal was cleared, RFC 3339.
    """

    soak_id: str
    backup: str
    sha256: str
    on: str

    @property
    def told(self) -> Message:
        """Say it, with the command that puts the journal back."""
        return msg(
            "the journal of soak {soak} was cleared on {day}; it is in the backup {file}: "
            "`soak restore {file} --soak {soak}` puts it back",
            soak=self.soak_id,
            day=Day(self.on),
            file=self.backup,
        )

    def write(self, folder: Path) -> None:
        """Write it into a soak's folder.

        Raises
        ------
        OSError
            If that cannot be done.
        """
        write_durable(folder / FILE, canonical_json(asdict(self)) + b"\n")


def cleared(folder: Path) -> Cleared | None:
    """Return what a soak's folder says of its cleared journal; None where none was cleared."""
    try:
        told = json_of(read_bytes(folder / FILE))
        return Cleared(*(str(told[key]) for key in ("soak_id", "backup", "sha256", "on")))
    except (OSError, ValueError, TypeError, KeyError):
        return None
