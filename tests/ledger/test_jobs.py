import json

import pytest

from soak.errors import LedgerError
from soak.frozen.shape import as_json, read_as
from soak.frozen.unit import WipedStated
from soak.records import canonical_json


@pytest.fixture
def unit(ledger):
    return ledger.add_unit(tag="S1", serial="SP40-0017", model="Ferrow SP-40", bought="2026-06-01")


def test_opening_a_unit_begins_a_job_that_starts_without_evidence(ledger, unit, soaked, judged):
    """What a soak showed before the case was opened counts for nothing afterwards."""
    evidence = soaked(ledger, "S1", "first-soak")
    ledger.ingest(evidence, judged("first-soak"))
    assert [line.soak_id for line in ledger.for_header("S1")[2].earlier_soaks]
    job = ledger.opened("S1", why="fan was noisy")
    assert (job.job_id, job.number) == ("S1-2", 2)
    assert ledger.for_header("S1")[2].earlier_soaks == ()


def test_a_repair_after_a_soak_asks_for_the_opening_first(ledger, unit, soaked):
    """A repair never lands under evidence that was taken before it, even while a soak runs."""
    ledger.ingest(soaked(ledger, "S1", "running-soak", ended=None))
    repair = {"what": "resoldered the port", "function": "video", "kind": "rework"}
    with pytest.raises(LedgerError, match="soak unit opened S1"):
        ledger.record_repair("S1", **repair)
    ledger.opened("S1", why="picture dropped out")
    assert ledger.record_repair("S1", **repair).job_id == "S1-2"


def test_the_header_names_every_repair_of_all_jobs(ledger, unit):
    """A repair stays to be shown although the unit was opened again since."""
    ledger.record_repair("S1", what="port resoldered", function="video", kind="rework")
    ledger.opened("S1", why="still drops out")
    ledger.record_repair(
        "S1", what="port replaced", function="video", kind="part replaced", part="HD-19", batch="7"
    )
    job_id, described, _ = ledger.for_header("S1")
    assert job_id == "S1-2"
    assert [(r.id, r.function, r.kind) for r in described.repairs] == [
        ("R1", "video", "rework"),
        ("R2", "video", "part replaced"),
    ]


def test_a_wiping_no_longer_holds_once_the_unit_was_in_other_hands(ledger, unit):
    """A unit that came back may hold its buyer's data."""
    assert ledger.for_header("S1")[1].wiped is None
    ledger.wiped("S1", how="maker's reset", verified="menu looked through", by="TK")
    assert ledger.for_header("S1")[1].wiped == WipedStated(
        how="maker's reset", verified="menu looked through", by="TK", on="2026-06-15"
    )
    ledger.sold("S1", where="market stall", anyway=True)
    ledger.back("S1", complaint="no picture")
    assert ledger.for_header("S1")[1].wiped is None


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"kind": "repiar"}, "did you mean repair"),
        ({"kind": "magic"}, "take one of rework, repair, part replaced, donor part"),
        ({"what": ""}, "what was repaired is missing"),
        ({"function": " "}, "function of the model sheet it gave back is missing"),
        ({"on": "2026-05-31"}, "lies before the day the unit was bought"),
        ({"on": "tomorrow"}, "is not a date"),
        ({"on": "2027-01-01"}, "lies in the future"),
    ],
)
def test_a_repair_that_cannot_be_right_is_refused(ledger, unit, given, sentence):
    """Each mistake is one sentence, and no half of it is kept."""
    right = {"what": "port resoldered", "function": "video", "kind": "rework", "on": "2026-06-02"}
    with pytest.raises(LedgerError, match=sentence):
        ledger.record_repair("S1", **(right | given))
    assert [line.kind for line in ledger.unit_card("S1").lines] == ["bought", "job"]


def test_nothing_is_done_to_a_sold_unit_before_it_is_said_to_be_back(ledger, unit):
    """Whoever has the unit on the bench again must first say that it came back."""
    ledger.sold("S1", where="market stall", anyway=True)
    for act in (
        lambda: ledger.record_repair("S1", what="x", function="video"),
        lambda: ledger.opened("S1", why="look"),
        lambda: ledger.wiped("S1", how="x", verified="y", by="TK"),
        lambda: ledger.for_header("S1"),
        lambda: ledger.sold("S1", where="again", anyway=True),
    ):
        with pytest.raises(LedgerError, match="soak unit back S1"):
            act()


def test_what_goes_into_a_header_is_canonical_json(ledger, unit, soaked, judged):
    """Every part of the header's unit and references survives the journal's own writing."""
    ledger.record_repair("S1", what="port resoldered", function="video", kind="rework")
    ledger.ingest(soaked(ledger, "S1", "soak-1"), judged("soak-1", not_tested=["second port"]))
    ledger.sold("S1", where="market stall", price="12.50")
    ledger.back("S1", complaint="no picture", answers={"hot or cold": "hot"}, hazard="smoke")
    _, described, references = ledger.for_header("S1")
    for stated in (described, references):
        assert read_as(type(stated), json.loads(canonical_json(as_json(stated)))) == stated
    assert [as_json(back) for back in described.came_back] == [
        {"on": "2026-06-15", "complaint": "no picture", "hazard": "smoke"}
    ]
    assert "second port" in references.came_back[0].not_tested
