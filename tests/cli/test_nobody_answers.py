"""Nobody's answer is no answer: what the operator did not confirm did not happen."""

import subprocess
import sys

import planned_bench as planned
import pytest
import trio
from as_recorded import judged_as_recorded
from one_unit_bench import narrow
from patience import LIMIT_S, until
from planned_bench import planned_bench
from soak_process import new_bench, started
from terminal_bench import Terminal
from typed_bench import SHEET, TypedBench, typed

import soak.desk.soaking.in_window
from soak.derive.course import course_of
from soak.desk import units
from soak.desk.bench_folder import BenchFolder
from soak.errors import ExitCode, JournalError
from soak.journal import open_evidence
from soak.ledger.ledger import Ledger

BARE = """\
name = "thermometer only"
simulated = "{scene}"
[probe.heatsink]
driver = "simulated"
spot = "heatsink"
accuracy = 1.0
"""
WARM = """\
name = "warm"
not_after = "2 h"
[[stretch]]
name = "run"
lasts = "10 min"
attended = true
[stretch.spots]
"""


LONG = WARM.replace('"warm"', '"planned"')
TOUCHES_NOTHING = """\
truth = "a thermometer that touches nothing"
truth_grade = "ready"
fault = "none"
[spots.heatsink]
rise_k = 0.0
tau_s = 480.0
"""
BY_HAND = """\
name = "by hand"
[probe.outside]
driver = "by_hand"
text = "the thermometer"
spot = "outside"
every_s = 60
accuracy = 1.0
"""
SWITCH = '[switch]\ndriver = "by_hand"\ntext = "the wall socket"\nwait_s = 0.5\n'
SWITCH_BENCH = BY_HAND + SWITCH
READS = """\
name = "reads"
not_after = "{not_after}"
[[stretch]]
name = "run"
lasts = "{lasts}"
attended = true
[stretch.spots]
"""


@pytest.fixture
def bench(tmp_path):
    """Return a bench whose only instrument is a thermometer."""
    return made_bench(tmp_path, "good")


def made_bench(tmp_path, scene):
    made = TypedBench(tmp_path)
    made.write("fixtures/models/ferrow-sp-40.toml", SHEET.read_text())
    made.write("fixtures/bare.toml", BARE.format(scene=scene))
    made.write("scripts/warm.toml", WARM)
    narrow(tmp_path, "K1-1", "service_usb", "start", "video")
    Ledger(tmp_path / "ledger.sqlite").add_unit(model="ferrow-sp-40", tag="K1", serial="SP40-1017")
    units.wiped(tmp_path, "K1", how="reset", verified="read back", by="KY", on="")
    return made


def soaked(bench, monkeypatch, answer):
    """Soak K1; the operator says `answer` after 30 s, or nothing. Return what was said, journal."""

    def operator(said):
        async def ask(question):
            if answer is None:
                await trio.sleep_forever()
            await trio.sleep(30)
            return answer

        return ask

    monkeypatch.setattr(soak.desk.soaking.in_window, "as_wanted", operator)
    said = typed("--bench", str(bench.path), "run", "warm", "--unit", "K1@fixtures/bare.toml")
    folder = BenchFolder(bench.path)
    assert folder.soaks(), said.err
    (name,) = folder.soaks()
    return said, open_evidence(folder.find_soak(name))


@pytest.mark.parametrize("answer", [None, "no", "yes please"])
def test_a_unit_that_nobody_switched_on_is_not_ready(bench, monkeypatch, answer):
    """No answer, or another than the one wanted, ends it before anything counts."""
    said, evidence = soaked(bench, monkeypatch, answer)
    assert said.code == ExitCode.INCOMPLETE, said.err
    assert "nobody confirmed that the unit was switched on" in said.err
    assert not evidence.marks("power")
    assert evidence.seal.ended == "bench fault"


def test_nothing_before_a_confirmed_on_counts(bench, monkeypatch):
    """The operator takes half a minute: the stretch lasts its ten minutes from there."""
    said, evidence = soaked(bench, monkeypatch, "done")
    assert said.code == ExitCode.AS_FAR_AS_TESTED, said.err
    (power,) = evidence.marks("power")
    assert power.t_s == 30.0
    (window,) = course_of(evidence).windows("run")
    assert window[0] == 30.0
    assert window[1] - window[0] >= 600.0
    t_s, _ = course_of(evidence).series("probe.heatsink", "run")
    assert t_s[0] >= 30.0


