"""Pack a stick with files that the unit shall copy: `soak carry pack`."""

import contextlib
import os
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from soak.bench.stick.mounts import on_own_disk
from soak.derive.events.wrong_data import carried_words
from soak.desk.bench_folder import BenchFolder
from soak.desk.carrying.manifest import (
    CARD,
    FILE,
    Manifest,
    card,
    is_stamp,
    keep,
    known_here,
    plain_card,
    read_manifest,
    time_stamp,
)
from soak.desk.carrying.place import (
    FOLDER,
    UNFINISHED,
    file_system_id,
    fits,
    in_one_sentence,
    naming,
    packing_fault,
    usable,
    writing_fault,
)
from soak.desk.units import open_ledger
from soak.errors import BenchFault, UsageError, told_of
from soak.frozen.sheet import ModelSheet
from soak.measure.stick.carried import MOST_BYTES, STEP_BYTES, Pack, new_pack, said_by_name
from soak.measure.stick.carried_file import FileLook
from soak.outside import read_bytes
from soak.reader import spoken
from soak.settings import nearest_name, read_size
from soak.words import Amount, Message, Tell, joined, lines_of, msg

PIECE_BYTES = 1 << 22


@dataclass(frozen=True, slots=True)
class Packing:
    """What is packed where."""

    manifest: Manifest
    folder: Path
    card: bytes


def pack(
    bench_path: Path, folder: Path, unit: str, port: str, size: str, given: "Given"
) -> Message:
    """Pack a stick for a port of a unit; return what to tell.

    Raises
    ------
    UsageError, BenchFault, LedgerError
        One sentence each; what else lies on the stick is never touched.
    """
    bench = BenchFolder(bench_path)
    ledger = open_ledger(bench_path)
    entry = ledger.find_unit(unit)
    job_id, _, _ = ledger.for_header(entry.tag)
    sheet = bench.model_sheet(entry.model)
    port_text = usb_port(sheet, port)
    one = new_pack(_size_bytes(size), known_here(bench))
    ending = _ending(given.ending)
    with in_one_sentence(folder, writing_fault):
        usable(folder, own_disk=given.own_disk)
        _free_of_packs(folder)
        fits(folder, one.lengths_bytes)
        identity = "" if on_own_disk(folder) else file_system_id(folder)
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    manifest = Manifest(
        one.number,
        entry.tag,
        job_id,
        port=port,
        packed_utc=now,
        ending=ending,
        file_system=identity,
        stamped=True,
    )
    unit_text = msg("{model}, serial {serial}", model=entry.model, serial=entry.serial)
    text = spoken(card(manifest, unit_text, f"{port}, {port_text}"))
    manifest = _write(Packing(manifest, folder, plain_card(text)), given.progress)
    keep(bench, manifest)
    count = len(one.lengths_bytes)
    own = [wear for wear in ledger.bench_wear() if (wear.part, wear.kind) == (identity, "stick")]
    minds = [msg("MIND: {what}", what=place.warning) for place in own if place.warning]
    packed = msg(
        "{folder}: pack {name}, {count} files, {size}, written and read back; unmount it, then do "
        "with {tag} at its port {port} what the card {card} beside the files says",
        folder=str(folder / FOLDER),
        name=one.name,
        count=count,
        size=Amount(one.size_bytes, "B"),
        tag=entry.tag,
        port=port,
        card=CARD,
    )
    return lines_of([*minds, packed])


@dataclass(frozen=True, slots=True)
class Given:
    """What else may be asked of packing.

    Attributes
    ----------
    ending : str
        Ending of the names, for a unit that lists only files of a kind.
    own_disk : bool
        Pack although the folder lies on this computer's own disk.
    progress : callable
        Told in words how far it is.
    """

    ending: str = "BIN"
    own_disk: bool = False
    progress: Tell = lambda _: None


def usb_port(sheet: ModelSheet, port: str) -> str:
    """Return what a USB port of the model is called.

    Raises
    ------
    UsageError
        If it is not one of the model's.
    """
    ports = {name: entry.text for name, entry in sheet.ports.items() if entry.kind == "usb"}
    if port in ports:
        return ports[port]
    nearest = nearest_name(port, list(ports))
    hint = (
        msg("did you mean {nearest}?", nearest=nearest)
        if nearest
        else msg("it has {value}", value=joined(", ", ports) if ports else msg("none"))
    )
    raise UsageError(
        msg(
            "--port {port}: {model} has no such USB port; {hint}",
            port=port,
            model=sheet.model,
            hint=hint,
        )
    )


def _size_bytes(size: str) -> int:
    try:
        wanted = read_size(size)
    except ValueError as fault:
        raise UsageError(msg("--size: {why}", why=told_of(fault))) from None
    if wanted < STEP_BYTES:
        raise UsageError(
            msg(
                "--size {size}: give at least {step_bytes}",
                size=size,
                step_bytes=Amount(STEP_BYTES, "B"),
            )
        )
    if wanted > MOST_BYTES:
        raise UsageError(
            msg(
                "--size {size}: give at most {most_bytes}; writing wears the stick",
                size=size,
                most_bytes=Amount(MOST_BYTES, "B"),
            )
        )
    return wanted


