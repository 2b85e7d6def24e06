"""The verb `wiggle`: a soak beside the job's others, and what it refuses before anybody moves."""

from pathlib import Path

import pytest
from wiggled_bench import make_bench

from soak.checks.base import all_checks
from soak.desk.bench_folder import BenchFolder
from soak.desk.hands.wiggle import Wiggling, script_of, wiggle
from soak.desk.morning.show import show
from soak.errors import LedgerError, UsageError
from soak.run.script import script_again, script_from


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """Make a bench folder with one unit and fixtures for it."""
    return make_bench(tmp_path)


def wiggled(bench: Path, fixture: str, what: Wiggling) -> str:
    lines: list[str] = []
    wiggle(bench, f"S1@{fixture}", what, lines.append, seed=3)
    return "\n".join(lines)


def test_only_the_movement_that_opens_the_contact_shows_episodes_and_only_hot(bench):
    """The simulated hand moves the simulated plug; cold it is clean, hot it opens to the left."""
    cold = wiggled(bench, "left.toml", Wiggling("video"))
    hot = wiggled(bench, "left.toml", Wiggling("video", hot=True))
    assert "*" not in cold
    (line,) = [line for line in hot.splitlines() if "*" in line]
    assert line.split()[0] == "left"
    assert "port video, hot (ambient" in hot


def test_a_good_unit_is_clean_and_the_table_is_shown_again(bench):
    """What is printed at the end is what `soak show` prints later."""
    good = wiggled(bench, "good.toml", Wiggling("video", repeats=1))
    assert "*" not in good
    assert "one frame (17 ms)" in good
    assert good in show(bench, "last", "", as_json=False)
    assert '"movement": "twist"' in show(bench, "last", "", as_json=True)


def test_a_wiggle_replaces_no_soak_and_goes_with_no_listing(bench):
    """It stands beside the night; so does what a resumed one reads back from its header."""
    script = script_from(script_of(Wiggling("video"), ["capture"]), "f", all_checks())
    resolved = script.planned()
    assert (resolved.beside, resolved.listing) == (True, False)
    assert script_again(resolved).head.beside


def test_data_crosses_the_port_meanwhile_where_a_stick_is_wired_through_it(bench):
    """The transfer check runs in the same stretch."""
    wiggled(bench, "good.toml", Wiggling("usb1", repeats=1))
    folder = BenchFolder(bench).find_soak("last")
    from soak.journal import open_evidence

    evidence = open_evidence(folder)
    (stretch,) = evidence.header.script.stretches
    assert set(stretch.checks) == {"wiggle", "transfer"}
    assert len(evidence.series("transfer.stick.speed")[0]) > 10


@pytest.mark.parametrize(
    ("unit", "port", "error", "what"),
    [
        ("S1@good.toml", "vidoe", UsageError, "did you mean video?"),
        ("S1@good.toml", "usb2", UsageError, "nothing watches the port 'usb2'; it watches video"),
        ("S9@good.toml", "video", LedgerError, "S9"),
        ("S1", "video", UsageError, "UNIT@FIXTURE"),
    ],
)
def test_what_cannot_be_wiggled_is_refused_in_one_sentence(bench, unit, port, error, what):
    """Nothing is opened and nobody is asked to move anything."""
    with pytest.raises(error, match=what) as fault:
        wiggle(bench, unit, Wiggling(port), print)
    assert "\n" not in str(fault.value)


def test_with_a_servo_at_the_port_nobody_is_asked_and_the_table_says_so(bench, capsys):
    """Where the fixture has one it moves the plug; hot, and only to the left, contact opens."""
    cold = wiggled(bench, "servo.toml", Wiggling("video"))
    hot = wiggled(bench, "servo.toml", Wiggling("video", hot=True, servo=True))
    assert "servo, about 5 N" in cold
    assert "*" not in cold
    (line,) = [line for line in hot.splitlines() if "*" in line]
    assert line.split()[0] == "left"
    assert "simulated operator" not in capsys.readouterr().err
    assert "Moved by servo, about 5 N" in newest_report(bench)


def newest_report(bench: Path) -> str:
    """Return the bench's page of the newest soak."""
    return (BenchFolder(bench).find_soak("last") / "report.html").read_text()


@pytest.mark.parametrize(
    ("fixture", "what"), [("good.toml", "add [servo]"), ("servo.toml", "its servo is at 'video'")]
)
def test_a_servo_that_is_not_there_is_refused(bench, fixture, what):
    """`--servo` goes on with no hand instead."""
    with pytest.raises(UsageError) as fault:
        wiggle(bench, f"S1@{fixture}", Wiggling("usb1", servo=True), print)
    assert what in str(fault.value)
