"""Asked before there is a soak: found by `soak answer`, bounded, and on record afterwards."""

import subprocess
import sys

import pytest
from guarded_bench import GuardedBench
from patience import LIMIT_S
from typed_bench import typed

from soak.errors import ExitCode
from soak.journal import open_evidence

ASKS = """
from dataclasses import replace
from soak.bench.drivers import number_file
from soak.errors import BenchFault
from soak.roles import Question

usual = number_file.open_number_file

async def asking(name, wired, tools):
    # Asks while it is opened, as a whole disk does before it is written over.
    text = "EVERYTHING on it will be destroyed. May it be written over?"
    answer = await tools.ask(
        Question("room/destroy", text, "yes/no", wait_s={wait_s}, wanted="yes")
    )
    if answer != "yes":
        raise BenchFault(name, f"may not be written over: {{answer}}")
    return await usual.open(name, wired, tools)

number_file.open_number_file = replace(usual, open=asking)
from soak.cli.main import main
main()
"""
ROOM = '[probe.room]\ndriver = "number_file"\nfile = "{file}"\nspot = "ambient"\nevery_s = 0.2\n'


@pytest.fixture
def bench(tmp_path):
    """Return a bench with a thermometer of the room beside the one that guards."""
    with GuardedBench(tmp_path / "bench") as made:
        room = tmp_path / "room.txt"
        room.write_text("21.0\n")
        fixture = made.folder / "fixtures" / "f1.toml"
        fixture.write_text(fixture.read_text() + ROOM.format(file=room))
        yield made


def asked(bench: GuardedBench, wait_s: float = 3600.0) -> tuple["subprocess.Popen[bytes]", str]:
    """Begin a soak of K1 with no terminal, and wait for the question; return it and its id."""
    program = ASKS.format(wait_s=wait_s)
    log = (bench.folder / "runner-0.txt").open("wb")
    with log:
        runner = subprocess.Popen(
            [sys.executable, "-c", program, "run", "long", "--unit", "K1@f1", "--may-sleep"],
            cwd=bench.folder,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
        )
    bench.runners.append(runner)
    bench.until(lambda: "Answer with: " in bench.said() or runner.poll() is not None)
    return runner, bench.soak_folder().name


def at(bench: GuardedBench, *words: str):
    return typed("--bench", str(bench.folder), *words)


@pytest.mark.parametrize("called", ["last", "its id", "its beginning"])
def test_it_names_the_soak_and_is_answered_from_another_terminal(bench, called):
    """Yes by `soak answer`: the soak begins, and question and answer are on its record."""
    runner, soak_id = asked(bench)
    assert f"Answer with: soak answer {soak_id} 'room/destroy'" in bench.said()
    name = {"last": "last", "its id": soak_id, "its beginning": "K1-"}[called]
    said = at(bench, "answer", name, "room/destroy", "perhaps")
    assert said.code == ExitCode.USAGE
    said = at(bench, "answer", name, "room/destroy", "yes")
    assert said.code == 0, said.err
    bench.until(bench.relays.is_on)
    assert at(bench, "stop", soak_id).code == 0
    assert runner.wait(LIMIT_S) == ExitCode.STOPPED, bench.said()
    evidence = open_evidence(bench.soak_folder())
    assert [mark.detail["id"] for mark in evidence.marks("question")] == ["room/destroy"]
    assert [mark.detail["answer"] for mark in evidence.marks("answer")] == ["yes"]


def test_no_by_soak_answer_begins_nothing(bench):
    """Said no: exit code 3, no journal, the unit never on."""
    runner, soak_id = asked(bench)
    assert at(bench, "answer", soak_id, "room/destroy", "no").code == 0
    assert runner.wait(LIMIT_S) == ExitCode.BENCH_FAULT, bench.said()
    assert "may not be written over: no" in bench.said()
    assert not bench.relays.is_on()


def test_nobodys_answer_ends_it_within_its_limit(bench):
    """Nobody is there: it does not wait for ever, and nothing was begun."""
    runner, _ = asked(bench, wait_s=0.5)
    assert runner.wait(LIMIT_S) == ExitCode.BENCH_FAULT, bench.said()
    assert "may not be written over: None" in bench.said()


def test_soak_stop_ends_it_before_it_began(bench):
    """Somebody thinks better of it: stopped, nothing soaked."""
    runner, _ = asked(bench)
    assert at(bench, "stop", "last").code == 0
    assert runner.wait(LIMIT_S) == ExitCode.STOPPED, bench.said()
    assert "before anything was switched on" in bench.said()


def test_a_question_of_a_killed_soak_is_not_answered(bench):
    """Nobody would hear it: said at once."""
    runner, soak_id = asked(bench)
    runner.kill()
    runner.wait()
    assert at(bench, "answer", soak_id, "room/destroy", "yes").code == ExitCode.USAGE
