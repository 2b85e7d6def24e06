"""`soak backup`: a whole bench into one file."""

import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

from soak.desk.bench_folder import BenchFolder
from soak.desk.keeping.archive import Archive
from soak.desk.keeping.listed import Manifest
from soak.desk.keeping.medium import SAME_DISK, in_one_sentence, refuse_what_does_not_fit
from soak.desk.keeping.pieces import Piece, Pieces, cannot_be_read
from soak.desk.trust.belongings import minds
from soak.desk.trust.keys import PRIVATE_KEY
from soak.errors import ExitCode, UsageError
from soak.journal.durable import sync_folder
from soak.journal.kept import Fault
from soak.outside import is_file, is_folder, opened, stays_inside
from soak.words import Amount, Message, Tell, joined, msg

_NAMES = 8
"""So many names stand in one line. Own choice."""


@dataclass(frozen=True, slots=True)
class Made:
    """What was made; `INCOMPLETE` where something was left out or cannot be read."""

    text: Message
    code: ExitCode


def backup(
    bench_path: Path, file: Path, also: Sequence[str], *, with_key: bool, progress: Tell
) -> Made:
    """Copy a bench into one file, which gets its name only when it is whole and on the medium.

    Parameters
    ----------
    also : sequence of str
        Names in the bench's folder that are no part of a bench, and are wanted.

    Raises
    ------
    UsageError
        If there is no bench, or the file is there already, lies among what is copied or does not
        fit.
    BenchFault
        If the medium fails or is full.
    """
    pieces = Pieces(bench_path, with_key=with_key, also=also)
    _refuse(bench_path, pieces, file)
    made_utc = datetime.now(UTC).isoformat(timespec="seconds")
    with in_one_sentence(file), _new_file(file) as stream:
        archive = Archive(stream)
        try:
            for piece in pieces.walk():
                progress(msg("copying {file}", file=piece.name))
                _add(archive, piece, pieces.wrong)
            wrong = [{"file": fault.name, "what": str(fault.what)} for fault in pieces.wrong]
            archive.finish(Manifest(made_utc, pieces.folders, pieces.running, wrong))
        finally:
            archive.give_up()
    count = len(archive.files)
    size = sum(listed.length_bytes for listed in archive.files.values())
    head = msg("{file}: {count} files, {size}", file=str(file), count=count, size=Amount(size, "B"))
    said = [head, *_cautions(bench_path, file, pieces, PRIVATE_KEY in archive.files)]
    said += [
        msg(
            "{soak} runs: its journal is copied as it stood; read back, it is a soak that was "
            "cut off",
            soak=soak,
        )
        for soak in pieces.running
    ]
    said += minds("", pieces.wrong)
    return Made(joined("\n", said), ExitCode.INCOMPLETE if pieces.wrong else ExitCode.DONE)


def _add(archive: Archive, piece: Piece, wrong: list[Fault]) -> None:
    try:
        source = opened(piece.path)
    except FileNotFoundError:
        return  # a running soak took it away meanwhile
    except OSError as fault:
        wrong.append(Fault(piece.name, cannot_be_read(fault)))
        return
    with source:
        stream = source if piece.content is None else BytesIO(piece.content)
        broken = archive.add(piece.name, stream, os.fstat(source.fileno()))
    if broken is not None:
        why = str(broken.strerror)
        wrong.append(
            Fault(
                piece.name, msg("could be read only so far, and so far it is in it: {why}", why=why)
            )
        )


def _refuse(bench_path: Path, pieces: Pieces, file: Path) -> None:
    if not is_file(BenchFolder(bench_path).ledger):
        raise UsageError(
            msg(
                "{folder}: holds no bench: there is no ledger; check --bench",
                folder=str(bench_path),
            )
        )
    for name in pieces.also:
        if not stays_inside(name) or "/" in name or not os.path.lexists(bench_path / name):
            raise UsageError(
                msg("--also {name}: there is nothing of that name in the bench's folder", name=name)
            )
    if os.path.lexists(file):
        raise UsageError(
            msg(
                "{file}: is there already, and no backup is written over; name a new one",
                file=str(file),
            )
        )
    if not is_folder(file.parent):
        raise UsageError(msg("{folder}: there is no such folder", folder=str(file.parent)))
    for root in pieces.roots():
        if file.resolve().is_relative_to(root.resolve()):
            raise UsageError(
                msg(
                    "{file}: lies within {own}, the bench's own records; name a place elsewhere",
                    file=str(file),
                    own=str(root),
                )
            )
    refuse_what_does_not_fit(file.parent, pieces.size_bytes())


@contextmanager
def _new_file(file: Path) -> Iterator[BinaryIO]:
    """Give a file that only its owner reads, and that has its name only at the end."""
    part = file.with_name(f".{file.name}.part")
    handle = os.open(part, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
    try:
        with os.fdopen(handle, "w+b") as stream:
            _hold(stream, file)
            stream.truncate(0)
            yield stream
        if os.path.lexists(file):
            raise UsageError(
                msg("{file}: was made by somebody meanwhile; name another", file=str(file))
            )
        part.rename(file)
        sync_folder(file.parent)
    except _Held:
        raise UsageError(
            msg("{file}: another `soak backup` is writing it", file=str(file))
        ) from None
    except BaseException:
        part.unlink(missing_ok=True)
        raise


class _Held(Exception):
    """Report that another program writes a backup of the same name."""


def _hold(stream: BinaryIO, file: Path) -> None:
    """Hold a file that is being written; what a killed program left is held by nobody."""
    if sys.platform == "win32":
        return
    import fcntl

    try:
        fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise _Held from None
    except OSError:
        return  # a medium that knows no locks


def _cautions(bench_path: Path, file: Path, pieces: Pieces, has_key: bool) -> Iterator[Message]:
    if has_key:
        yield msg(
            "MIND: it holds the bench's private key: whoever has this file can sign reports as "
            "this bench; keep it as you keep the key, or make one --without-key"
        )
    elif is_file(bench_path / PRIVATE_KEY):
        yield msg(
            "without the bench's private key: keep a copy of {key} elsewhere", key=PRIVATE_KEY
        )
    if file.resolve().is_relative_to(bench_path.resolve()):
        yield msg(
            "MIND: it lies in the bench's own folder, and goes when that goes; move it elsewhere"
        )
    elif file.stat().st_dev == bench_path.stat().st_dev:
        yield SAME_DISK
    others = [name for name in pieces.not_taken() if name != file.name]
    if others:
        named = [*others[:_NAMES], *(["..."] if len(others) > _NAMES else [])]
        yield msg(
            "not of the bench, and left out: {names} (--also NAME takes it along)",
            names=joined(", ", named),
        )
