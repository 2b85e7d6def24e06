"""Ask the operator at the terminal, and answer for a simulated one."""

import re
import sys
import threading
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import TextIO

import trio

from soak.errors import UsageError, told_of
from soak.outside import read_bytes
from soak.reader import show, spoken_code
from soak.roles import Given, Operator, Question
from soak.rules.answered import answer_words
from soak.words import NOTHING_SAID, Amount, Message, Number, Said, Tell, joined, msg

_NUMBER = re.compile(r"([+-]?\d+(?:[.,]\d*)?)\s*([^\d\s]*)")
_UNITS = {"degC": ("degc", "c", "°c"), "A": ("a",), "V": ("v",), "W": ("w",)}
_FAHRENHEIT = ("degf", "f", "°f", "fahrenheit")
_INITIALS = re.compile(r"[^\W\d_][\w. -]{0,19}")
_ANOTHER = re.compile(r"\s*(?:by|von)\s(.*)", re.IGNORECASE)
"""Stands before the initials of somebody else than who judged so far."""
_YES = ("y", "yes", "j", "ja")
_NO = ("n", "no", "nein")
_READY = ("", "done", "fertig", "erledigt")
_WORDS = {**dict.fromkeys(_YES, "yes"), **dict.fromkeys(_NO, "no")}
"""Answers are taken in every language that questions are asked in, whichever the screen speaks:
who reads over a shoulder answers, too."""
_DONE = {**dict.fromkeys((*_READY, *_YES), "done"), **dict.fromkeys(_NO, "no")}


class TerminalOperator:
    """Ask one question at a time; where nobody sits at a terminal, wait for the inbox.

    Parameters
    ----------
    by : str
        Initials of the one who works here; empty: asked for once, where an answer wants them.
    """

    def __init__(
        self, out: TextIO | None = None, read: Callable[[], str] = input, by: str = ""
    ) -> None:
        self._out = out or sys.stderr
        self._lines = TypedLines(read)
        self._lock = trio.Lock()
        self._by = by

    async def __call__(self, question: Question) -> str | float | Given | None:
        if not sys.stdin.isatty():
            await self._elsewhere(question)
        async with self._lock:
            self._lines.forget()
            while True:
                asked = joined(" ", [question.text, _hint(question), self._signing(question)])
                self._say(joined("", ["\n", asked, " "]))
                typed = await self._lines.next()
                if typed is None:
                    self._say(joined("", ["\n", msg("nothing can be typed here any more."), " "]))
                    await self._elsewhere(question)
                    continue
                if question.initials and (another := _ANOTHER.fullmatch(typed)):
                    self._by = initials_of(another[1])
                    continue
                answer = await trio.to_thread.run_sync(taken, question, typed)
                if isinstance(answer, Given):
                    return await self._signed(question, answer)
                self._say(joined("", [answer, "\n"]))

    def _signing(self, question: Question) -> Message:
        if not (question.initials and self._by):
            return NOTHING_SAID
        return msg("(judged by {by}; somebody else first types: by INITIALS)", by=self._by)

    async def _signed(self, question: Question, answer: Given) -> str | float | Given:
        """Put initials to an answer that wants them; asked for once."""
        while question.initials and not self._by:
            self._say(joined("", [msg("Who judged? Initials:"), " "]))
            typed = await self._lines.next()
            if typed is None:
                await self._elsewhere(question)
            self._by = initials_of(typed or "")
        if question.initials:
            return answer._replace(initials=self._by)
        return answer if answer.photograph else answer.value

    async def _elsewhere(self, question: Question) -> None:
        how = answer_with(question)
        if not question.soak:
            how = msg(
                "Nobody can answer here, for it is no terminal: soak waits {time}, then goes on "
                "without an answer",
                time=Amount(question.wait_s, "s"),
            )
        self._say(joined("", [question.text, " ", how, "\n"]))
        await trio.sleep_forever()

    def _say(self, told: Said) -> None:
        show(told, self._out, end="")


def answer_with(question: Question) -> Message:
    """Say by which command a question can be answered from elsewhere."""
    if question.initials:
        return msg(
            "Answer with: soak answer {soak} {question} ... --by INITIALS",
            soak=question.soak,
            question=repr(question.id),
        )
    return msg(
        "Answer with: soak answer {soak} {question} ...",
        soak=question.soak,
        question=repr(question.id),
    )


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
    return msg("{typed} is not an answer; {hint}", typed=repr(typed), hint=_hint(question))


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
        typed = asked(joined(" ", [text, _hint(question)]))
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


def _hint(question: Question) -> Message:
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


class TypedLines:
    """Read lines in a thread of its own.

    Parameters
    ----------
    read : callable
        Returns the next line; raises EOFError or OSError where there is none any more.
    """

    def __init__(self, read: Callable[[], str]) -> None:
        self._read = read
        self._typed: deque[str | None] = deque()
        self._came = trio.Event()
        self._reads = False

    def forget(self) -> None:
        """Drop what was typed before: it answers no question that is yet to be asked."""
        self._typed.clear()

    async def next(self) -> str | None:
        """Return the next line that is typed; None where nothing can be typed any more."""
        if not self._reads:
            self._reads = True
            token = trio.lowlevel.current_trio_token()
            threading.Thread(target=self._go_on, args=(token,), daemon=True).start()
        while not self._typed:
            self._came = trio.Event()
            await self._came.wait()
        return self._typed.popleft()

    def _go_on(self, token: trio.lowlevel.TrioToken) -> None:
        line: str | None = ""
        while line is not None:
            try:
                line = self._read()
            except (EOFError, OSError, ValueError):  # closed, hung up, or not to be decoded
                line = None
            try:
                trio.from_thread.run_sync(self._hand_over, line, trio_token=token)
            except (trio.RunFinishedError, trio.Cancelled):
                return

    def _hand_over(self, line: str | None) -> None:
        self._reads = line is not None
        self._typed.append(line)
        self._came.set()
