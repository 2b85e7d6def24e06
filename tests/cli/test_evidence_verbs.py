"""The verbs about evidence, as they are typed."""

import json

import pytest
from scipy.stats import poisson
from typed_bench import typed, words

from soak.errors import ExitCode


def test_starts_are_answered_for_programs():
    """A program gets the bound as a number: 1 - 0.05^(1/120) is 2.47 %."""
    said = typed("evidence", "starts", "--good", "120", "--json")
    assert json.loads(said.out)["bound_high"] == pytest.approx(1 - 0.05 ** (1 / 120))


def test_sides_are_asked_for_and_said():
    """One failure in 20: at most 21.6 % on one side; 0.13 % to 24.9 % on both (any table)."""
    one = typed("evidence", "starts", "--good", "19", "--failed", "1").out
    two = typed("evidence", "starts", "--good", "19", "--failed", "1", "--sides", "two").out
    assert "one side" in one
    assert "fewer than 21.6 %" in one
    assert "two sides together" in two
    assert "at least 0.127 %" in two
    assert "fewer than 24.9 %" in two


def test_two_rates_are_compared_as_typed():
    """Two faults against ten, both in 1000 h: luck in 79 of 4096 cases, 1.93 %, by hand."""
    asked = ("--clean", "1000", "--faults", "2", "--other-clean", "1000", "--other-faults", "10")
    said = typed("evidence", "hours", *asked)
    assert "luck in 1.93 % of cases" in said.out
    assert "One side" in said.out


def test_a_fault_that_is_gone_is_answered_in_words():
    """The question of the repairer, word for word."""
    said = typed("evidence", "gone", "--seen", "3", "--in", "4 h", "--clean", "7 h")
    assert said.code == ExitCode.DONE
    assert "6 h 51 min" in said.out
    assert "that is enough" in said.out


def test_a_dozen_sold_units_get_no_advised_length(tmp_path):
    """Five failures among twelve: lengths from 0 to 96 h came out for a truth of 28 h."""
    table = tmp_path / "sold.csv"
    ages = [(f"U{at}", 20 * (at + 1), int(at < 5), 8) for at in range(12)]
    rows = ["unit,hours,failed,entry", *(",".join(map(str, one)) for one in ages)]
    table.write_text("\n".join(rows) + "\n")
    costs = ("--warranty", "700", "--per-hour", "0.07", "--failed-here", "3", "--came-back", "500")
    said = typed("evidence", "length", "--lives", str(table), *costs)
    assert said.code == ExitCode.USAGE
    assert "5 failures are too few to advise a length; 20 at least" in said.err
    assert "Weibull: shape" in typed("evidence", "lives", str(table)).out


def test_a_plan_says_its_longest_time():
    """Typed as on the page of help."""
    said = typed("evidence", "plan", "--good", "0.01", "--bad", "0.10")
    assert said.out.startswith("At most 56 starts")


@pytest.mark.parametrize(
    "asked",
    [
        ("evidence", "starts", "--good", "120", "--confidence", "95"),
        ("evidence", "starts"),
        ("evidence", "starts", "--good", "3", "--may-fail", "1"),
        ("evidence", "hours", "--clean", "3 h", "--other-faults", "1"),
        ("evidence", "hours", "--clean", "a night"),
        ("evidence", "gone", "--seen", "0", "--in", "4 h"),
        ("script", "explain", "overnite"),
        ("script", "explain", "overnight", "--fixture", "nowhere"),
    ],
    ids=" ".join,
)
def test_a_mistake_is_one_sentence_and_wrong_usage(asked):
    """One line on stderr, nothing on stdout, exit code 2."""
    said = typed(*asked)
    assert said.code == ExitCode.USAGE
    assert said.out == ""
    assert said.err.strip() == said.sentence
    assert said.sentence.startswith("soak: ")


def test_a_script_is_explained_on_its_fixture_and_model(bench):
    """The fixture's name, its longest time, and what this model has and this script leaves."""
    asked = ("script", "explain", "brief", "--fixture", "sim", "--model", "ferrow-sp-40")
    said = typed(*words(bench, *asked))
    assert "On simulated bench:" in said.out
    assert "at most 1 h" in said.out
    assert "not exercised: " in said.out


def test_a_soak_that_was_cut_off_says_what_to_resume(bench):
    """K3 died in mid-soak: its grade is open, and the stretches that lack something are named."""
    said = typed(*words(bench, "judge", "K3"))
    assert said.code == ExitCode.INCOMPLETE
    assert "lacking so far: stretch 2, run: 2 min more (`soak resume`)" in said.out
    assert "lacking so far: stretch 2, run: 2 min" in typed(*words(bench, "show", "K3")).out


def test_a_script_says_how_many_a_rate_allows_and_who_keeps_that():
    """`overnight` demands 7 h 58 min at one an hour: eight, kept at half in P(N <= 8 | 3.98)."""
    said = typed("script", "explain", "overnight").out
    assert "at most 8 short dropouts in 7 h 58 min over all stretches (1 an hour)" in said
    kept = poisson.cdf(8, 0.5 * (7 + 58 / 60))
    assert f"at half that rate {100 * kept:.1f} %" in said
    assert "in bouts" in said
