"""`soak restore`: a bench from its backup into a new folder; or one soak's cleared journal."""

import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path, PurePosixPath

from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.desk.keeping.archive import Backup, opened_backup
from soak.desk.keeping.medium import in_one_sentence, refuse_what_does_not_fit
from soak.desk.places import REPORTS
from soak.desk.trust.belongings import minds
from soak.desk.trust.keys import bench_key
from soak.errors import UsageError
from soak.journal.cleared import FILE as CLEARED
from soak.journal.cleared import cleared
from soak.journal.durable import sync_folder
from soak.journal.kept import Fault, is_plain_name
from soak.words import Message, Tell, joined, just, msg

_OWNER_ONLY = 0o700
"""Decides nothing: until a folder is whole nobody else has to do with it."""


def restore(file: Path, into: Path, progress: Tell) -> Message:
    """Read a whole bench back; the folder gets its name only when every hash was checked.

    Raises
    ------
    UsageError
        If the file is no whole backup, or the folder is there and not empty.
    BenchFault
        If the medium fails or is full.
    """
    with opened_backup(file) as backup:
        _refuse(into)
        refuse_what_does_not_fit(into.absolute().parent, _size_bytes(backup, backup.files))
        with in_one_sentence(into), _new_folder(into) as folder:
            _take(backup, backup.files, folder, progress)
            _folders(folder, backup)
        return joined("\n", _told(backup, into))


def put_back(bench_path: Path, file: Path, soak: str, progress: Tell) -> Message:
    """Put the journal of a soak that was cleared back into the bench.

    Raises
    ------
    UsageError
        If no journal of it was cleared, or the file is no whole backup that holds it.
    BenchFault
        If the medium fails or is full.
    """
    folder = BenchFolder(bench_path).reports / soak
    if not is_plain_name(soak) or cleared(folder) is None:
        raise UsageError(msg("{soak}: no journal of such a soak was cleared here", soak=soak))
    place = f"{REPORTS}/{soak}"
    with opened_backup(file) as backup:
        if f"{place}/{JOURNAL}" not in backup.files:
            raise UsageError(
                msg("{file}: holds no journal of soak {soak}", file=str(file), soak=soak)
            )
        names = [
            name
            for name in backup.files
            if name.startswith(f"{place}/") and not os.path.lexists(bench_path / name)
        ]
        refuse_what_does_not_fit(folder, _size_bytes(backup, names))
        with in_one_sentence(folder):
            with tempfile.TemporaryDirectory(prefix=".", suffix=".part", dir=folder) as part:
                _take(backup, names, Path(part), progress)
                for name in sorted(names, key=lambda name: name.endswith(JOURNAL)):
                    (bench_path / name).parent.mkdir(exist_ok=True)
                    (Path(part) / name).rename(bench_path / name)
            (folder / CLEARED).unlink()
            sync_folder(folder)
    return msg("{folder}: the journal is back", folder=str(folder))


def _refuse(into: Path) -> None:
    if into.is_symlink() or (into.exists() and not into.is_dir()):
        raise UsageError(
            msg("{folder}: is a file or a link, not a folder; name a new folder", folder=str(into))
        )
    if into.is_dir() and any(into.iterdir()):
        raise UsageError(
            msg("{folder}: is there already and not empty; name a new folder", folder=str(into))
        )
    if into.is_dir() and into.samefile(Path.cwd()):
        raise UsageError(
            msg("{folder}: is the folder that you are in; name a new folder", folder=str(into))
        )
    if not into.absolute().parent.is_dir():
        raise UsageError(msg("{folder}: there is no such folder", folder=str(into.parent)))


def _size_bytes(backup: Backup, names: Iterable[str]) -> int:
    return sum(backup.files[name].length_bytes for name in names)


@contextmanager
def _new_folder(into: Path) -> Iterator[Path]:
    """Give a folder beside the one wanted, which takes its name at the end."""
    part = Path(
        tempfile.mkdtemp(prefix=f".{into.name}.", suffix=".part", dir=into.absolute().parent)
    )
    try:
        yield part
        if os.name != "posix" and into.is_dir():
            into.rmdir()
        part.rename(into)
        sync_folder(into.absolute().parent)
    except BaseException:
        with suppress(OSError):
            part.chmod(_OWNER_ONLY)
        shutil.rmtree(part, ignore_errors=True)
        raise


def _take(backup: Backup, names: Iterable[str], folder: Path, progress: Tell) -> None:
    """Write files of a backup below a folder; each has its mode only once it is whole."""
    for name in names:
        progress(msg("reading back {file}", file=name))
        listed = backup.files[name]
        path = folder / PurePosixPath(name)
        path.parent.mkdir(mode=_OWNER_ONLY, parents=True, exist_ok=True)
        with path.open("xb") as sink:
            backup.take(name, sink)
            sink.flush()
            os.fsync(sink.fileno())
        os.utime(path, ns=(listed.modified_ns, listed.modified_ns))
        path.chmod(listed.mode)


def _folders(folder: Path, backup: Backup) -> None:
    """Make the folders that hold nothing, and give all the modes that they had."""
    for name in backup.manifest.folders:
        (folder / name).mkdir(mode=_OWNER_ONLY, parents=True, exist_ok=True)
    for name in sorted(backup.manifest.folders, reverse=True):
        (folder / name).chmod(backup.manifest.folders[name] | _OWNER_ONLY)
    folder.chmod(0o777 & ~_umask())


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _told(backup: Backup, into: Path) -> Iterator[Message]:
    yield msg(
        "{folder}: {count} files of the backup of {when}, each as its SHA-256 says",
        folder=str(into),
        count=len(backup.files),
        when=backup.manifest.made_utc,
    )
    try:
        key = bench_key(into)
    except UsageError as fault:
        yield msg("MIND: {what}", what=fault.told)
    else:
        none = msg("without a private key: put yours back, or make one with `soak key`")
        yield (
            none if key is None else msg("fingerprint: {fingerprint}", fingerprint=key.fingerprint)
        )
    for soak in backup.manifest.running:
        yield msg(
            "{soak} ran while the backup was made: here it is a soak that was cut off", soak=soak
        )
    faults = [Fault(fault["file"], just(fault["what"])) for fault in backup.manifest.wrong]
    yield from minds("", faults)
    yield msg(
        "Work with one of the two from now on: what one ledger takes in, the other never learns."
    )
