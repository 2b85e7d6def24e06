"""What stands open is said before the night: listed at `soak run`, asked once at a terminal."""

import json

import pytest
from one_unit_bench import bench_with_k1
from soak_process import started
from terminal_bench import Terminal
from typed_bench import typed

from soak.desk.bench_folder import BenchFolder
from soak.errors import ExitCode

FEW = """\
name = "few"
simulated = "good"
[switch]
driver = "simulated"
[capture]
driver = "simulated"
port = "video"
[probe.outside]
driver = "simulated"
spot = "outside"
accuracy = 1.0
"""
RUN = ("run", "evening", "--unit", "K1@left.toml", "--seed", "3")
GO_ON, YES_NO = "Go on as it is?", "(yes or no)"


@pytest.fixture
def bench(tmp_path):
    """Make a bench whose fixture has no stick, though the service port is a key function."""
    return bench_with_k1(tmp_path, FEW)


def at(bench, *words):
    return typed("--bench", str(bench), *words)


def open_lines(err: str) -> list[str]:
    return [line for line in err.splitlines() if "open:" in line]


def test_no_at_the_terminal_begins_nothing(bench):
    """The list names the function and what closes it; "no" ends it before a journal is begun."""
    with Terminal(bench, *RUN) as terminal:
        terminal.until("takes clips over the service port")
        terminal.until("no stick was wired")
        terminal.until("soak unit details K1")
        terminal.until(GO_ON)
        terminal.until(YES_NO)
        terminal.type("no")
        assert terminal.ended() == ExitCode.STOPPED
        assert "Traceback" not in terminal.shown
    assert not BenchFolder(bench).soaks()


def test_yes_at_the_terminal_goes_on(bench):
    """What is no answer is asked again; "yes" soaks, and the grade is what was said before."""
    with Terminal(bench, *RUN) as terminal:
        terminal.until(YES_NO)
        terminal.type("perhaps")
        terminal.until("is not an answer")
        terminal.until(YES_NO)
        terminal.type("yes")
        assert terminal.ended() == ExitCode.INCOMPLETE
    assert len(BenchFolder(bench).soaks()) == 1


def test_ctrl_c_at_the_question_begins_nothing(bench):
    """One plain word, code 130."""
    with Terminal(bench, *RUN) as terminal:
        terminal.until(YES_NO)
        terminal.ctrl_c()
        assert terminal.ended() == ExitCode.STOPPED
        assert "Traceback" not in terminal.shown
    assert not BenchFolder(bench).soaks()


def test_as_it_is_lists_and_asks_nothing(bench):
    """The operator who knows says so on the line."""
    with Terminal(bench, *RUN, "--as-it-is") as terminal:
        terminal.until("takes clips over the service port")
        assert terminal.ended() == ExitCode.INCOMPLETE
        assert GO_ON not in terminal.shown


def test_without_a_terminal_it_lists_and_goes_on(bench):
    """A night that a program starts is not lost to a question nobody hears."""
    process = started(bench, *RUN)
    _, err = process.communicate()
    assert process.returncode == ExitCode.INCOMPLETE
    assert "takes clips over the service port" in " ".join(open_lines(err))
    assert GO_ON not in err


def test_a_bench_with_nothing_open_is_not_asked(tmp_path):
    """All wired, wiped, no repair: the soak begins at once; only the safety test is mentioned."""
    bench = bench_with_k1(tmp_path)
    with Terminal(bench, "run", "quick", "--unit", "K1@left.toml") as terminal:
        assert terminal.ended() == ExitCode.DONE
        assert GO_ON not in terminal.shown


def test_data_not_wiped_is_said_before_with_its_command(tmp_path):
    """Wiping recorded after the night does not count for it, so it is asked for before."""
    bench = bench_with_k1(tmp_path)
    at(bench, "unit", "add", "SP40-2", "--model", "ferrow-sp-40", "--tag", "K2")
    said = at(bench, "run", "evening", "--unit", "K2@left.toml", "--seed", "3")
    assert "wiping" in said.err
    assert "soak unit wiped K2 --how" in said.err
    assert said.code == ExitCode.INCOMPLETE


