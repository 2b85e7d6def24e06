"""Questions of instruments worked by hand: on record, answered from anywhere, with a photograph."""

import hashlib
from contextlib import aclosing
from pathlib import Path

import cv2
import numpy as np
import pytest
import trio
from bench_tools import nobody
from headers import bare_header

from soak.bench.drivers.by_hand import HandProbe, ProbeByHand
from soak.clock import LeapingClock
from soak.desk.soaking import inbox as desk
from soak.errors import UsageError
from soak.journal import MemoryJournal
from soak.live.prompt import with_photograph
from soak.quantities import Quantity
from soak.records import Mark, Reading, kind_of
from soak.roles import Given, Question
from soak.run.hub import Hub
from soak.run.inbox import Request, requests, send
from soak.run.questions import Questions

JPEG = bytes(cv2.imencode(".jpg", np.full((20, 30, 3), 90, np.uint8))[1].tobytes())
NUMBER = Question("probe.heatsink.1", "How many degC?", "number", "degC", 60.0, photograph="may")
DEGC = Quantity("probe.heatsink", "degC", "probe.heatsink")
HEADER = bare_header(quantities=(DEGC,))


async def _of(reply, question: Question, journal: MemoryJournal, clock: LeapingClock):
    hub = Hub(journal, lambda fault: pytest.fail(str(fault)))

    async def ask(asked: Question):
        await trio.sleep(2.0)
        return reply

    return await Questions(ask, hub, clock).put(question, "", "by hand")


def put(reply) -> tuple[object, MemoryJournal]:
    """Ask one question; return what the driver gets, and the journal."""
    clock = LeapingClock()
    journal = MemoryJournal(HEADER, clock=clock)
    return trio.run(_of, reply, NUMBER, journal, clock, clock=clock), journal


def test_the_driver_gets_the_number_and_the_journal_the_photograph():
    """The file stands in the journal before the answer that names it."""
    value, journal = put(Given(41.5, JPEG))
    assert value == 41.5
    evidence = journal.evidence
    (kept,) = evidence.kept_files()
    assert evidence.kept_bytes(kept) == JPEG
    assert kept.sha256 == hashlib.sha256(JPEG).hexdigest()
    assert (kept.of, kept.detail["shows"]) == ("probe.heatsink.1", "photograph")
    question, answer = evidence.marks()
    assert (question.what, answer.what) == ("question", "answer")
    assert answer.detail["photograph"] == kept.name
    assert answer.detail["answer"] == 41.5


def test_a_number_alone_keeps_no_photograph():
    """It is optional."""
    value, journal = put(41.5)
    assert value == 41.5
    assert journal.evidence.kept_files() == []
    assert "photograph" not in journal.evidence.marks("answer")[0].detail


def test_a_reading_by_hand_follows_its_photograph(tmp_path):
    """The driver's reading comes of the answer, so the picture is in the journal before it."""
    clock = LeapingClock()
    journal = MemoryJournal(HEADER, clock=clock)
    wired = HandProbe(driver="by_hand", text="it", spot="heatsink", photograph=True, infrared=True)
    texts: list[str] = []
    order: list[str] = []

    async def main() -> None:
        hub = Hub(journal, lambda fault: pytest.fail(str(fault)))
        hub.listeners.append(lambda record: order.append(kind_of(record)))

        async def ask(question: Question) -> Given:
            texts.append(question.text)
            return Given(33.0, JPEG)

        questions = Questions(ask, hub, clock)
        probe = ProbeByHand("probe.heatsink", wired, lambda q: questions.put(q, "", "by hand"))
        async with aclosing(probe.readings()) as readings:
            async for record in readings:
                hub.publish(record)
                if isinstance(record, Reading):
                    return

    trio.run(main, clock=clock)
    assert "photograph of the spot may go with it" in texts[0]
    assert "'heatsink'" in texts[0]
    assert "80 °C as 32 °C" in texts[0]
    assert order.index("kept file") < order.index("reading")


def test_an_answer_from_another_terminal_brings_its_photograph(tmp_path):
    """Request and picture arrive together, and both files are gone once taken."""
    (tmp_path / "inbox").mkdir()
    detail = {"id": "probe.heatsink.1", "answer": 41.5}
    send(tmp_path, Request("answer", "me", detail, attached=JPEG))
    assert len(list((tmp_path / "inbox").iterdir())) == 2

    async def first() -> Request:
        async with aclosing(requests(tmp_path)) as arriving:
            return await anext(arriving)

    request = trio.run(first, clock=LeapingClock())
    assert (request.detail, request.attached) == (detail, JPEG)
    assert list((tmp_path / "inbox").iterdir()) == []


@pytest.mark.parametrize("typed", ["41.5 {}", "41,5 '{}'", "41.5   {}"])
def test_at_the_terminal_the_file_stands_behind_the_number(tmp_path, typed):
    """Typed or dragged into the terminal."""
    file = tmp_path / "spot one.jpg"
    file.write_bytes(JPEG)
    found = with_photograph(NUMBER, typed.format(file))
    assert isinstance(found, Given)
    assert found.value == 41.5
    assert found.photograph.startswith(b"\xff\xd8\xff")


@pytest.mark.parametrize(
    ("typed", "why"),
    [("41.5 nothing.jpg", "cannot be read"), ("41.5 {letter}", "neither JPEG nor PNG")],
)
def test_a_wrong_file_is_said_and_the_question_stays_open(tmp_path, typed, why):
    """The number is not taken alone: whoever names a photograph wants it kept."""
    letter = tmp_path / "letter.jpg"
    letter.write_text("Dear customer")
    found = with_photograph(NUMBER, typed.format(letter=letter))
    assert isinstance(found, str)
    assert why in found


def test_where_none_is_asked_for_two_words_are_no_answer():
    """Elsewhere a second word stays a typing mistake."""
    plain = Question("probe.x.1", "How many?", "number", "degC")
    assert with_photograph(plain, "41.5 spot.jpg") == ""


def test_a_photograph_nobody_can_read_is_refused_before_anything_is_sent(tmp_path):
    """`soak answer` says so in one sentence."""
    with pytest.raises(UsageError, match=r"spot.jpg: cannot be read"):
        desk.read_photograph(Path(tmp_path / "spot.jpg"))


def test_nobody_there_leaves_the_question_and_nobody_as_its_answer():
    """A night without an answer is on record as such."""
    clock = LeapingClock()
    journal = MemoryJournal(HEADER, clock=clock)

    async def main() -> object:
        hub = Hub(journal, lambda fault: pytest.fail(str(fault)))
        return await Questions(nobody, hub, clock).put(NUMBER, "", "by hand")

    assert trio.run(main, clock=clock) is None
    marks: list[Mark] = list(journal.evidence.marks("answer"))
    assert (marks[0].detail["answer"], marks[0].detail["by"]) == (None, "nobody")
