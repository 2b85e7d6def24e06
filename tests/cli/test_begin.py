"""`soak begin` and `soak model`: from a repaired unit to its soak, by questions or by options."""

import sys
import tomllib
from io import StringIO

import pytest
from terminal_bench import Terminal
from typed_bench import SHEET, typed

from soak.desk.bench_folder import BenchFolder
from soak.errors import ExitCode
from soak.ledger.ledger import Ledger

FIXTURE = """\
name = "left"
simulated = "good"
[switch]
driver = "simulated"
[capture]
driver = "simulated"
port = "video"
[probe.heatsink]
driver = "simulated"
spot = "heatsink"
accuracy = 1.0
guards = true
"""
ANSWERS = (
    "SP42-1",
    "Ferrow SP-42",
    "NO",
    "Nein",
    "n",
    "no",
    "MOVING",
    "20 SEK",
    "80 °C",
    "video port re-soldered",
    "20 Minuten",
    "JA",
)
"""A wholly new unit of a wholly new model; the last begins."""
OF_MODEL = ("--mains", "no", "--disk", "no", "--lithium-cell", "no", "--holds-data", "no")
OF_SIGHT = ("--picture", "moving", "--start", "20s", "--limits", "80")
NEW = ("begin", "SP42-1", "45min", "--model", "Ferrow SP-42", *OF_MODEL, *OF_SIGHT)
MOST_QUESTIONS = 12
"""So many may be asked of a wholly new unit on a bench with one fixture: own choice."""


class Typist:
    """A terminal at which prepared lines are typed; then Ctrl-C, or its end."""

    encoding = "utf-8"

    def __init__(self, lines, ctrl_c=False):
        self.lines = list(lines)
        self.asked = 0
        self._ctrl_c = ctrl_c

    def isatty(self):
        return True

    def readline(self):
        self.asked += 1
        if self.lines:
            return self.lines.pop(0) + "\n"
        if self._ctrl_c:
            raise KeyboardInterrupt
        return ""


@pytest.fixture
def bench(tmp_path):
    """Make a bench with one fixture and nothing else."""
    (tmp_path / "fixtures").mkdir()
    (tmp_path / "fixtures" / "left.toml").write_text(FIXTURE)
    return tmp_path


@pytest.fixture
def at_terminal(bench, monkeypatch):
    """Give what runs a command with lines typed at its questions."""

    def run(*words, lines=(), ctrl_c=False):
        typist = Typist(lines, ctrl_c)
        monkeypatch.setattr(sys, "stdin", typist)
        return typed("--bench", str(bench), *words), typist.asked

    return run


def files(bench):
    return sorted(file.relative_to(bench).as_posix() for file in bench.rglob("*") if file.is_file())


def with_sheet(bench, text=None):
    models = bench / "fixtures" / "models"
    models.mkdir()
    (models / "ferrow-sp-40.toml").write_text(text or SHEET.read_text())


def known(bench):
    """Put a repaired unit of a known model, K1, into the ledger."""
    with_sheet(bench)
    typed(*f"--bench {bench} unit add SP40-1 --model ferrow-sp-40 --tag K1".split())
    what = ["video port re-soldered", "--function", "video"]
    typed("--bench", str(bench), "unit", "repair", "K1", *what)


def test_a_new_unit_comes_to_its_soak_at_a_terminal(bench):
    """Twelve answers, in capitals, with units, in two languages: written, soaked, judged."""
    with Terminal(bench, "begin", "--seed", "1") as terminal:
        for answer in ANSWERS[:-1]:
            terminal.until("?")
            terminal.until(") ")
            terminal.type(answer)
        terminal.until("It will have shown")
        terminal.until("It cannot show")
        terminal.until("It stays open")
        terminal.until("Begin?")
        terminal.until(") ")
        terminal.type(ANSWERS[-1])
        terminal.until("look-over")
        assert terminal.ended() in (ExitCode.DONE, ExitCode.INCOMPLETE)
    sheet = tomllib.loads((bench / "fixtures/models/ferrow-sp-42.toml").read_text())
    assert [sheet[key] for key in ("mains", "disk", "lithium_cell", "holds_data")] == [False] * 4
    assert sheet["start_s"] == "20 s"
    assert sheet["spots"]["heatsink"]["limit_degc"] == 80
    header = len(BenchFolder(bench).soaks())
    assert header == 1
    assert [unit.serial for unit in Ledger(bench / "ledger.sqlite").list_units()] == ["SP42-1"]


