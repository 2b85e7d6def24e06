"""What somebody once put on record is shown for years: it can do nothing but be read."""

import json

import pytest
from hostile_bench import HostileBench
from hostile_input import TEXTS

from soak.ledger.ledger import Ledger
from soak.report.output.files import json_text
from soak.visible import harmless, visible

ACTING = {name: text for name, text in TEXTS.items() if text.strip() and "\udcff" not in text}


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """Give a bench whose units have hostile serials, repairs and complaints on record."""
    with HostileBench(tmp_path_factory.mktemp("recorded")) as bench:
        ledger = Ledger(bench.path / "ledger.sqlite")
        for at, text in enumerate(ACTING.values()):
            tag = f"E{at}"
            ledger.add_unit(
                model="ferrow-sp-40", tag=tag, serial=f"{text}{at}", by=text, anyway=True
            )
            ledger.record_repair(tag, what=text, function="video", kind="repair", part=text)
            ledger.sold(tag, where=text, anyway=True)
            ledger.back(tag, complaint=text)
        yield bench


@pytest.mark.parametrize("words", [["unit", "list"], ["unit", "list", "--json"]])
def test_all_units_are_listed_and_hurt_no_screen(bench, words):
    """A line a unit."""
    assert bench.wrongs(words) == []


def test_data_stay_what_they_are():
    """What is not drawn is written as JSON writes it: the same text is read again."""
    for text in ACTING.values():
        written = json_text({"serial": text})
        assert json.loads(written) == {"serial": text}
        assert visible(written) == written


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ("=1+1", "'=1+1"),
        ("-3.5", "-3.5"),
        ("+1e-3", "+1e-3"),
        ("-1+cmd|'/C calc'!A0", "'-1+cmd|'/C calc'!A0"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'\t=1"),
        ("\r=1", "'\\r=1"),
        ("K1\u202e", "K1\\u202e"),
        ("K1-2", "K1-2"),
    ],
)
def test_a_cell_is_no_formula_and_a_number_stays_one(cell, written):
    """OWASP, CSV Injection: what begins with such a sign gets an apostrophe in front."""
    assert harmless(cell) == written
