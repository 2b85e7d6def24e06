import pytest

from soak.errors import LedgerError
from soak.ledger.entries import NeedsAnyway


def test_a_unit_is_found_by_tag_serial_or_the_unique_beginning_of_either(ledger):
    """Whatever the operator types of a unit's two names leads to it, case and dashes aside."""
    ledger.add_unit(tag="KY-1", serial="SP40-0017", model="Ferrow SP-40")
    ledger.add_unit(tag="KY-20", serial="ZQ99-0500", model="Ferrow SP-40")
    for text in ("KY-1", "ky-1", "SP40-0017", "sp40 0017", "sp4"):
        assert ledger.find_unit(text).tag == "KY-1"
    assert ledger.find_unit("KY-2").serial == "ZQ99-0500"


def test_a_whole_tag_is_never_mistaken_for_the_beginning_of_another(ledger):
    """S1 means S1, although S10 begins the same."""
    ledger.add_unit(tag="S10", model="Ferrow SP-40")
    ledger.add_unit(tag="S1", model="Ferrow SP-40")
    assert ledger.find_unit("s1").tag == "S1"


def test_an_ambiguous_beginning_lists_what_it_may_mean(ledger):
    """Nothing is done to a unit that was only guessed at."""
    ledger.add_unit(tag="S10", model="Ferrow SP-40")
    ledger.add_unit(tag="S11", model="Ferrow SP-40")
    with pytest.raises(LedgerError, match="may be any of S10, S11"):
        ledger.find_unit("S1")


@pytest.mark.parametrize(
    ("typed", "nearest"), [("KI-7", "KY-7"), ("SP40-OO18", "KY-7"), ("SP40-0081", "KY-7")]
)
def test_an_unknown_unit_is_answered_with_the_nearest(ledger, typed, nearest):
    """A slip of the finger is answered with what was probably meant."""
    ledger.add_unit(tag="KY-7", serial="SP40-0018", model="Ferrow SP-40")
    if typed == "SP40-OO18":
        ledger.add_unit(tag="OTHER", serial="ABCDEFGH", model="Ferrow SP-40")
    with pytest.raises(LedgerError, match=f"did you mean {nearest}"):
        ledger.find_unit(typed)


def test_an_empty_ledger_says_how_to_add_the_first_unit(ledger):
    """The first command of a newcomer ends in what to do, not in a riddle."""
    with pytest.raises(LedgerError, match="it is empty, add one with: soak unit add"):
        ledger.find_unit("S1")


def test_the_same_serial_twice_is_refused_with_the_unit_that_has_it(ledger):
    """One unit has one line in the ledger, however its serial is spelt."""
    ledger.add_unit(tag="S1", serial="SP40-0017", model="Ferrow SP-40")
    with pytest.raises(LedgerError, match="in the ledger already as S1, on the bench"):
        ledger.add_unit(tag="S2", serial="sp40 0017", model="ferrow SP40", anyway=True)
    assert [unit.tag for unit in ledger.list_units()] == ["S1"]


def test_a_serial_that_reads_alike_is_added_only_when_insisted(ledger):
    """O and 0 on a label are asked about once, and the operator has the last word."""
    ledger.add_unit(tag="S1", serial="B0-17", model="Ferrow SP-40")
    with pytest.raises(NeedsAnyway, match="reads like that of S1"):
        ledger.add_unit(tag="S2", serial="8O-I7", model="Ferrow SP-40")
    assert ledger.add_unit(tag="S2", serial="8O-I7", model="Ferrow SP-40", anyway=True).tag == "S2"


def test_two_makers_may_use_the_same_serial(ledger):
    """The same serial on another model is another unit, once the operator has looked."""
    ledger.add_unit(tag="S1", serial="0001", model="Ferrow SP-40")
    with pytest.raises(NeedsAnyway):
        ledger.add_unit(tag="S2", serial="0001", model="Ferrow SP-60")
    ledger.add_unit(tag="S2", serial="0001", model="Ferrow SP-60", anyway=True)
    with pytest.raises(LedgerError, match="may be any of S1, S2"):
        ledger.find_unit("0001")


def test_units_without_serials_do_not_look_alike(ledger):
    """A missing label is no likeness."""
    tags = [ledger.add_unit(model="Ferrow SP-40").tag for _ in range(3)]
    assert tags == ["U1", "U2", "U3"]
    assert ledger.seen_before("") == []


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"tag": "S1", "model": " "}, "model is missing"),
        ({"tag": "a@b", "model": "M"}, "cannot be used"),
        ({"tag": "TAKEN", "model": "M"}, "the tag TAKEN is taken"),
        ({"tag": "taken", "model": "M"}, "the tag taken is taken"),
        ({"tag": "SER-77", "model": "M"}, "is the serial of Taken"),
        ({"tag": "S9", "serial": "taken", "model": "M"}, "is the tag of another unit"),
        ({"tag": "S1", "model": "M", "bought": "2026-06-16"}, "lies in the future"),
        ({"tag": "S1", "model": "M", "bought": "16.6.2026"}, "is not a date; write it like"),
        ({"tag": "S1", "model": "M", "bought": "2026-02-30"}, "is not a date"),
    ],
)
def test_a_unit_that_cannot_be_added_leaves_the_ledger_as_it_was(ledger, given, sentence):
    """Each mistake is one sentence, and nothing of it is kept."""
    ledger.add_unit(tag="Taken", serial="SER77", model="Ferrow SP-40")
    with pytest.raises(LedgerError, match=sentence):
        ledger.add_unit(**given)
    assert [unit.tag for unit in ledger.list_units()] == ["Taken"]
