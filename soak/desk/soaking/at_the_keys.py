"""What is typed in the window of a running soak, and is no answer: a note, or to stop."""

import getpass
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from soak.errors import UsageError, told_of
from soak.run.inbox import Request, send
from soak.words import Message, all_of, msg

_NOTE = ("note", "notiz")
_STOP = ("stop", "stopp")
"""Taken in every language, whichever the screen speaks, as answers are."""
_TYPED = re.compile(r"\s*(\w+)(?:\s+(.*?))?\s*", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Commands:
    """Takes lines by way of a soak's inbox, as `soak note` and `soak stop` do.

    Parameters
    ----------
    folders : mapping of tag to Path
        Of the soaks that this window shows.
    """

    folders: Mapping[str, Path]

    def __call__(self, typed: str) -> Message | None:
        """Do what a line says; return what to say to it, or None if it is no command."""
        read = _TYPED.fullmatch(typed)
        word = read[1].lower() if read else ""
        if read is None or word not in (*_NOTE, *_STOP):
            return None
        tag, text = self._of_which(read[2] or "")
        if not tag:
            tags = all_of(self.folders)
            return msg("of which unit? Type its tag behind {word}: {tags}", word=word, tags=tags)
        try:
            return _noted(self.folders[tag], tag, text) if word in _NOTE else self._stop(tag, text)
        except UsageError as fault:
            return told_of(fault)

    def _of_which(self, text: str) -> tuple[str, str]:
        """Return the tag of a unit, empty where none is named among several; and the rest."""
        first, _, rest = text.partition(" ")
        named = next((tag for tag in self.folders if tag.lower() == first.lower()), "")
        if named:
            return named, rest.strip()
        return (next(iter(self.folders)), text) if len(self.folders) == 1 else ("", text)

    def _stop(self, tag: str, why: str) -> Message:
        send(self.folders[tag], Request("stop", getpass.getuser(), {"why": why}))
        return msg("{soak}: asked to stop; it switches off, seals and grades", soak=tag)


def _noted(folder: Path, tag: str, text: str) -> Message:
    if not text:
        return msg("nothing to note: type what you did or saw behind it")
    detail = {"text": text, "was_me": False, "ago_s": 0.0}
    send(folder, Request("note", getpass.getuser(), detail))
    return msg("{soak}: noted", soak=tag)
