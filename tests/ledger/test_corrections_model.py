"""A history with mistakes put right comes to what it would be had it been written right at once."""

import sqlite3
import tempfile
from collections import Counter
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from soak.errors import LedgerError
from soak.ledger.ledger import Ledger

from .conftest import NOW, judgement_of, soak_of

WHO = {"because": "typed wrong", "by": "SM"}
WORDS = st.sampled_from(["fan", "port", "paste"])
ACTS = st.one_of(
    st.tuples(st.just("repair"), WORDS),
    st.tuples(st.just("wiped"), WORDS),
    st.tuples(st.just("opened"), WORDS),
    st.tuples(st.just("soaked"), WORDS),
    st.tuples(st.just("sold"), WORDS),
    st.tuples(st.just("back"), WORDS),
    st.tuples(st.just("hazard"), WORDS),
    st.tuples(st.just("settle"), WORDS),
)
TAKEN_BACK = [
    (("repair", "fan"), "not at all"),
    (("soaked", "fan"), "right"),
    (("sold", "fan"), "right"),
    (("back", "fan"), "not at all"),
    (("back", "fan"), "right"),
]
"""A grade is taken back after the sale: what the soak left untested is still known."""
STEPS = st.lists(
    st.tuples(
        ACTS, st.sampled_from(["right", "right", "not at all", "other words", "twice withdrawn"])
    ),
    max_size=14,
)
CORRECTED = {
    "repair": "what",
    "wiped": "how",
    "opened": "what",
    "sold": "where",
    "back": "complaint",
    "hazard": "complaint",
    "settle": "found",
}
"""By which word each kind of entry is corrected."""


class Written:
    """One ledger with one unit, S1."""

    def __init__(self, folder: str, name: str) -> None:
        self.path = Path(folder) / name
        self.ledger = Ledger(self.path, now=lambda: NOW)
        self.ledger.add_unit(tag="S1", model="Ferrow SP-40", serial="FX-1")
        self.soaks = 0

    def act(self, act: tuple[str, str]) -> list[int]:
        """Do one thing; return the entries that it made, or none if it is refused."""
        kind, word = act
        before = self.newest()
        try:
            getattr(self, kind)(word)
        except LedgerError:
            return []
        return list(range(before + 1, self.newest() + 1))

    def newest(self) -> int:
        return max(line.entry for line in self.ledger.unit_card("S1").lines)

    def repair(self, word: str) -> None:
        self.ledger.record_repair("S1", what=word, function="video")

    def wiped(self, word: str) -> None:
        self.ledger.wiped("S1", how=word, verified="read", by="SM")

    def opened(self, word: str) -> None:
        self.ledger.opened("S1", why=word)

    def soaked(self, _: str) -> None:
        soak = soak_of(self.ledger, "S1", f"soak-{self.soaks}")
        self.ledger.ingest(soak)
        self.ledger.ingest(soak, judgement_of(f"soak-{self.soaks}"))
        self.soaks += 1

    def sold(self, word: str) -> None:
        self.ledger.sold("S1", where=word, anyway=True)

    def back(self, word: str) -> None:
        self.ledger.back("S1", complaint=word)

    def hazard(self, word: str) -> None:
        self.ledger.back("S1", complaint=word, hazard="burn")

    def settle(self, word: str) -> None:
        self.ledger.settle_hazard("S1", found=word, done="cleaned", by="SM")

    def stands(self) -> dict[str, object]:
        """Return all that readers are told of the unit, the numbers of jobs and repairs aside."""
        card = self.ledger.unit_card("S1")
        told: dict[str, object] = {
            "state": card.unit.state,
            "serial": card.unit.serial,
            "job": card.job.why,
            "warnings": card.warnings,
            "wear": card.wear,
            "seen": [
                (one.how, one.came_back, one.sold and replace(one.sold, although="", job_id=""))
                for one in self.ledger.seen_before("FX-1")
            ],
            "hazards": self.ledger.own_hazards("S1"),
            "card": [
                (line.kind, line.text.partition(", ")[2] or line.text.partition(": ")[2])
                for line in card.lines
                if line.kind in ("repair", "came back", "wiped", "hazard settled")
                and not line.withdrawn
            ],
        }
        if card.unit.state != "sold":
            _, unit, references = self.ledger.for_header("S1")
            repairs = [replace(one, id="", job_id="", at=0.0) for one in unit.repairs]
            told["unit"] = replace(unit, repairs=tuple(repairs))
            told["came_back"] = references.came_back
            told["earlier"] = len(references.earlier_soaks)
        return told

    def rows(self) -> Counter[tuple[object, ...]]:
        """Return every row of the entries' own tables."""
        tables = ("entries", "repairs", "sales", "came_back", "settled", "wiped", "corrections")
        with closing(sqlite3.connect(self.path)) as plain:
            return Counter(
                (name, *row) for name in tables for row in plain.execute(f"SELECT * FROM {name}")
            )


