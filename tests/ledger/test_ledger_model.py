"""The ledger against a plain model in memory, under random orders of what an operator may do."""

import tempfile
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from soak.errors import LedgerError
from soak.ledger.ledger import Ledger

from .conftest import NOW, judgement_of, soak_of

TAGS = st.sampled_from(["S1", "S2", "S3"])

UNHURRIED = settings(
    max_examples=15,
    stateful_step_count=20,
    # how fast the machine is just now is not what is tested
    suppress_health_check=[HealthCheck.too_slow],
)


class AgainstModel(RuleBasedStateMachine):
    """Each act either changes ledger and model alike, or is refused by both."""

    def __init__(self):
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        path = Path(self.folder.name) / "ledger.sqlite"
        self.ledger = Ledger(path, now=lambda: NOW)
        self.units = {}
        self.soaks = 0

    def teardown(self):
        self.folder.cleanup()

    def either(self, allowed, act, tag, *kinds, state=None):
        """Do `act`; it must be refused unless `allowed`, and then add `kinds` to the card."""
        try:
            act()
        except LedgerError:
            assert not allowed
            return
        assert allowed
        self.units[tag]["card"].extend(kinds)
        if state:
            self.units[tag]["state"] = state

    def there(self, tag, *states):
        return tag in self.units and self.units[tag]["state"] in states

    @rule(tag=TAGS)
    def add(self, tag):
        new = tag not in self.units
        if new:
            self.units[tag] = {"state": "on the bench", "card": [], "jobs": 1, "soaks": {1: []}}
        self.either(
            new, lambda: self.ledger.add_unit(tag=tag, model="Ferrow SP-40"), tag, "bought", "job"
        )

    @rule(tag=TAGS)
    def repair(self, tag):
        allowed = self.there(tag, "on the bench", "came back") and not self.now(tag)
        self.either(
            allowed,
            lambda: self.ledger.record_repair(tag, what="port", function="video"),
            tag,
            "repair",
            state="on the bench",
        )

    @rule(tag=TAGS)
    def opened(self, tag):
        allowed = self.there(tag, "on the bench", "came back")
        self.either(
            allowed,
            lambda: self.ledger.opened(tag, why="look inside"),
            tag,
            "job",
            state="on the bench",
        )
        if allowed:
            self.new_job(tag)

    @rule(tag=TAGS, ready=st.booleans())
    def soaked(self, tag, ready):
        if not self.there(tag, "on the bench", "came back"):
            return
        self.soaks += 1
        soak_id = f"soak-{self.soaks}"
        evidence = soak_of(self.ledger, tag, soak_id)
        for _ in range(2):  # taken in twice, it counts once
            self.ledger.ingest(evidence, judgement_of(soak_id, ready=ready))
        self.units[tag]["card"].append("soak")
        self.now(tag).append("ready" if ready else "not ready: failed")

    @rule(tag=TAGS, anyway=st.booleans())
    def sold(self, tag, anyway):
        here = self.there(tag, "on the bench", "came back")
        ready = here and self.now(tag)[-1:] == ["ready"]
        self.either(
            here and (ready or anyway),
            lambda: self.ledger.sold(tag, where="market", anyway=anyway),
            tag,
            "sold",
            state="sold",
        )

    @rule(tag=TAGS)
    def back(self, tag):
        allowed = self.there(tag, "sold")
        self.either(
            allowed,
            lambda: self.ledger.back(tag, complaint="no picture"),
            tag,
            "came back",
            "job",
            state="came back",
        )
        if allowed:
            self.new_job(tag)

    def now(self, tag):
        return self.units[tag]["soaks"][self.units[tag]["jobs"]]

    def new_job(self, tag):
        self.units[tag]["jobs"] += 1
        self.units[tag]["soaks"][self.units[tag]["jobs"]] = []

    @invariant()
    def ledger_and_model_agree(self):
        assert {u.tag: u.state for u in self.ledger.list_units()} == {
            tag: unit["state"] for tag, unit in self.units.items()
        }
        for tag, unit in self.units.items():
            card = self.ledger.unit_card(tag)
            assert sorted(line.kind for line in card.lines) == sorted(unit["card"])
            assert card.job.number == unit["jobs"]
            assert card.wear.starts == 2 * unit["card"].count("soak")
            if unit["state"] != "sold":
                _, described, references = self.ledger.for_header(tag)
                assert [s.grade for s in references.earlier_soaks] == self.now(tag)
                assert len(described.repairs) == unit["card"].count("repair")


def test_ledger_agrees_with_a_plain_model_whatever_the_operator_does():
    """No order of acts loses, doubles or invents an entry, or lets a refused act through."""
    from hypothesis.stateful import run_state_machine_as_test

    run_state_machine_as_test(AgainstModel, settings=UNHURRIED)