def test_a_repair_that_this_fixture_cannot_show_is_said_before(bench):
    """The instrument that lacks is named, and once: the repair stands for its key function."""
    at(bench, "unit", "repair", "K1", "service port replaced", "--function", "service_usb")
    said = at(bench, *RUN)
    told = open_lines(said.err)
    assert any("service port replaced" in line and "no stick was wired" in line for line in told)
    assert sum("takes clips over the service port" in line for line in told) == 1


def test_a_function_that_an_earlier_soak_has_shown_is_not_open(tmp_path):
    """Evidence since the repair is one: the second night need not show what the first one did."""
    bench = bench_with_k1(tmp_path)
    at(bench, *RUN)
    (bench / "fixtures" / "left.toml").write_text(FEW)
    assert "takes clips over the service port" not in at(bench, *RUN).err


def test_a_claim_that_leaves_the_function_out_closes_the_point(bench):
    """Narrowed in the details, it is claimed no more."""
    at(bench, "unit", "details", "K1")
    file = bench / "details" / "K1-1.toml"
    file.write_text(file.read_text() + f"\nleft_out = {json.dumps(['service_usb'])}\n")
    said = at(bench, *RUN)
    assert not any("service port" in line for line in open_lines(said.err))
    assert said.code == ExitCode.AS_FAR_AS_TESTED


def test_an_earlier_failure_of_the_job_is_said_before(tmp_path):
    """Another night under the same job cannot make it ready, and is not begun unsaid."""
    bench = bench_with_k1(tmp_path)
    left = bench / "fixtures" / "left.toml"
    good = left.read_text()
    left.write_text(good.replace('"good"', '"fails_cold_starts"'))
    assert at(bench, *RUN).code == ExitCode.FAILED
    left.write_text(good)
    said = at(bench, *RUN)
    assert any("failed" in line for line in open_lines(said.err))
    assert "soak unit opened K1" in said.err


def test_a_safety_test_that_is_not_on_record_is_mentioned_and_gone_once_it_is(tmp_path):
    """It does not keep the unit from ready, so it is listed and alone asks nothing."""
    bench = bench_with_k1(tmp_path)
    assert "safety test" in " ".join(open_lines(at(bench, *RUN).err))
    at(bench, "unit", "details", "K1")
    file = bench / "details" / "K1-1.toml"
    test = '[safety_test]\nby = "A"\non = "2026-01-04"\nmethod = "m"\nresult = "passed"\n'
    file.write_text(file.read_text() + test)
    assert not open_lines(at(bench, *RUN).err)


def test_a_quick_soak_lists_and_asks_nothing(bench):
    """Ten minutes with somebody beside it are no night."""
    with Terminal(bench, "run", "quick", "--unit", "K1@left.toml") as terminal:
        terminal.until("takes clips over the service port")
        assert terminal.ended() == ExitCode.INCOMPLETE
        assert GO_ON not in terminal.shown


def test_a_repair_says_at_once_where_no_check_could_show_it(bench):
    """Accepted, for the repair was made; but nobody finds out after the night."""
    said = at(bench, "unit", "repair", "K1", "sound socket renewed", "--function", "sound")
    assert said.code == 0
    assert "MIND" in said.out
    assert "no check" in said.out
    shown = at(bench, "unit", "repair", "K1", "video port re-soldered", "--function", "video")
    assert "MIND" not in shown.out


def test_an_unreadable_earlier_journal_is_said_and_stops_nothing(tmp_path):
    """What it held is not known; the night can still begin."""
    bench = bench_with_k1(tmp_path)
    at(bench, "run", "quick", "--unit", "K1@left.toml")
    journal = BenchFolder(bench).find_soak("last") / "journal.sqlite"
    journal.chmod(0o600)
    journal.write_bytes(b"not a journal")
    said = at(bench, *RUN)
    assert any("cannot be judged" in line for line in open_lines(said.err))
    assert len(BenchFolder(bench).soaks()) == 2
