"""The guided swap test, typed on a simulated bench: the same steps as on a real one."""

import pytest
from one_unit_bench import bench_with_k1
from planned_bench import FIXTURE, GOOD
from typed_bench import typed

from soak.errors import ExitCode
from soak.judge.explain.swapping import Swapped, decide

DROPS = GOOD + (
    '[contacts.video]\nlooks = "no signal"\n[contacts.video.opens]\n'
    "per_hour = 60.0\nlasts_s = [0.3, 1.0]\n"
)


def swapped(path, scene, *more):
    """Type `soak swap` on a bench whose unit does what the scene says."""
    path.mkdir(exist_ok=True)
    file = path / "scene.toml"
    file.write_text(scene)
    bench = bench_with_k1(path / "bench", FIXTURE.replace('"scene.toml"', f'"{file}"'))
    return typed("--bench", str(bench), "swap", "K1@left", *more)


def test_losses_that_stay_whatever_is_swapped_are_the_units(tmp_path):
    """A contact that opens once a minute: each look of ten minutes sees it."""
    said = swapped(tmp_path, DROPS, "--seconds", "600")
    assert said.code == ExitCode.DONE, said.err
    assert "as it was:" in said.err
    assert said.sentence.endswith("it is the unit.")


def test_without_a_loss_nothing_is_decided(tmp_path):
    """A unit that shows nothing now: it says how to make it show first."""
    said = swapped(tmp_path, GOOD)
    assert "No loss in 45 s as it was" in said.sentence
    assert "nothing can be decided" in said.sentence


@pytest.mark.parametrize("seconds", ["5", "601", "nan"])
def test_a_look_too_short_or_too_long_is_one_sentence(tmp_path, seconds):
    """Ten seconds to ten minutes each."""
    said = swapped(tmp_path, GOOD, "--seconds", seconds)
    assert said.code == ExitCode.USAGE
    assert "watch for 10 to 600 s each" in said.sentence


def test_a_cure_by_luck_is_called_one():
    """Two losses in 45 s, then none in 45 s: (1/2)^2 = 25 % by luck; six: 1.6 %, decided."""
    few = decide([Swapped("", 2, 45), Swapped("cable", 0, 45), Swapped("capture card", 3, 45)])
    many = decide([Swapped("", 6, 45), Swapped("cable", 0, 45), Swapped("capture card", 5, 45)])
    assert "luck in 25 % of cases: watch longer" in few
    assert many.endswith("it is the bench, not the unit.")
