"""One unit, or one fixture, in two soaks at once is refused, whichever program runs them."""

import pytest
from guarded_bench import GuardedBench
from patience import LIMIT_S
from typed_bench import typed

from soak.errors import ExitCode


@pytest.fixture
def bench(tmp_path):
    """Return a bench on which K1 is soaked on f1 by another program."""
    with GuardedBench(tmp_path / "bench") as made:
        other = made.folder / "fixtures" / "other.toml"
        other.write_text((made.folder / "fixtures" / "f1.toml").read_text().replace("1", "2"))
        copy = made.folder / "fixtures" / "copy.toml"
        copy.write_text((made.folder / "fixtures" / "f1.toml").read_text())
        (made.folder / "fixtures" / "linked.toml").symlink_to(made.folder / "fixtures" / "f1.toml")
        made.started()
        yield made


def at(bench: GuardedBench, *words: str):
    return typed("--bench", str(bench.folder), *words)


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (("run", "long", "--unit", "K1@f2"), "K1"),
        (("run", "long", "--unit", "k1@f2"), "K1"),
        (("run", "long", "--unit", "SN-1@f2"), "K1"),
        (("run", "long", "--unit", "K2@f1"), "f1.toml"),
        (("run", "long", "--unit", "K2@linked"), "linked.toml"),
        (("run", "long", "--unit", "K2@copy"), "relay-port channel 1)"),
        (("run", "long", "--unit", "K2@f2", "--unit", "K1@f2"), ""),
        (("prove", "f1", "--unit", "K1"), "f1.toml"),
    ],
)
def test_what_another_program_soaks_is_refused_and_the_soak_named(bench, words, what):
    """By tag, serial, link: exit code 2, which soak it is in, how to end it; it goes on."""
    soak_id = bench.soak_folder().name
    said = at(bench, *words)
    assert said.code == ExitCode.USAGE, said.err
    if what:
        assert f"{what} is in use: {soak_id} runs with it" in said.sentence
        assert f"`soak stop {soak_id}` ends that" in said.sentence
    assert bench.relays.is_on()
    assert len(list((bench.folder / "reports").glob("K*"))) == 1


def test_a_soak_that_was_cut_off_is_not_resumed_while_its_unit_is_in_another(bench):
    """K1 was cut off once and is soaked again: the earlier one is not resumed beside that."""
    running = bench.soak_folder()
    bench.runners[0].kill()
    bench.runners[0].wait()
    bench.until(lambda: not bench.relays.is_on())
    cut_off = running.name
    bench.started()
    said = at(bench, "resume", cut_off, "--may-sleep")
    assert said.code == ExitCode.USAGE
    assert "K1 is in use" in said.sentence


def test_what_a_killed_program_held_is_free_again(bench):
    """The system lets go of it: the next soak begins."""
    bench.runners[0].kill()
    bench.runners[0].wait()
    bench.until(lambda: not bench.relays.is_on())
    bench.started()
    assert bench.relays.is_on()


def test_another_unit_on_another_fixture_runs_beside_it(bench):
    """Two programs on two channels: neither is in the way of the other."""
    bench.started("2")
    assert bench.relays.is_on("1")
    assert bench.relays.is_on("2")
    for tag in ("K1", "K2"):
        assert at(bench, "stop", bench.soak_folder(tag).name).code == 0
    codes = {runner.wait(LIMIT_S) for runner in bench.runners}
    assert codes == {ExitCode.STOPPED}
