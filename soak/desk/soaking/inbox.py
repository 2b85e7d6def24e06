"""Requests to a running soak from another terminal."""

import getpass
from pathlib import Path
from typing import Any

from soak.desk.bench_card import read_bench
from soak.desk.bench_folder import BenchFolder
from soak.errors import UsageError
from soak.journal import JournalEvidence, open_evidence
from soak.journal.ownership import is_owned
from soak.live.prompt import fahrenheit, initials_of, is_word, read_photograph, understood, why_not
from soak.marks import Answered, QuestionAsked, facts
from soak.roles import Question
from soak.rules.answered import answer_words
from soak.run.asking import ASKED, open_question
from soak.run.inbox import Request, send
from soak.words import NOTHING_SAID, Message, Number, joined, msg


def stop(bench: Path, soak: str, why: str) -> Message:
    """Ask a running soak to end."""
    folder = running(bench, soak)
    send(folder, Request("stop", getpass.getuser(), {"why": why}))
    return msg("{soak}: asked to stop; it switches off, seals and grades", soak=folder.name)


def note(bench: Path, soak: str, text: str, *, was_me: bool, minutes: float) -> Message:
    """Put the operator's word on record in a running soak."""
    if not 0 <= minutes <= 24 * 60:
        raise UsageError(
            msg(
                "--minutes {minutes}: give how many minutes back, 0 to 1440",
                minutes=Number(minutes, "g"),
            )
        )
    folder = running(bench, soak)
    detail = {"text": text, "was_me": was_me, "ago_s": minutes * 60}
    send(folder, Request("note", getpass.getuser(), detail))
    return msg("{soak}: noted", soak=folder.name)


def answer(
    bench: Path,
    soak: str,
    question: str,
    said: str,
    photograph: Path | None = None,
    by: str = "",
) -> Message:
    """Answer a question of a running soak, with a photograph and initials if there are any.

    Raises
    ------
    UsageError
        If it is no answer, or the question wants a photograph or initials that are not given.
    """
    if not is_word(said):
        _number(said)
    folder = running(bench, soak)
    given = _understood(folder, question, said)
    attached = b"" if photograph is None else read_photograph(photograph)
    detail: dict[str, Any] = {"id": question, "answer": given}
    asked = _asked(folder, question)
    if asked is not None and asked.initials:
        detail["initials"] = _judged(BenchFolder(bench), asked, given, attached=attached, by=by)
    send(folder, Request("answer", getpass.getuser(), detail, attached=attached))
    if attached:
        return msg("{soak}: answered with a photograph", soak=folder.name)
    return msg("{soak}: answered", soak=folder.name)


def _judged(
    bench: BenchFolder, asked: QuestionAsked, given: str | float, attached: bytes, by: str
) -> str:
    """Return whose initials go to an answer that is evidence."""
    if given not in ("yes", "no"):
        raise UsageError(
            msg(
                "{answer} is not an answer to {question}; say yes or no",
                answer=repr(given),
                question=repr(asked.id),
            )
        )
    if asked.photograph == "must" and not attached:
        raise UsageError(
            msg("{question} wants a photograph; give --photograph FILE", question=repr(asked.id))
        )
    initials = initials_of(by or read_bench(bench).operator)
    if not initials:
        raise UsageError(
            msg("{question} is judged by hand; say who with --by INITIALS", question=repr(asked.id))
        )
    return initials


def _asked(folder: Path, question: str) -> QuestionAsked | None:
    """Return what was asked last under an id, be it before there was a journal; None if nothing."""
    if (early := open_question(folder)) is not None:
        return early if early.id == question else None
    evidence = open_evidence(folder)
    questions = facts(evidence, QuestionAsked)
    _refuse_answered(evidence, question)
    return next((asked for _, asked in reversed(questions) if asked.id == question), None)


def _refuse_answered(evidence: JournalEvidence, question: str) -> None:
    """Refuse to answer what was answered already, by somebody else or by nobody."""
    asked = [fact for _, fact in facts(evidence, QuestionAsked) if fact.id == question]
    answers = [fact for _, fact in facts(evidence, Answered) if fact.id == question]
    if not asked or len(answers) < len(asked):
        return
    answer = answers[-1]
    if answer.answer is None:
        raise UsageError(msg("{question}: nobody answered in time", question=question))
    raise UsageError(
        msg(
            "{question}: was answered already: {answer} ({by})",
            question=question,
            answer=answer_words(answer.answer),
            by=answer.by,
        )
    )


def _understood(folder: Path, question: str, said: str) -> str | float:
    """Return the answer as what was asked takes it.

    Raises
    ------
    UsageError
        If it is none.
    """
    question_ = _asked(folder, question)
    if question_ is None or question_.expects == "number":
        return said.lower() if question_ is None and is_word(said) else _number(said)
    asked = Question(question, NOTHING_SAID, question_.expects)
    given = understood(asked, said)
    if given is None or not said.strip():
        raise UsageError(joined(": ", [question, why_not(asked, said)]))
    return given


def _number(said: str) -> float:
    asked = Question("", NOTHING_SAID, "number", "degC")
    answer = understood(asked, said)
    if isinstance(answer, float):
        return answer
    plain = msg("{typed} is not an answer; say yes, no, done or a number", typed=repr(said))
    raise UsageError(fahrenheit(said) or plain)


def running(bench: Path, soak: str) -> Path:
    """Return the folder of a soak that runs now, or asks before it begins."""
    asking = _asking(BenchFolder(bench), soak)
    if asking is not None:
        return asking
    folder = BenchFolder(bench).find_soak(soak)
    if open_evidence(folder).seal is not None:
        raise UsageError(msg("{soak}: has ended already; see `soak show {soak}`", soak=folder.name))
    if not is_owned(folder):
        raise UsageError(
            msg(
                "{soak}: is not running, it was cut off; go on with `soak resume {soak}`",
                soak=folder.name,
            )
        )
    return folder


def _asking(bench: BenchFolder, soak: str) -> Path | None:
    """Return the folder of a soak that has a question open and no record of it yet."""
    paths = [file.parent for file in bench.reports.glob(f"*/{ASKED}") if is_owned(file.parent)]
    named = [folder for folder in paths if folder.name.startswith("" if soak == "last" else soak)]
    exact = [folder for folder in named if folder.name == soak]
    at_hand = exact or named
    return at_hand[0] if len(at_hand) == 1 else None