class Mistaken(Written):
    """A ledger in which mistakes are made, and put right as late as possible."""

    def __init__(self, folder: str, name: str) -> None:
        super().__init__(folder, name)
        self.pending: list[tuple[int, dict[str, str] | None]] = []

    def mistake(self, act: tuple[str, str], how: str) -> bool:
        """Do one thing by mistake, or in other words; return whether it was accepted."""
        made = self.act(act if how != "other words" else (act[0], "mistyped"))
        if made and act[0] != "soaked":
            right = None if how == "not at all" else {CORRECTED[act[0]]: act[1]}
            last = made[:1] if act[0] != "settle" else made
            self.pending += [(entry, right) for entry in last]
        return bool(made)

    def put_right(self) -> bool:
        """Withdraw and correct what is pending, the latest first; tell whether it could be."""
        while self.pending:
            entry, right = self.pending.pop()
            try:
                if right is None:
                    self.ledger.withdraw_entry("S1", entry, **WHO)
                else:
                    self.ledger.correct_entry("S1", entry, right, **WHO)
            except LedgerError:
                return False
        return True

    def to_and_fro(self, entries: list[int]) -> None:
        """Withdraw an entry and withdraw that again, where it can be: nothing has changed."""
        before = self.stands()
        try:
            done = self.ledger.withdraw_entry("S1", entries[0], **WHO)
        except LedgerError:
            return
        self.ledger.withdraw_entry("S1", done.entry, **WHO)
        assert self.stands() == before


def both(folder: str, steps: list[tuple[tuple[str, str], str]]) -> tuple[Mistaken, Written] | None:
    """Write a history with mistakes and the same without; None if one could not be put right."""
    mistaken, right = Mistaken(folder, "mistaken"), Written(folder, "right")
    for act, how in steps:
        before = mistaken.rows()
        if how == "not at all":
            if act[0] != "soaked":
                mistaken.mistake(act, how)
        elif not _kept_level(mistaken, right, act, how):
            return None
        assert not before - mistaken.rows()
    return (mistaken, right) if mistaken.put_right() else None


def _kept_level(mistaken: Mistaken, right: Written, act: tuple[str, str], how: str) -> bool:
    """Do one thing in both; what a mistake forbids is done once that is put right."""
    allowed, done = bool(right.act(act)), _done(mistaken, act, how)
    if allowed and not done:
        if not mistaken.put_right():
            return False
        assert _done(mistaken, act, how)
    return allowed or not done


def _done(mistaken: Mistaken, act: tuple[str, str], how: str) -> bool:
    if how == "other words":
        return mistaken.mistake(act, how)
    made = mistaken.act(act)
    if made and how == "twice withdrawn":
        mistaken.to_and_fro(made)
    return bool(made)


def test_a_history_put_right_is_the_history_written_right():
    """Whatever was withdrawn, corrected and restored, readers are told the same; no row is lost."""
    compared = []

    @settings(max_examples=30, suppress_health_check=list(HealthCheck))
    @given(steps=STEPS)
    @example(steps=TAKEN_BACK)
    def run(steps):
        with tempfile.TemporaryDirectory() as folder:
            found = both(folder, steps)
            if found is not None:
                mistaken, right = found
                assert mistaken.stands() == right.stands()
                compared.append(sum(how != "right" for _, how in steps))

    run()
    assert sum(mistakes > 1 for mistakes in compared) > 6
