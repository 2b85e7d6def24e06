"""The inbox of a running soak: requests are files renamed into a folder.

Crash-safe, needs no port and no secret: who may write into the soak's folder may ask.
"""

import json
import uuid
from collections.abc import AsyncIterator, Collection
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, Literal, cast

import trio

from soak.errors import UsageError
from soak.outside import json_of, read_bytes
from soak.records import Json
from soak.roles import Given
from soak.words import msg

_LOOK_EVERY_S = 0.5
"""The inbox is looked into so often, s. Our own choice: who types waits no longer."""
_WHAT = ("stop", "answer", "note", "end stretch")


@dataclass(frozen=True, slots=True)
class Request:
    """What somebody asks of a running soak.

    Attributes
    ----------
    what : str
        `stop`; `answer` (detail: id, answer); `note` (detail: text, was_me, ago_s);
        `end stretch`.
    by : str
        Who asks.
    attached : bytes
        A photograph that comes with an answer, a JPEG; empty if none does.
    """

    what: Literal["stop", "answer", "note", "end stretch"]
    by: str
    detail: Json = field(default_factory=dict)
    id: str = field(default_factory=lambda: uuid.uuid4().hex)
    attached: bytes = b""


def send(soak_folder: Path, request: Request) -> None:
    """Put a request into the inbox of a soak.

    Raises
    ------
    UsageError
        If the folder is not that of a soak, or cannot be written.
    """
    inbox = soak_folder / "inbox"
    if not inbox.is_dir():
        raise UsageError(
            msg(
                "{soak_folder}: is not a running soak; see `soak show`",
                soak_folder=str(soak_folder),
            )
        )
    hidden = inbox / f".{request.id}"
    final = inbox / f"{request.id}.json"
    plain = {key: value for key, value in asdict(request).items() if key != "attached"}
    try:
        if request.attached:
            (inbox / f"{request.id}.jpg").write_bytes(request.attached)
        hidden.write_text(json.dumps(plain), encoding="utf-8")
        hidden.replace(final)
    except OSError as fault:
        raise UsageError(
            msg("{inbox}: cannot be written: {why}", inbox=str(inbox), why=str(fault.strerror))
        ) from None


def given(request: Request) -> tuple[str, Given, str]:
    """Return which question a request answers, with what, and who does."""
    detail = request.detail
    answer = Given(detail.get("answer", ""), request.attached, str(detail.get("initials", "")))
    return str(detail.get("id")), answer, request.by


async def requests(soak_folder: Path, only: Collection[str] = _WHAT) -> AsyncIterator[Request]:
    """Yield requests as they arrive; each file is removed once taken. Ends never.

    Parameters
    ----------
    only : collection of str
        What is taken; the rest stays for whoever reads the inbox later.
    """
    inbox = soak_folder / "inbox"
    while True:
        for file in sorted(inbox.glob("*.json")):
            request = _take(file, only)
            if request is not None:
                yield request
        await trio.sleep(_LOOK_EVERY_S)


def _take(file: Path, only: Collection[str]) -> Request | None:
    """Read and remove one request; None if it is not one (somebody else's file), or stays."""
    try:
        data = cast(dict[str, Any], json_of(read_bytes(file)))
        request = _checked(Request(**data))
        if request.what not in only:
            return None
        with suppress(FileNotFoundError):
            request = replace(request, attached=read_bytes(file.with_suffix(".jpg")))
    except (OSError, ValueError, TypeError):
        request = None
    for used in (file, file.with_suffix(".jpg")):
        with suppress(OSError):
            used.unlink(missing_ok=True)
    return request


def _checked(request: Request) -> Request:
    """Refuse a request that was not written by `send`: it must not end a night."""
    if request.what not in _WHAT or not isinstance(request.detail, dict):
        raise ValueError(f"{request.what!r} cannot be asked")
    ago_s = request.detail.get("ago_s", 0.0)
    if not isinstance(ago_s, int | float) or not 0 <= ago_s < 1e7:
        raise ValueError(f"{ago_s!r} is not a length of time")
    answer = request.detail.get("answer", "")
    if not isinstance(answer, str | int | float):
        raise ValueError(f"{answer!r} is not an answer")
    return request