@pytest.mark.parametrize("touches", [True, False])
def test_where_no_instrument_sees_it_on_the_word_is_named_the_only_witness(
    tmp_path, monkeypatch, touches
):
    """A buyer reads it on the page, the bench in the finding; a spot that warms is a witness."""
    scene = tmp_path / "scene.toml"
    scene.write_text(TOUCHES_NOTHING)
    made = made_bench(tmp_path / "bench", "good" if touches else scene)
    said, evidence = soaked(made, monkeypatch, "done")
    # A probe that touches nothing was never proved on the unit, either.
    wanted = ExitCode.AS_FAR_AS_TESTED if touches else ExitCode.INCOMPLETE
    assert said.code == wanted, said.err
    (page,) = (made.path / "reports").glob("*/report-buyer.html")
    alone = "No instrument saw that the unit was on: that it was is the operator"
    assert (alone in page.read_text()) is not touches
    told = [str(one.because) for one in judged_as_recorded(evidence).findings]
    assert any("word alone; no instrument saw it" in one for one in told) is not touches
    assert "The unit was switched by hand" in page.read_text()


def test_a_resumed_soak_without_a_switch_asks_again(tmp_path, monkeypatch):
    """Nobody knows what befell the power meanwhile; unanswered, what comes counts no more."""
    bench = planned_bench(tmp_path / "bench", script=LONG)
    (bench / "fixtures" / "left.toml").write_text(BARE.format(scene="good"))
    died = [sys.executable, planned.__file__, "200"]
    subprocess.run(died, check=False, cwd=bench)
    asked = []

    def operator(said):
        async def ask(question):
            asked.append(question.text)
            await trio.sleep_forever()

        return ask

    monkeypatch.setattr(soak.desk.soaking.in_window, "as_wanted", operator)
    said = typed("--bench", str(bench), "resume", "last")
    assert said.code == ExitCode.INCOMPLETE, said.err
    assert "nobody confirmed that the unit was switched on" in said.err
    assert ["Is the unit on?" in text for text in asked] == [True]
    course = course_of(evidence_of(bench))
    assert len(course.marks("power")) == 1
    assert [window[1] for window in course.windows("run")] == [course.session_spans[0][1]]


def real_bench(path, fixture, **script):
    """Make a bench of a real operator: what is wired is a person."""
    new_bench(path)
    (path / "fixtures" / "hand.toml").write_text(fixture)
    (path / "scripts").mkdir()
    (path / "scripts" / "reads.toml").write_text(READS.format(**script))
    return path


def evidence_of(path):
    """Return the only journal of a bench."""
    (journal,) = (path / "reports").glob("*/journal.sqlite")
    return open_evidence(journal.parent)


def test_no_typed_at_the_terminal_is_not_done(tmp_path):
    """Whoever types no has not switched it on: the soak ends, and says so in one sentence."""
    bench = real_bench(tmp_path / "bench", BY_HAND, lasts="5 s", not_after="1 min")
    with Terminal(
        bench, "run", "reads", "--unit", "K1@hand", "--may-sleep", "--as-it-is"
    ) as terminal:
        while terminal.until("Is it on?", "how many degC?") != "Is it on?":
            terminal.type("21")
        terminal.type("no")
        assert terminal.until("nobody confirmed that the unit was switched on")
        assert terminal.ended() == ExitCode.INCOMPLETE
    assert not evidence_of(bench).marks("power")


def test_a_switch_that_nobody_worked_switched_nothing(tmp_path):
    """The operator is the switch and away: neither on nor off is on record as done."""
    bench = real_bench(tmp_path / "bench", SWITCH_BENCH, lasts="2 s", not_after="8 s")
    process = started(bench, "run", "reads", "--unit", "K1@hand", "--may-sleep")
    _, err = process.communicate(timeout=LIMIT_S)
    assert process.returncode == ExitCode.INCOMPLETE, err
    evidence = evidence_of(bench)
    assert not evidence.marks("power")
    assert evidence.marks("power unanswered")
    assert course_of(evidence).power == []


def test_an_answer_that_does_not_fit_is_refused_and_the_question_stays(tmp_path):
    """`soak answer` says what would be one; nothing is sent."""
    bench = real_bench(tmp_path / "bench", BY_HAND, lasts="1 s", not_after="1 min")
    process = started(bench, "run", "reads", "--unit", "K1@hand", "--may-sleep")
    try:
        until(lambda: is_asked(bench, "power on"))
        said = typed("--bench", str(bench), "answer", "last", "power on", "42")
        assert said.code == ExitCode.USAGE
        assert said.sentence.endswith("'42' is not an answer; (Enter when done, or no)")
        assert typed("--bench", str(bench), "answer", "last", "power on", "no").code == 0
        _, err = process.communicate(timeout=LIMIT_S)
        assert "nobody confirmed that the unit was switched on" in err
        assert process.returncode == ExitCode.INCOMPLETE, err
    finally:
        process.kill()


def is_asked(bench, question):
    """Return whether a question is on record."""
    try:
        marks = evidence_of(bench).marks("question")
    except (ValueError, JournalError):
        return False
    return any(mark.detail["id"] == question for mark in marks)