def test_a_wholly_new_unit_is_asked_about_twelve_times_at_most(at_terminal):
    """Counted at the terminal, the question whether to begin with it."""
    said, asked = at_terminal("begin", lines=[*ANSWERS[:-1], "no"])
    assert said.code == ExitCode.STOPPED
    assert "nothing was written" in said.err
    assert asked <= MOST_QUESTIONS


@pytest.mark.parametrize("ctrl_c", [True, False])
def test_breaking_off_at_any_question_writes_nothing(bench, at_terminal, ctrl_c):
    """Ctrl-C, or the terminal's end, at each: one line, code 130, the bench as it was."""
    before = files(bench)
    for number in range(len(ANSWERS)):
        said, _ = at_terminal("begin", lines=ANSWERS[:number], ctrl_c=ctrl_c)
        assert said.code == ExitCode.STOPPED, said.err
        assert "nothing was written" in said.sentence
        assert files(bench) == before


def test_ctrl_c_at_a_real_terminal_is_one_line(bench):
    """The kernel's own signal while it waits for an answer."""
    before = files(bench)
    with Terminal(bench, "begin", "SP42-1") as terminal:
        terminal.until("Which model is it?")
        terminal.ctrl_c()
        terminal.until("nothing was written")
        assert terminal.ended() == ExitCode.STOPPED
        assert "Traceback" not in terminal.shown
    assert files(bench) == before


def test_a_known_unit_takes_one_line(bench):
    """Its model, fixture and repair are known: tag and time are enough, in a pipe too."""
    known(bench)
    said = typed("--bench", str(bench), "begin", "k1", "20 MIN", "--seed", "1")
    assert len(BenchFolder(bench).soaks()) == 1, said.err
    assert "video port re-soldered" in said.err
    script = tomllib.loads((bench / "scripts" / "after-video.toml").read_text())
    assert script["not_after"] == "20 min"


LACKING = [
    ((), "UNIT"),
    (("SP42-1",), "--model"),
    (("SP42-1", "--model", "Ferrow SP-42"), "--mains"),
    (("SP42-1", "--model", "Ferrow SP-42", *OF_MODEL), "--picture"),
    (NEW[1:2] + NEW[3:], "--repaired"),
    (NEW[1:2] + NEW[3:] + ("--repaired", "video port"), "TIME"),
]


@pytest.mark.parametrize(("words", "option"), LACKING, ids=[option for _, option in LACKING])
def test_without_a_terminal_a_missing_answer_is_one_sentence(bench, words, option):
    """It names the option, and nothing is written."""
    before = files(bench)
    said = typed("--bench", str(bench), "begin", *words)
    assert said.code == ExitCode.USAGE
    assert len(said.err.strip().splitlines()) == 1
    assert option in said.err
    assert files(bench) == before


REFUSED = [
    (("begin", "K9", "8h"), "no unit 'K9'"),
    (("begin", "K1", "8"), "8 h or 8 min"),
    (("begin", "K1", "soon"), "is not a time"),
    (("begin", "K1", "5min"), "too short"),
    (("begin", "K1", "20 d"), "between"),
    (("begin", "K1", "8h", "--fixture", "lefft"), "did you mean left?"),
    (("begin", "K1", "8h", "--repaired", "vidoe"), "did you mean video?"),
    (("begin", "K1", "8h", "--script", "evenign"), "evening"),
    (("begin", "SP40-1", "8h", "--model", "x", "--repaired", "it"), "names none"),
]


@pytest.mark.parametrize(("words", "told"), REFUSED, ids=[" ".join(words) for words, _ in REFUSED])
def test_what_is_wrong_is_refused_before_anything_is_written(bench, words, told):
    """One sentence says what, and what to type instead."""
    known(bench)
    before = files(bench)
    said = typed("--bench", str(bench), *words)
    assert said.code == ExitCode.USAGE, said.err
    assert told in said.err
    assert files(bench) == before


def test_a_file_broken_by_hand_is_named_before_anything_is_written(bench):
    """Sheet, script and fixture, one after the other."""
    known(bench)
    line = ("--bench", str(bench), "begin", "K1", "8h")
    scripts = bench / "scripts"
    scripts.mkdir()
    for name in ("scripts/after-video.toml", "fixtures/models/ferrow-sp-40.toml"):
        file = bench / name
        before = file.read_text() if file.exists() else ""
        file.write_text("name = 'half\n")
        said = typed(*line)
        assert said.code != 0
        assert file.name in said.err
        assert "not valid TOML" in said.err
        assert file.read_text() == "name = 'half\n"
        file.write_text(before or 'name = "mine"\n')
    (bench / "fixtures" / "left.toml").write_text("[switch\n")
    assert "left.toml" in typed(*line).err
    assert not BenchFolder(bench).soaks()