def _ending(ending: str) -> str:
    plain = ending.lstrip(".").upper()
    if not (plain.isascii() and plain.isalnum() and 1 <= len(plain) <= 3):
        raise UsageError(
            msg(
                "--ending {ending}: give one to three letters or digits, such as MP4", ending=ending
            )
        )
    return plain


def _free_of_packs(folder: Path) -> None:
    """Refuse a stick that holds a pack already: nobody's evidence is written over."""
    there = folder / FOLDER
    if there.is_symlink() or (there.exists() and not there.is_dir()):
        raise UsageError(
            msg(
                "{there}: is a file or a link, not a folder of soak's; move it away",
                there=str(there),
            )
        )
    if not there.exists():
        return
    manifest = None
    with contextlib.suppress(OSError):
        manifest = read_manifest(read_bytes(there / FILE))
    whose = (
        msg("the pack {name} of unit {unit}", name=manifest.pack.name, unit=manifest.unit)
        if manifest
        else msg("a pack")
    )
    raise UsageError(
        msg(
            "{there}: holds {whose} already; unpack it, then remove the folder or take "
            "another stick",
            there=str(there),
            whose=whose,
        )
    )


def _write(packing: Packing, progress: Tell) -> Manifest:
    """Write everything into a folder that gets its name only when all of it is there."""
    new = packing.folder / UNFINISHED
    one = packing.manifest.pack
    with in_one_sentence(packing.folder, writing_fault):
        _clear_unfinished(new)
    with in_one_sentence(packing.folder, packing_fault):
        stamped = True
        of = len(one.lengths_bytes)
        for number, length_bytes in enumerate(one.lengths_bytes):
            progress(msg("packing {number} of {of}", number=number + 1, of=of))
            file = new / f"{one.file_name(number)}.{packing.manifest.ending}"
            with naming(file):
                _write_file(file, one, number, length_bytes)
                stamped = _stamp(file, number) and stamped
        manifest = replace(packing.manifest, stamped=stamped)
        _put(new / FILE, manifest.text())
        _put(new / CARD, packing.card)
        for number in range(len(one.lengths_bytes)):
            progress(msg("reading back {number} of {of}", number=number + 1, of=of))
            file = new / f"{one.file_name(number)}.{packing.manifest.ending}"
            with naming(file):
                _read_back(file, one, number)
        new.rename(packing.folder / FOLDER)
        _settle(packing.folder)
    return manifest


def _clear_unfinished(new: Path) -> None:
    """Begin the folder; what an interrupted packing left in it is removed, and nothing else."""
    if new.is_symlink():
        raise UsageError(msg("{new}: is a link; remove it", new=str(new)))
    new.mkdir(exist_ok=True)
    for file in list(new.iterdir()):
        ours = said_by_name(file.name) is not None or file.name in (FILE, CARD)
        if not ours or file.is_dir() or file.is_symlink():
            raise UsageError(msg("{file}: was not made by soak; move it away", file=str(file)))
        file.unlink()


def _write_file(file: Path, one: Pack, number: int, length_bytes: int) -> None:
    with file.open("wb") as stream:
        for begin in range(0, length_bytes, PIECE_BYTES):
            stream.write(one.make(number, begin, min(PIECE_BYTES, length_bytes - begin)))
        stream.flush()
        os.fsync(stream.fileno())


def _stamp(file: Path, number: int) -> bool:
    """Give an original its time stamp, on the medium; return whether the file system keeps it."""
    try:
        os.utime(file, (time_stamp(number), time_stamp(number)))
    except PermissionError:
        return False
    with file.open("rb") as stream:  # a stick pulled without unmounting must not lose it
        os.fsync(stream.fileno())
    return is_stamp(number, file.stat().st_mtime)


def _put(file: Path, data: bytes) -> None:
    with file.open("wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def _read_back(file: Path, one: Pack, number: int) -> None:
    """Refuse a stick that does not hold what was written: it would be charged to the unit."""
    look = FileLook(one, number)
    with file.open("rb") as stream:
        if hasattr(os, "posix_fadvise"):
            os.posix_fadvise(stream.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        while data := stream.read(PIECE_BYTES):
            look.take(data)
    arrivals = look.end()
    if arrivals.came != "whole":
        raise BenchFault(
            "stick",
            msg(
                "gives {name} back otherwise than it was written ({wrong}); take another stick",
                name=file.name,
                wrong=carried_words(arrivals.wrong),
            ),
        )


def _settle(folder: Path) -> None:
    """Bring all onto the medium: syncing single files leaves the tables of a FAT in memory."""
    if hasattr(os, "sync"):
        os.sync()
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
