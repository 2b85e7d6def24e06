"""The page on what a night shows: its tables and figures are recomputed, its commands are there."""

import re
from pathlib import Path

import pytest

from soak.judge.overall import together
from soak.judge.planning import starts_plan
from soak.statistics.bounds import length_to_show, trials_needed
from soak.statistics.compare import chance_by_luck, chance_of_passing
from soak.statistics.screening import strength_of_cycles, strength_of_steady_heat

TEXT = (Path(__file__).parents[2] / "docs/explanation/what-a-soak-shows.md").read_text("utf-8")


def table(head):
    """Return the numbers of each row of the table whose head begins so."""
    rows = TEXT.split(f"| {head}")[1].split("\n\n")[0].splitlines()[2:]
    return [[float(number) for number in re.findall(r"\d+(?:\.\d+)?", row)] for row in rows]


def test_the_chances_of_passing_one_of_several_soaks_are_computed_right():
    """Whole per cent of 1 - (1 - p)^k, for two and for three soaks."""
    rows = table("passes one soak")
    assert [row[0] for row in rows] == [30, 50]
    for once, two, three in rows:
        assert two == pytest.approx(100 * chance_of_passing(once / 100, 2), abs=0.5)
        assert three == pytest.approx(100 * chance_of_passing(once / 100, 3), abs=0.5)


def test_the_screening_table_is_computed_right():
    """Steady heat for 8 and 24 h, eight cycles at three rates, 30 K; whole per cent."""
    steady_8, steady_24, cycles = table("what | at 1 K/min")
    assert steady_8[1:] == pytest.approx([100 * strength_of_steady_heat(30, 8)] * 3, abs=0.5)
    assert steady_24[1:] == pytest.approx([100 * strength_of_steady_heat(30, 24)] * 3, abs=0.5)
    found = [100 * strength_of_cycles(30, rate, 8) for rate in (1, 3, 5)]
    assert cycles[1:] == pytest.approx(found, abs=0.5)


def test_the_plan_on_the_page_is_the_one_that_is_made():
    """First start from which the plan accepts with so many failures, and its lengths."""
    plan = starts_plan(0.01, 0.10, 0.05, 0.10)
    for failed, start in table("failed so far"):
        assert start == next(n for n, most in enumerate(plan.accept_up_to, 1) if most >= failed)
    assert f"never takes more than {plan.longest} starts" in TEXT
    assert f"on average {plan.outlook(0.01).expected:.0f} for the good unit" in TEXT


def test_the_figures_in_the_running_text_are_computed_right():
    """Starts with failures allowed, hours for the first month, six bounds, the rule of thumb."""
    assert [trials_needed(0.01, failed, 0.95) for failed in (0, 1, 2)] == [299, 473, 628]
    assert "takes 299 good ones" in TEXT
    assert "it takes 473, and 628 if two are" in TEXT
    hours = 120 * length_to_show(0, 0.90) / length_to_show(0, 0.05)
    assert f"{hours:.0f} quiet hours" in TEXT
    six = together([0.95] * 6)
    assert (round(six.at_least, 2), round(six.each_for_all, 3)) == (0.70, 0.992)
    assert "for six it is at least 70 %" in TEXT
    assert "asks 99.2 % of\neach" in TEXT or "asks 99.2 % of each" in TEXT
    assert chance_by_luck(3, 4, 4) == 1 / 8


def test_every_command_on_the_page_is_one_that_soak_has():
    """Each `soak ...` on the page is answered by the command line's own help."""
    from typer.testing import CliRunner

    from soak.cli.app import app

    commands = {
        tuple(re.findall(r"[a-z]+", told)[:2])
        for told in re.findall(r"`soak ((?:evidence|script) [a-z]+)", TEXT)
    }
    assert len(commands) >= 5
    for words in commands:
        assert CliRunner().invoke(app, [*words, "--help"]).exit_code == 0, words
