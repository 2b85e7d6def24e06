import pytest

from soak.errors import LedgerError
from soak.ledger.entries import Wear
from soak.ledger.ledger import Ledger


@pytest.fixture
def unit(ledger):
    return ledger.add_unit(tag="S1", serial="SP40-0017", model="Ferrow SP-40")


def test_taking_the_same_journal_in_again_changes_nothing(ledger, unit, soaked, judged):
    """Whoever is unsure whether a soak is in the ledger may simply take it in again."""
    evidence, judgement = soaked(ledger, "S1", "soak-1"), judged("soak-1")
    first = ledger.ingest(evidence, judgement)
    card = ledger.unit_card("S1")
    assert ledger.ingest(evidence, judgement) == first
    assert ledger.unit_card("S1") == card


def test_a_running_soak_is_brought_up_to_date_when_it_is_sealed(ledger, unit, soaked, judged):
    """The same soak, first running, then sealed and graded, is one line."""
    running = ledger.ingest(soaked(ledger, "S1", "soak-1", ended=None))
    assert (running.ended, running.seal, running.grade) == ("", "", "")
    evidence = soaked(ledger, "S1", "soak-1")
    sealed = ledger.ingest(evidence, judged("soak-1"))
    assert (sealed.ended, sealed.grade) == ("complete", "ready")
    assert sealed.seal == evidence.file_sha256
    assert len(sealed.seal) == 64
    assert len(ledger.soaks("S1")) == 1


def test_a_soak_keeps_what_it_cost_the_unit(ledger, unit, soaked):
    """Two starts, 30 s and 60 s under power and two writes are counted as use."""
    assert ledger.ingest(soaked(ledger, "S1", "soak-1")).wear == Wear(2, 90.0, 3000)
    ledger.ingest(soaked(ledger, "S1", "soak-2"))
    assert ledger.unit_card("S1").wear == Wear(4, 180.0, 6000)


def test_functions_that_nothing_exercised_are_kept_as_not_tested(ledger, unit, soaked, judged):
    """The model's functions outside the script stand beside the requirements not tested."""
    line = ledger.ingest(
        soaked(ledger, "S1", "soak-1"), judged("soak-1", not_tested=["no wrong data on port 2"])
    )
    assert line.not_tested == (
        "no wrong data on port 2",
        "reads its service port",
        "plays sound",
    )


def test_another_grade_is_added_beside_the_first(ledger, unit, soaked, judged):
    """What was graded by older rules stays on the card with the rules it was graded by."""
    evidence = soaked(ledger, "S1", "soak-1")
    ledger.ingest(evidence, judged("soak-1", rules="3"))
    line = ledger.ingest(evidence, judged("soak-1", ready=False, rules="4"))
    assert (line.grade, line.rules) == ("not ready: failed", "4")
    (soak,) = [line for line in ledger.unit_card("S1").lines if line.kind == "soak"]
    gradings = [(g["grade"], g["rules"]) for g in soak.detail["gradings"]]
    assert gradings == [("ready", "3"), ("not ready: failed", "4")]


def test_a_journal_that_is_not_the_one_taken_in_is_refused(ledger, unit, soaked, judged):
    """A sealed soak cannot be exchanged for another of the same name."""
    ledger.ingest(soaked(ledger, "S1", "soak-1"), judged("soak-1", ready=False))
    other = soaked(ledger, "S1", "soak-1", ended="stopped")
    with pytest.raises(LedgerError, match="is not the one that was taken in"):
        ledger.ingest(other, judged("soak-1"))
    assert ledger.soaks("S1")[0].grade == "not ready: failed"


def test_a_journal_of_another_bench_is_refused(ledger, unit, soaked, tmp_path):
    """A soak lands on no unit but its own."""
    other = Ledger(tmp_path / "other.sqlite")
    other.add_unit(tag="Z9", model="Ferrow SP-40")
    other.opened("Z9", why="repair")
    with pytest.raises(LedgerError, match=r"job Z9-2, which this ledger does not have"):
        ledger.ingest(soaked(other, "Z9", "soak-9"))


def test_earlier_soaks_of_the_job_stand_in_the_next_header(ledger, unit, soaked, judged):
    """Passing on the third try can be seen by whoever reads the third report."""
    for number, ready in ((1, False), (2, False)):
        soak_id = f"soak-{number}"
        ledger.ingest(soaked(ledger, "S1", soak_id), judged(soak_id, ready=ready))
    _, _, references = ledger.for_header("S1")
    assert [(s.soak_id, s.script, s.grade) for s in references.earlier_soaks] == [
        ("soak-1", "overnight", "not ready: failed"),
        ("soak-2", "overnight", "not ready: failed"),
    ]
