"""A soak and its window: closed, outlived, joined again, left; each end with its exit code."""

import signal

import pytest
from guarded_bench import GuardedBench
from one_unit_bench import bench_with_k1
from patience import LIMIT_S
from screen_bench import ASKS
from terminal_bench import Terminal
from typed_bench import typed

from soak.errors import ExitCode
from soak.journal import open_evidence

FEW = """\
name = "few"
simulated = "good"
[switch]
driver = "simulated"
[probe.outside]
driver = "simulated"
spot = "outside"
accuracy = 1.0
"""
LONG = ("run", "long", "--unit", "K1@f1", "--may-sleep", "--as-it-is")


@pytest.fixture
def bench(tmp_path):
    with GuardedBench(tmp_path / "bench") as made:
        (made.folder / "scripts" / "asks.toml").write_text(ASKS)
        yield made


def at(bench: GuardedBench, *words: str):
    return typed("--bench", str(bench.folder), *words)


def how(bench: GuardedBench) -> str:
    """Return how the one soak ended by its seal, and why."""
    evidence = open_evidence(bench.soak_folder())
    assert evidence.seal is not None
    why = [mark.detail["why"] for mark in evidence.marks("stopped")]
    return f"{evidence.seal.ended}: {', '.join(why)}"


@pytest.mark.parametrize(
    ("end", "why"),
    [
        ("soak stop", "wrong cable"),
        (signal.SIGINT, "Ctrl-C by the operator"),
        (signal.SIGTERM, "the system told soak to end"),
        (signal.SIGHUP, "the terminal was closed"),
    ],
)
def test_whoever_stops_a_soak_it_ends_off_sealed_and_with_130(bench, end, why):
    """Stopped is stopped, whatever the grade came to; why is on record."""
    runner = bench.started()
    if end == "soak stop":
        assert at(bench, "stop", "last", "--why", why).code == 0
    else:
        runner.send_signal(end)
    assert runner.wait(LIMIT_S) == ExitCode.STOPPED, bench.said()
    assert not bench.relays.is_on()
    assert how(bench) == f"stopped: {why}"


def test_a_closed_window_ends_no_soak_that_is_to_outlive_it_and_another_joins_it(bench):
    """It goes on; `soak join` shows it elsewhere, Ctrl-C only leaves; `soak stop` ends it."""
    with Terminal(bench.folder, *LONG, "--outlive") as window:
        bench.until(bench.relays.is_on)
        window.hang_up()
        with Terminal(bench.folder, "join", "last") as other:
            other.until("stretch 'run' begins")
            other.until("heatsink 40.0")
            other.ctrl_c()
            other.until("goes on")
            assert other.ended() == ExitCode.DONE
            assert "Traceback" not in other.shown
        assert bench.relays.is_on()
        with Terminal(bench.folder, "join", "last") as other:
            other.until("heatsink 40.0")
            assert at(bench, "stop", "last").code == 0
            other.until("it has ended: stopped")
            assert other.ended() == ExitCode.DONE
        assert window.ended() == ExitCode.STOPPED
    assert not bench.relays.is_on()


def test_whoever_joins_answers_what_is_asked(bench):
    """The look-over is asked in a window that was closed; it is answered in the one that joined."""
    words = ("run", "asks", "--unit", "K1@f1", "--may-sleep", "--as-it-is", "--outlive")
    with Terminal(bench.folder, *words) as window:
        window.until("(yes or no)")
        window.hang_up()
        with Terminal(bench.folder, "join", "last") as other:
            other.until("(yes or no)")
            other.type("yes")
            bench.until(lambda: bool(open_evidence(bench.soak_folder()).marks("answer")))
        at(bench, "stop", "last")
        assert window.ended() == ExitCode.STOPPED
    first = open_evidence(bench.soak_folder()).marks("answer")[0].detail
    assert first["answer"] == "yes"
    assert first["by"] != "operator"  # who joined, not who sat at the window


def test_a_window_closed_at_the_question_before_the_soak_begins_nothing(tmp_path):
    """Asked whether to go on: no answer can come any more, code 130, no journal."""
    bench = bench_with_k1(tmp_path / "few", FEW)
    with Terminal(bench, "run", "evening", "--unit", "K1@left.toml") as window:
        window.until("Go on as it is?")
        window.hang_up()
        assert window.ended() == ExitCode.STOPPED
    assert not list((bench / "reports").glob("K1-*"))


def test_a_soak_that_has_ended_or_was_cut_off_is_not_joined(bench):
    """One sentence says which, and what to do."""
    runner = bench.started()
    soak_id = bench.soak_folder().name
    runner.kill()
    runner.wait()
    said = at(bench, "join", soak_id)
    assert said.code == ExitCode.USAGE
    assert "soak resume" in said.sentence
