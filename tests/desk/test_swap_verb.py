"""The guided swap test, typed on a simulated bench: the same steps as on a real one."""

import pytest
import trio
from one_unit_bench import bench_with_k1
from planned_bench import FIXTURE, GOOD
from typed_bench import typed

from soak.desk.soaking import standing
from soak.errors import ExitCode

DROPS = GOOD + (
    '[contacts.video]\nlooks = "no signal"\n[contacts.video.opens]\n'
    "per_hour = 60.0\nlasts_s = [0.3, 1.0]\n"
)


def swapped(path, scene, *more, fixture=FIXTURE):
    """Type `soak swap` on a bench whose unit does what the scene says."""
    path.mkdir(exist_ok=True)
    file = path / "scene.toml"
    file.write_text(scene)
    bench = bench_with_k1(path / "bench", fixture.replace('"scene.toml"', f'"{file}"'))
    return typed("--bench", str(bench), "swap", "K1@left", *more)


def test_losses_that_stay_whatever_is_swapped_are_the_units(tmp_path):
    """A contact that opens once a minute: each look of ten minutes sees it."""
    said = swapped(tmp_path, DROPS, "--seconds", "600")
    assert said.code == ExitCode.DONE, said.err
    assert "as it was:" in said.err
    assert said.sentence.endswith("it is the unit.")


def test_another_cable_alone_does_not_make_it_the_unit(tmp_path, monkeypatch):
    """Port and card were never tried: the losses that stay leave both open, and that is said."""

    async def only_the_cable(question):
        await trio.sleep(1.0)
        return "yes" if question.id == "swap/cable" else "no"

    monkeypatch.setattr(standing, "as_wanted", lambda said: only_the_cable)
    said = swapped(tmp_path, DROPS, "--seconds", "600")
    assert "The losses stay with another cable" in said.sentence
    assert "it is the unit" not in said.err
    assert said.sentence.endswith("Not exchanged: port of the bench and capture card.")


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


def test_without_a_loss_nobody_is_sent_to_exchange_anything(tmp_path):
    """A look without a loss can decide nothing, so the test ends there."""
    assert "xchange the" not in swapped(tmp_path, GOOD).err


@pytest.mark.parametrize("of", ["picture", "restarts"])
def test_a_restart_is_one_loss(tmp_path, of):
    """It shows no signal and black before its picture: one loss, not two."""
    restart = GOOD + '[interruption]\nafter_s = ["6 min", "7 min"]\nkind = "restart"\n'
    said = swapped(tmp_path, restart, "--seconds", "600", "--of", of)
    assert "as it was: 1 loss in 600 s" in said.err
    assert "so few that even none" in said.err


def test_a_switch_that_switches_nothing_is_no_start(tmp_path):
    """The relay is welded: a picture that never went is no start that worked."""
    said = swapped(
        tmp_path,
        GOOD + '[bench.relay]\nfault = "welded"\nat_s = ["20 s", "25 s"]\n',
        "--of",
        "starts",
    )
    assert said.code == ExitCode.BENCH_FAULT
    assert "still showed its picture" in said.sentence


def test_failed_starts_that_stay_leave_only_the_unit_and_the_switchs_channel(tmp_path):
    """The power is off for every exchange; the channel is never exchanged, and that is said."""
    fails = GOOD + "[start]\nfails_cold = 0.8\nfails_warm = 0.8\n"
    said = swapped(tmp_path, fails, "--of", "starts")
    assert said.code == ExitCode.DONE, said.err
    assert "of 10 starts failed" in said.err
    assert said.err.count("The power is off.") == 4
    assert "The losses stay" in said.sentence
    assert said.sentence.endswith("Not exchanged: channel of the switch.")


def test_a_device_that_goes_from_the_port_can_be_swapped_for(tmp_path):
    """The unit's own contact opens once a minute: with every cable, port and device."""
    loses = GOOD + "[contacts.usb1.opens]\nper_hour = 60.0\nlasts_s = [3.0, 6.0]\n"
    link = FIXTURE + '[link]\ndriver = "simulated"\nport = "usb1"\n'
    said = swapped(tmp_path, loses, "--of", "data", "--seconds", "600", fixture=link)
    assert said.code == ExitCode.DONE, said.err
    assert said.sentence.endswith("it is the unit.")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--of", "sound"], "one of picture, data, network, restarts, starts"),
        (["--of", "data"], "no link at a port of the unit is wired"),
        (["--of", "starts", "--starts", "1"], "2 to 50 starts each"),
    ],
)
def test_what_cannot_be_watched_is_one_sentence(tmp_path, words, says):
    """Nothing is switched on for a test that cannot be made."""
    said = swapped(tmp_path, GOOD, *words)
    assert said.code == ExitCode.USAGE
    assert says in said.sentence
