"""The manifest of a backup: what is in it, and what was to be said of that."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import PurePosixPath
from typing import Any

from soak import __version__
from soak.outside import json_of, stays_inside
from soak.words import Message, msg

FORMAT = 1
"""Decides nothing: of the manifest; raised when an older program could no longer read it."""
_FORMAT_KEY = "soak_backup"
MODES = 0o777
"""Decides nothing: who may read, write and go in, as POSIX has it; nothing else is kept."""
_MOST_NS = 1 << 62
"""Decides nothing: what fits a file system's time, in ns since 1970."""


class NotOurs(Exception):
    """Report a manifest, or an archive, that no program of ours wrote; `told` says why."""

    def __init__(self, told: Message) -> None:
        super().__init__(told)
        self.told = told


@dataclass(frozen=True, slots=True)
class Listed:
    """One file in a backup.

    Attributes
    ----------
    modified_ns : int
        When it was written last, ns since 1970: the order of soaks goes by it.
    mode : int
        Who may read and write it, as POSIX has it; no more than 0o777.
    """

    sha256: str
    length_bytes: int
    modified_ns: int
    mode: int


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup says of itself beside its files.

    Attributes
    ----------
    made_utc : str
        RFC 3339.
    folders : mapping of str to int
        Mode of each folder.
    running : sequence of str
        Soaks that ran while it was made.
    wrong : sequence of mapping
        What was left out, or copied though it cannot be read: `file`, and `what` in English.
    """

    made_utc: str
    folders: Mapping[str, int]
    running: Sequence[str]
    wrong: Sequence[Mapping[str, str]] = ()

    def as_data(self, files: Mapping[str, Listed]) -> dict[str, Any]:
        """Return it as JSON, with the files."""
        return {
            _FORMAT_KEY: FORMAT,
            "program": __version__,
            **asdict(self),
            "files": {name: asdict(listed) for name, listed in files.items()},
        }


def read_manifest(content: bytes) -> tuple[Manifest, Mapping[str, Listed]]:
    """Read one, and refuse what leads out of a folder.

    Raises
    ------
    NotOurs
        If it is none, is of a newer program, or names places that no bench has.
    """
    try:
        data = json_of(content)
        newest = int(data[_FORMAT_KEY])
    except (ValueError, TypeError, KeyError):
        raise NotOurs(_NONE) from None
    if newest > FORMAT:
        raise NotOurs(
            msg(
                "was written by a newer soak (backup format {format}, this one reads {newest}); "
                "use that one",
                format=newest,
                newest=FORMAT,
            )
        )
    try:
        files = {str(name): _listed(entry) for name, entry in data["files"].items()}
        folders = {str(name): int(mode) & MODES for name, mode in data["folders"].items()}
        running = [str(soak) for soak in data["running"]]
        wrong = [
            {"file": str(fault["file"]), "what": str(fault["what"])} for fault in data["wrong"]
        ]
        manifest = Manifest(str(data["made_utc"]), folders, running, wrong)
    except (ValueError, TypeError, KeyError, AttributeError):
        raise NotOurs(_NONE) from None
    _refuse_places(files, folders)
    return manifest, files


_NONE = msg("its list of files is none that soak wrote")


def _listed(entry: Mapping[str, Any]) -> Listed:
    listed = Listed(
        str(entry["sha256"]),
        int(entry["length_bytes"]),
        int(entry["modified_ns"]),
        int(entry["mode"]) & MODES,
    )
    if listed.length_bytes < 0 or abs(listed.modified_ns) > _MOST_NS:
        raise ValueError
    return listed


def _refuse_places(files: Mapping[str, Listed], folders: Mapping[str, int]) -> None:
    """Refuse a place outside the folder, and a file that would have to be a folder as well."""
    for name in (*files, *folders):
        if not stays_inside(name):
            raise NotOurs(
                msg("it lists {name}, which leads out of a bench's folder", name=repr(name))
            )
    within = {parent.as_posix() for name in files for parent in PurePosixPath(name).parents}
    if both := sorted(files.keys() & (within | folders.keys())):
        raise NotOurs(msg("it lists {name} as a file and as a folder", name=both[0]))
