"""A unit and a fixture are in one soak at a time, whichever program soaks them."""

import hashlib
import json
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from soak.errors import UsageError
from soak.frozen.fixture import Fixture
from soak.outside import json_of, read_bytes
from soak.words import Message, msg

FOLDER = ".in-use"


def of_unit(tag: str) -> Mapping[str, str]:
    """Return what is taken by soaking a unit: a key no other thing has, and its name."""
    return {f"unit {tag.lower()}": tag}


def of_fixture(fixture: Fixture) -> Mapping[str, str]:
    """Return what is taken by using a fixture, under whatever name its file is reached.

    Its ports and channels are taken, too: a copy of the file is wired to the same instruments.
    """
    claims = {f"fixture {Path(fixture.file).resolve()}": fixture.file}
    for source, _, wired in fixture.entries():
        for port, part in wired.claims():
            claims[f"port {port} {part}"] = (
                f"{source} of {fixture.file} ({port} {part}".rstrip() + ")"
            )
    return claims


@contextmanager
def in_use(
    reports: Path, things: Mapping[str, str], by: str, *, waits: bool = False
) -> Iterator[None]:
    """Hold things for this process; the system lets go of them if it dies.

    Parameters
    ----------
    reports : Path
        The folder of the bench's soaks; the locks lie within.
    things : mapping of key to name
    by : str
        What holds them: a soak's id, or a command.
    waits : bool
        Wait until nobody else holds them, which is soon, instead of refusing.

    Raises
    ------
    UsageError
        If another program, or this one, holds one of them: which, and how to end it.
    """
    with ExitStack() as held:
        for key, name in things.items():
            held.enter_context(_held(reports / FOLDER, key, name, by, waits=waits))
        yield


@contextmanager
def _held(folder: Path, key: str, name: str, by: str, *, waits: bool) -> Iterator[None]:
    if sys.platform == "win32":
        yield
        return
    import fcntl

    file = folder / f"{hashlib.sha256(key.encode()).hexdigest()[:16]}.lock"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle = os.open(file, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as fault:
        raise UsageError(
            msg("{folder}: cannot be written: {why}", folder=str(folder), why=str(fault.strerror))
        ) from None
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | (0 if waits else fcntl.LOCK_NB))
        except OSError:
            raise UsageError(
                msg("{name} is in use: {file}", name=name, file=_holder(file))
            ) from None
        with suppress(OSError):  # a full disk: the lock holds, and only its words are missing
            os.truncate(handle, 0)
            os.write(handle, json.dumps({"thing": key, "by": by, "process": os.getpid()}).encode())
        yield
    finally:
        os.close(handle)


def _holder(file: Path) -> Message:
    """Say who holds a thing, and how to end that."""
    try:
        content = json_of(read_bytes(file))
        by = str(content["by"])
        process = int(content["process"])
    except (OSError, ValueError, TypeError, KeyError):
        return msg("another program of soak's runs with it; end that first")
    if " " in by:
        return msg("`{by}` runs with it, process {process}; end that first", by=by, process=process)
    return msg(
        "{by} runs with it, process {process}; `soak stop {by}` ends that", by=by, process=process
    )
