from decimal import Decimal

import pytest

from soak.errors import LedgerError
from soak.ledger.entries import NeedsAnyway


@pytest.fixture
def unit(ledger):
    return ledger.add_unit(tag="S1", serial="SP40-0017", model="Ferrow SP-40", bought="2026-06-01")


def make_ready(ledger, soaked, judged, tag="S1", **more):
    evidence = soaked(ledger, tag, f"soak-{tag}", **more)
    ledger.ingest(evidence, judged(f"soak-{tag}", not_tested=["the second port"]))


def test_a_unit_graded_ready_is_sold_without_a_question(ledger, unit, soaked, judged):
    """The usual way has no obstacle, and the sale keeps what the listing showed."""
    make_ready(ledger, soaked, judged)
    sale = ledger.sold("S1", where="market stall", price="149,90", report="2", by="TK")
    assert (sale.price, sale.report, sale.although) == (Decimal("149.90"), "2", "")
    assert ledger.find_unit("S1").state == "sold"


def test_a_unit_never_soaked_is_sold_only_when_insisted(ledger, unit):
    """What spoke against a sale is said, and stays on the card if it is overruled."""
    with pytest.raises(NeedsAnyway, match="was not soaked since its last job began"):
        ledger.sold("S1", where="market stall")
    assert ledger.find_unit("S1").state == "on the bench"
    sale = ledger.sold("S1", where="market stall", anyway=True)
    assert "was not soaked" in sale.although


def test_a_failed_or_unjudged_or_simulated_soak_speaks_against_a_sale(ledger, soaked, judged):
    """Only a grade of ready, on real instruments, in this job, lets a sale pass unasked."""
    for tag in ("A1", "A2", "A3"):
        ledger.add_unit(tag=tag, model="Ferrow SP-40")
    ledger.ingest(soaked(ledger, "A1", "soak-A1"), judged("soak-A1", ready=False))
    ledger.ingest(soaked(ledger, "A2", "soak-A2"))
    make_ready(ledger, soaked, judged, "A3", simulated=True)
    for tag, sentence in (
        ("A1", "graded not ready: failed .the picture dropped out"),
        ("A2", "was not judged"),
        ("A3", "was simulated"),
    ):
        with pytest.raises(NeedsAnyway, match=sentence):
            ledger.sold(tag, where="market stall")


def test_an_old_grade_does_not_sell_a_unit_that_came_back(ledger, unit, soaked, judged):
    """Evidence from before the sale counts for nothing once the unit was in other hands."""
    make_ready(ledger, soaked, judged)
    ledger.sold("S1", where="market stall")
    ledger.back("S1", complaint="picture drops out when warm")
    with pytest.raises(NeedsAnyway, match="was not soaked since"):
        ledger.sold("S1", where="market stall")


def test_a_unit_that_is_not_sold_cannot_come_back(ledger, unit):
    """A come-back without its sale would spoil every count of come-backs."""
    with pytest.raises(LedgerError, match="record the sale first: soak unit sold S1"):
        ledger.back("S1", complaint="no picture")


def test_a_serial_seen_before_says_why_it_came_back_and_what_was_not_tested(
    ledger, unit, soaked, judged
):
    """One sentence at the first sight of the label tells the whole story."""
    make_ready(ledger, soaked, judged)
    ledger.sold("S1", where="market stall")
    ledger.back("S1", complaint="picture drops out when warm")
    (sighting,) = ledger.seen_before("sp4O 0OI7")
    assert sighting.how == "reads alike"
    assert sighting.came_back[0].complaint == "picture drops out when warm"
    assert "the second port" in sighting.not_tested
    assert "had not tested: the second port; reads its service port" in sighting.text


def test_the_nearest_sighting_comes_first(ledger):
    """The very unit stands above those that only look like it."""
    for tag, serial in (("A", "FX-10017"), ("B", "FX-1OO17"), ("C", "FX-10018")):
        ledger.add_unit(tag=tag, serial=serial, model="Ferrow SP-40", anyway=True)
    seen = ledger.seen_before("FX1OO17")
    assert [(s.unit.tag, s.how) for s in seen] == [
        ("B", "the same serial"),
        ("A", "reads alike"),
        ("C", "one character off"),
    ]


@pytest.mark.parametrize("hazard", ["smoke", "shock", "burn"])
def test_a_hazard_shouts_and_warns_at_every_unit_of_the_model(ledger, unit, hazard):
    """Whoever handles a similar unit hears of it until somebody has settled the cause."""
    ledger.add_unit(tag="S2", model="ferrow sp40")
    ledger.add_unit(tag="X1", model="Ferrow SP-60")
    ledger.sold("S1", where="market stall", anyway=True)
    back = ledger.back("S1", complaint="it hurt somebody", hazard=hazard)
    assert back.warnings[0].startswith(f"HAZARD, {hazard.upper()}: S1")
    assert "S2 (on the bench)" in back.warnings[0]
    assert hazard.upper() in ledger.warnings("S2")[0]
    assert ledger.warnings("X1") == []
    with pytest.raises(NeedsAnyway, match="HAZARD OPEN"):
        ledger.sold("S2", where="market stall")
    ledger.settle_hazard("S1", found="a crumb in the fan", done="cleaned", by="TK")
    assert ledger.warnings("S2") == []


def test_a_complaint_that_speaks_of_smoke_is_pointed_at(ledger, unit):
    """A hazard told in words and not flagged does not slip by in silence."""
    ledger.sold("S1", where="market stall", anyway=True)
    back = ledger.back("S1", complaint="Smoked, then nothing")
    assert "record it as that hazard" in back.warnings[0]


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"price": "cheap"}, "is not a number; write it like 49.90"),
        ({"price": "1,299"}, "is not a number"),
        ({"price": -5}, "is not a number"),
        ({"price": float("nan")}, "is not a number"),
        ({"on": "2026-05-30"}, "lies before the day the unit was bought"),
        ({"on": "2026-06-16"}, "lies in the future"),
        ({"where": ""}, "where it was sold is missing"),
    ],
)
def test_a_sale_that_cannot_be_right_is_refused(ledger, unit, given, sentence):
    """Each mistake is one sentence, and the unit stays unsold."""
    with pytest.raises(LedgerError, match=sentence):
        ledger.sold("S1", **({"where": "market stall", "anyway": True} | given))
    assert ledger.find_unit("S1").state == "on the bench"


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"hazard": "explosion"}, "take smoke, shock or burn"),
        ({"complaint": ""}, "what it came back for is missing"),
        ({"on": "2026-06-09"}, "lies before the day it was sold"),
        ({"answers": {"how often": float("inf")}}, "answers cannot be kept"),
    ],
)
def test_a_return_that_cannot_be_right_is_refused(ledger, unit, given, sentence):
    """Each mistake is one sentence, and the unit stays sold."""
    ledger.sold("S1", where="market stall", on="2026-06-10", anyway=True)
    with pytest.raises(LedgerError, match=sentence):
        ledger.back("S1", **({"complaint": "no picture"} | given))
    assert ledger.find_unit("S1").state == "sold"


def test_settling_a_hazard_that_is_not_there_is_refused(ledger, unit):
    """A wrong tag does not silence another unit's hazard."""
    with pytest.raises(LedgerError, match="has no open hazard"):
        ledger.settle_hazard("S1", found="nothing", done="nothing", by="TK")
