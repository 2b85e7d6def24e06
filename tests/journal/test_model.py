"""The journal on its file against a plain list, under random operations."""

import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
import trio
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from recorded import QUANTITIES, expected, header, kept_file, said

from soak.clock import BootClock, LeapingClock
from soak.errors import JournalError
from soak.journal import create, first_session, open_evidence, resume
from soak.records import Mark, Observed, Reading, State

times = st.floats(0, 1e6)
numbers = st.floats(allow_nan=False, allow_infinity=False)
texts = st.text(max_size=20)
details = st.dictionaries(
    texts, st.one_of(texts, st.booleans(), st.none(), st.integers(-(2**53) + 1, 2**53 - 1), numbers)
)
observed = st.one_of(
    st.builds(Reading, times, st.sampled_from([entry.name for entry in QUANTITIES]), numbers),
    st.builds(State, times, st.sampled_from(["capture", "stick"]), texts, times, details),
    st.builds(Mark, times, texts, texts, texts, details),
)


class JournalAgainstList(RuleBasedStateMachine):
    """Append, keep, wait, close and go on; what is read is what a list would hold."""

    leaping = True

    def __init__(self) -> None:
        super().__init__()
        self.clock = LeapingClock() if self.leaping else BootClock()
        self.folder = Path(tempfile.mkdtemp(prefix="soak-model-"))
        self.first = first_session("1.0", self.clock)
        self.writer = create(self.folder, header(), self.first, clock=self.clock)
        self.records: list[Observed] = []
        self.durable = self.sessions = 1
        self.files = 0
        self.sealed = False

    @precondition(lambda self: not self.sealed)
    @rule(records=st.lists(observed, max_size=30))
    def append(self, records: list[Observed]) -> None:
        for record in records:
            assert self.writer.append(record) == len(self.records) + 2 + self.sessions
            self.records.append(record)

    @precondition(lambda self: not self.sealed)
    @rule(t_s=times, data=st.binary(max_size=100))
    def keep(self, t_s: float, data: bytes) -> None:
        self.files += 1
        entry = kept_file(t_s, f"{self.files}.bin")
        self.writer.keep(entry, data)
        self.records.append(entry)

    @precondition(lambda self: not self.sealed)
    @rule()
    def wait(self) -> None:
        trio.run(self.writer.acknowledged, len(self.records) + 1 + self.sessions, clock=self.clock)
        assert said(open_evidence(self.folder)) == expected(self.records)

    @precondition(lambda self: not self.sealed)
    @rule()
    def close_and_go_on(self) -> None:
        self.writer.close()
        assert said(open_evidence(self.folder)) == expected(self.records)
        self.sessions += 1
        session = replace(self.first, number=self.sessions)
        self.writer = resume(self.folder, session, clock=self.clock)

    @precondition(lambda self: not self.sealed)
    @rule()
    def seal(self) -> None:
        trio.run(self.writer.seal, "complete", {}, clock=self.clock)
        self.sealed = True
        evidence = open_evidence(self.folder)
        assert evidence.file_sha256
        assert said(evidence) == expected(self.records)

    @precondition(lambda self: self.sealed)
    @rule(record=observed)
    def append_after_the_seal(self, record: Observed) -> None:
        with pytest.raises(JournalError):
            self.writer.append(record)

    @invariant()
    def what_is_read_is_a_beginning(self) -> None:
        evidence = open_evidence(self.folder)
        found = evidence.contents().next_number - 2 - len(evidence.sessions()) - self.sealed
        assert said(evidence) == expected(self.records[:found])

    def teardown(self) -> None:
        self.writer.close()
        shutil.rmtree(self.folder)


class ThreadedJournalAgainstList(JournalAgainstList):
    """The same with the writing thread."""

    leaping = False


_FEW = settings(
    max_examples=25, stateful_step_count=20, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow], database=None,
)  # fmt: skip
TestLeaping = JournalAgainstList.TestCase
TestLeaping.settings = _FEW
TestThreaded = ThreadedJournalAgainstList.TestCase
TestThreaded.settings = _FEW
