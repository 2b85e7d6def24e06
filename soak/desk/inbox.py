"""Requests to a running soak from another terminal."""

import getpass
from pathlib import Path
from typing import Any

from soak.desk.bench_card import read_bench
from soak.desk.bench_folder import BenchFolder
from soak.errors import UsageError
from soak.journal import open_evidence
from soak.journal.ownership import is_owned
from soak.live.prompt import initials_of, read_photograph, understood, why_not
from soak.records import Mark
from soak.roles import Question
from soak.run.inbox import Request, send


def stop(bench: Path, soak: str, why: str) -> str:
    """Ask a running soak to end."""
    folder = _running(bench, soak)
    send(folder, Request("stop", getpass.getuser(), {"why": why}))
    return f"{folder.name}: asked to stop; it switches off, seals and grades"


def note(bench: Path, soak: str, text: str, *, was_me: bool, minutes: float) -> str:
    """Put the operator's word on record in a running soak."""
    if not 0 <= minutes <= 24 * 60:
        raise UsageError(f"--minutes {minutes:g}: give how many minutes back, 0 to 1440")
    folder = _running(bench, soak)
    detail = {"text": text, "was_me": was_me, "ago_s": minutes * 60}
    send(folder, Request("note", getpass.getuser(), detail))
    return f"{folder.name}: noted"


def answer(
    bench: Path,
    soak: str,
    question: str,
    said: str,
    photograph: Path | None = None,
    by: str = "",
) -> str:
    """Answer a question of a running soak, with a photograph and initials if there are any.

    Raises
    ------
    UsageError
        If it is no answer, or the question wants a photograph or initials that are not given.
    """
    if said.strip().lower() not in _WORDS:
        _number(said)
    folder = _running(bench, soak)
    given = _understood(folder, question, said)
    attached = b"" if photograph is None else read_photograph(photograph)
    detail: dict[str, Any] = {"id": question, "answer": given}
    asked = [one for one in open_evidence(folder).marks("question") if one.detail["id"] == question]
    if asked and asked[-1].detail.get("initials"):
        detail["initials"] = _judged(BenchFolder(bench), asked[-1], given, attached, by)
    send(folder, Request("answer", getpass.getuser(), detail, attached=attached))
    return f"{folder.name}: answered{' with a photograph' if attached else ''}"


def _judged(bench: BenchFolder, asked: Mark, given: str | float, attached: bytes, by: str) -> str:
    """Return whose initials go to an answer that is evidence."""
    if given not in ("yes", "no"):
        raise UsageError(f"{given!r} is not an answer to {asked.detail['id']!r}; say yes or no")
    if asked.detail.get("photograph") == "must" and not attached:
        raise UsageError(f"{asked.detail['id']!r} wants a photograph; give --photograph FILE")
    initials = initials_of(by or read_bench(bench).operator)
    if not initials:
        raise UsageError(f"{asked.detail['id']!r} is judged by hand; say who with --by INITIALS")
    return initials


def _understood(folder: Path, question: str, said: str) -> str | float:
    """Return the answer as what was asked takes it.

    Raises
    ------
    UsageError
        If it is none.
    """
    marks = open_evidence(folder).marks("question")
    expects = [mark.detail["expects"] for mark in marks if mark.detail.get("id") == question]
    if not expects or expects[-1] == "number":
        return said.lower() if not expects and said.lower() in _WORDS else _number(said)
    asked = Question(question, "", expects[-1])
    given = understood(asked, said)
    if given is None or not said.strip():
        raise UsageError(f"{question}: {why_not(asked, said)}")
    return given


_WORDS = ("yes", "no", "done", "y", "n")


def _number(said: str) -> float:
    asked = Question("", "", "number", "degC")
    found = understood(asked, said)
    if isinstance(found, float):
        return found
    why = why_not(asked, said)
    plain = f"{said!r} is not an answer; say yes, no, done or a number"
    raise UsageError(why if "Fahrenheit" in why else plain)


def _running(bench: Path, soak: str) -> Path:
    """Return the folder of a soak that runs now."""
    folder = BenchFolder(bench).find_soak(soak)
    if open_evidence(folder).seal is not None:
        raise UsageError(f"{folder.name}: has ended already; see `soak show {folder.name}`")
    if not is_owned(folder):
        again = f"soak resume {folder.name}"
        raise UsageError(f"{folder.name}: is not running, it was cut off; go on with `{again}`")
    return folder
