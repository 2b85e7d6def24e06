def test_the_card_tells_everything_in_order_of_time(ledger, soaked, judged):
    """One unit's life, from purchase to the second repair, reads from top to bottom."""
    ledger.add_unit(tag="S1", serial="SP40-0017", model="Ferrow SP-40", bought="2025-12-01")
    ledger.record_repair(
        "S1", what="port resoldered", function="video", kind="rework", on="2025-12-02"
    )
    ledger.ingest(soaked(ledger, "S1", "soak-1"), judged("soak-1"))  # began on 2026-01-05
    ledger.wiped("S1", how="reset", verified="looked", by="TK", on="2026-02-01")
    ledger.sold("S1", where="market stall", price=120, on="2026-02-03")
    ledger.back(
        "S1", complaint="no picture", answers={"hot or cold": "hot"}, hazard="burn", on="2026-03-01"
    )
    ledger.settle_hazard(
        "S1", found="the buyer's own supply", done="told the buyer", by="TK", on="2026-03-02"
    )
    ledger.opened("S1", why="look at the port", on="2026-03-03")
    card = ledger.unit_card("S1")
    assert [line.kind for line in card.lines] == [
        "bought",
        "job",
        "repair",
        "soak",
        "wiped",
        "sold",
        "came back",
        "job",
        "hazard settled",
        "job",
    ]
    assert [line.on for line in card.lines] == sorted(line.on for line in card.lines)
    assert card.job.job_id == "S1-3"
    assert card.unit.state == "on the bench"
    texts = [line.text for line in card.lines]
    assert texts[3] == (
        "overnight, complete: ready (all requirements are met); "
        "2 starts, 90 s powered, 3.00 kB written"
    )
    assert texts[5] == "market stall for 120.00"
    assert texts[6] == "HAZARD, BURN: no picture (hot or cold: hot)"


def test_an_event_recorded_late_stands_where_it_happened(ledger):
    """A repair written down days later is read at its own day."""
    ledger.add_unit(tag="S1", model="Ferrow SP-40", bought="2026-01-01")
    ledger.wiped("S1", how="reset", verified="looked", by="TK", on="2026-01-20")
    ledger.record_repair("S1", what="fan", function="cooling", on="2026-01-10")
    assert [line.kind for line in ledger.unit_card("S1").lines] == [
        "bought",
        "job",
        "repair",
        "wiped",
    ]