def test_a_bench_without_a_fixture_says_how_to_make_one(bench):
    """Nothing can be soaked on nothing."""
    known(bench)
    (bench / "fixtures" / "left.toml").unlink()
    said = typed("--bench", str(bench), "begin", "K1", "8h")
    assert said.code == ExitCode.USAGE
    assert "soak find" in said.sentence


def test_a_second_time_keeps_what_a_person_wrote(at_terminal, bench):
    """Other times, the same remarks; a no leaves the file as it is."""
    known(bench)
    (bench / "reports").mkdir()
    typed("--bench", str(bench), "begin", "K1", "20min", "--seed", "1")
    file = bench / "scripts" / "after-video.toml"
    theirs = file.read_text().replace('not_after = "20 min"', 'not_after = "20 min"  # shop opens')
    theirs = theirs.replace("[stretch.look]", "# lamp on!\n[stretch.look]")
    file.write_text(theirs)
    said, _ = at_terminal("begin", "K1", "3h", lines=["no"])
    assert "your remarks stay" in said.err
    assert file.read_text() == theirs
    at_terminal("begin", "K1", "25min", "--seed", "1", lines=["yes"])
    now = file.read_text()
    assert 'not_after = "25 min"  # shop opens' in now
    assert "# lamp on!" in now


def test_a_unit_that_must_not_run_alone_asks_whether_somebody_stays(
    at_terminal, bench, monkeypatch
):
    """What the sheet leaves open is not taken for a no; a no begins nothing."""
    known(bench)
    file = bench / "fixtures" / "models" / "ferrow-sp-40.toml"
    file.write_text(file.read_text().replace("lithium_cell = false", "lithium_cell = true"))
    said, asked = at_terminal("begin", "K1", "3h", lines=["no"])
    assert asked == 1
    assert "lithium cell" in said.err
    assert "Does somebody stay with it to the end?" in said.err
    assert not BenchFolder(bench).soaks()
    monkeypatch.setattr(sys, "stdin", StringIO())
    in_a_pipe = typed("--bench", str(bench), "begin", "K1", "3h")
    assert in_a_pipe.code == ExitCode.USAGE
    assert "--cell-out" in in_a_pipe.sentence


def test_what_nobody_answers_of_a_model_stays_open_and_is_said(at_terminal, bench):
    """Enter four times: none of the four stands in the sheet, no limit, and all are named."""
    said, asked = at_terminal(
        "model", "Ferrow SP-42", lines=["", "?", "open", "", "still", "5 s", ""]
    )
    sheet = tomllib.loads((bench / "fixtures/models/ferrow-sp-42.toml").read_text())
    assert asked == 7
    assert not {"mains", "disk", "lithium_cell", "holds_data"} & set(sheet)
    assert sheet["spots"] == {"heatsink": {"text": "heatsink"}}
    for point in ("mains voltage", "a disk", "lithium cell", "data", "how warm"):
        assert point in said.out


def test_a_like_model_gives_what_no_page_claims(bench):
    """Functions, ports, spots; not what it holds, nor its limits, supply and year."""
    with_sheet(bench)
    words = ("model", "Ferrow SP-42", "--like", "FERROW-SP-40", *OF_MODEL)
    said = typed("--bench", str(bench), *words, *OF_SIGHT[:4], "--limits", "open")
    assert said.code == 0, said.err
    sheet = tomllib.loads((bench / "fixtures/models/ferrow-sp-42.toml").read_text())
    like = tomllib.loads(SHEET.read_text())
    assert sheet["functions"] == like["functions"]
    assert sheet["ports"] == like["ports"]
    assert sheet["holds_data"] is False
    assert not {"supply", "year_made", "start_limit_s"} & set(sheet)
    claims = {"limit_degc", "rise_limit_k", "touched", "trip_degc"}
    assert not any(claims & set(spot) for spot in sheet["spots"].values())


def test_a_sheet_that_is_there_is_asked_for_what_it_leaves_open(at_terminal, bench):
    """One question, and the remarks of whoever wrote it stay."""
    theirs = SHEET.read_text().replace("disk = false ", "# disk: nobody looked ")
    with_sheet(bench, theirs)
    said, asked = at_terminal("model", "FERROW-SP-40", lines=["yes"])
    assert said.code == 0, said.err
    assert asked == 1
    now = (bench / "fixtures/models/ferrow-sp-40.toml").read_text()
    assert tomllib.loads(now)["disk"] is True
    assert "# disk: nobody looked" in now
    assert set(theirs.splitlines()) <= set(now.splitlines())
