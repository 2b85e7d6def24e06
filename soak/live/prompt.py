"""What is typed to a question: understood, or told why it is no answer; and what is asked first."""

import re
import sys
from pathlib import Path

import trio

from soak.errors import UsageError, told_of
from soak.outside import read_bytes
from soak.reader import show, spoken_code
from soak.roles import Given, Operator, Question
from soak.rules.answered import answer_words
from soak.words import NOTHING_SAID, Message, Number, Tell, joined, msg

_NUMBER = re.compile(r"([+-]?\d+(?:[.,]\d*)?)\s*([^\d\s]*)")
_UNITS = {"degC": ("degc", "c", "°c"), "A": ("a",), "V": ("v",), "W": ("w",)}
_FAHRENHEIT = ("degf", "f", "°f", "fahrenheit")
_INITIALS = re.compile(r"[^\W\d_][\w. -]{0,19}")
_YES = ("y", "yes", "j", "ja")
_NO = ("n", "no", "nein")
_READY = ("", "done", "fertig", "erledigt")
_WORDS = {**dict.fromkeys(_YES, "yes"), **dict.fromkeys(_NO, "no")}
"""Answers are taken in every language that questions are asked in, whichever the screen speaks:
who reads over a shoulder answers, too."""
_DONE = {**dict.fromkeys((*_READY, *_YES), "done"), **dict.fromkeys(_NO, "no")}


def understood(question: Question, typed: str) -> str | float | None:
    """Return what was typed as the answer it is, or None."""
    text = typed.strip().lower()
    if question.expects == "done":
        return _DONE.get(text)
    if question.expects == "yes/no":
        return _WORDS.get(text)
    match = _NUMBER.fullmatch(text)
    if match is None or match[2] not in ("", *_UNITS.get(question.unit, (question.unit.lower(),))):
        return None
    return float(match[1].replace(",", "."))


def is_word(typed: str) -> bool:
    """Tell whether what was typed is an answer in a word, not a number."""
    return bool(typed.strip()) and typed.strip().lower() in _DONE


def why_not(question: Question, typed: str) -> Message:
    """Say why what was typed is no answer, and what would be."""
    if question.unit == "degC" and (why := fahrenheit(typed)):
        return why
    return msg("{typed} is not an answer; {hint}", typed=repr(typed), hint=hint(question))


def fahrenheit(typed: str) -> Message:
    """Say what a temperature in Fahrenheit is in degC; empty if it is none."""
    match = _NUMBER.fullmatch(typed.strip().lower())
    if match is None or match[2] not in _FAHRENHEIT:
        return NOTHING_SAID
    degc = (float(match[1].replace(",", ".")) - 32) / 1.8
    return msg(
        "{typed} is Fahrenheit: that is {degc} degC; type it in degC",
        typed=repr(typed.strip()),
        degc=Number(degc, ".1f"),
    )


def initials_of(typed: str) -> str:
    """Return what was typed as initials or a name; empty if it is none."""
    text = typed.strip()
    # "JA" is somebody's initials, and a German's yes.
    no_name = {*_WORDS, *_READY} - ({"j", "ja"} if spoken_code() == "en" else set())
    return text if _INITIALS.fullmatch(text) and text.lower() not in no_name else ""


def taken(question: Question, typed: str) -> Given | Message:
    """Return what was typed as the answer it is, or say why it is none."""
    answer = understood(question, typed)
    if answer is None:
        return with_photograph(question, typed) or why_not(question, typed)
    if question.photograph == "must":
        return msg(
            "a photograph is wanted with it: type {answer} and the photograph's file",
            answer=typed.strip(),
        )
    return Given(answer)


def with_photograph(question: Question, typed: str) -> Given | Message:
    """Return an answer with the photograph whose file stands behind it.

    Returns
    -------
    Given or Message
        Why not, where the answer is one and the file is not; empty where it is no answer either.
    """
    first, _, file = typed.strip().partition(" ")
    answer = understood(question, first)
    if not question.photograph or answer is None:
        return NOTHING_SAID
    try:
        return Given(answer, read_photograph(Path(file.strip().strip("'\""))))
    except UsageError as fault:
        return told_of(fault)


def read_photograph(file: Path) -> bytes:
    """Return a photograph as it is kept.

    Raises
    ------
    UsageError
        If the file cannot be read, or is no JPEG or PNG.
    """
    from soak.measure.photograph import prepared

    try:
        return prepared(read_bytes(file.expanduser()))
    except OSError as fault:
        why = str(fault.strerror)
        raise UsageError(msg("{file}: cannot be read: {why}", file=str(file), why=why)) from None
    except ValueError as fault:
        why = msg(
            "{file}: {why}; give a JPEG or PNG photograph", file=str(file), why=told_of(fault)
        )
        raise UsageError(why) from None


def yes_or_no(text: Message) -> bool:
    """Ask before anything runs; what cannot be answered any more is a no."""
    question = Question("", text, "yes/no")
    while True:
        typed = asked(joined(" ", [text, hint(question)]))
        if not typed:
            return False
        answer = understood(question, typed)
        if answer is not None:
            return answer == "yes"
        show(why_not(question, typed.strip()))


def asked(question: Message) -> str:
    """Ask before anything runs; return the line that is typed, empty where nothing can be."""
    show(question, end=" ")
    try:
        return sys.stdin.readline()
    except (OSError, ValueError):  # the window was closed, or what came is no text
        return ""


def as_wanted(say: Tell) -> Operator:
    """Return an operator for simulated time who gives the wanted answer and says so."""

    async def answer(question: Question) -> str | float | Given | None:
        await trio.sleep(1.0)
        given = question.wanted or {"done": "done", "yes/no": "yes"}.get(question.expects)
        text = msg(
            "{question} (simulated operator: {answer})",
            question=question.text,
            answer=answer_words(given),
        )
        say(text)
        if given is None or not question.initials:
            return given
        return Given(given, initials="simulated operator")

    return answer


def hint(question: Question) -> Message:
    """Say what can be typed to a question."""
    match question.expects, question.photograph:
        case "done", _:
            return msg("(Enter when done, or no)")
        case "yes/no", "may":
            return msg("(yes or no, then a photograph's file if you like)")
        case "yes/no", "must":
            return msg("(yes or no, then a photograph's file)")
        case "yes/no", _:
            return msg("(yes or no)")
        case _, "may":
            return msg(
                "(a number in {unit}, then a photograph's file if you like)", unit=question.unit
            )
        case _, "must":
            return msg("(a number in {unit}, then a photograph's file)", unit=question.unit)
    return msg("(a number in {unit})", unit=question.unit)
