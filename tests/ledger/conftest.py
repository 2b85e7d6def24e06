"""A ledger with a fixed day, and soaks to take in."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

import pytest
from headers import header_of

from soak.journal.memory import MemoryEvidence, MemoryJournal
from soak.ledger.ledger import Ledger
from soak.quantities import Quantity
from soak.records import FORMAT, Mark, Reading, Requirement
from soak.rules.core.verdict import Exercised, Finding, Judgement, Verdict

NOW = datetime(2026, 6, 15, 12, 0).astimezone()

MODEL_SHEET = {
    "functions": {
        "video": {"text": "shows its picture", "check": "picture"},
        "service": {"text": "reads its service port", "check": "transfer"},
        "sound": {"text": "plays sound", "check": ""},
    }
}


@pytest.fixture
def ledger(tmp_path) -> Ledger:
    return Ledger(tmp_path / "ledger.sqlite", now=lambda: NOW)


@pytest.fixture
def soaked() -> Callable[..., MemoryEvidence]:
    return soak_of


@pytest.fixture
def judged() -> Callable[..., Judgement]:
    return judgement_of


def soak_of(
    ledger: Ledger,
    unit: str,
    soak_id: str,
    *,
    simulated: bool = False,
    ended: str | None = "complete",
    script: str = "overnight",
    fixture: Mapping[str, Any] | None = None,
    marks: Sequence[Mark] = (),
    ends_s: float | None = None,
) -> MemoryEvidence:
    """Build a soak of 2 starts, 90 s under power, 3000 B written; with `ended` None it runs."""
    job_id, described, references = ledger.for_header(unit)
    header = header_of(
        format=FORMAT,
        soak_id=soak_id,
        job_id=job_id,
        unit=described,
        model_sheet=MODEL_SHEET,
        script={"name": script, "stretches": [{"name": "run", "checks": {"picture": {}}}]},
        fixture=fixture or {},
        quantities=(Quantity("transfer.stick.written", "B", "stick"),),
        requirements=(),
        references=references,
        seed=1,
        simulated=simulated,
    )
    journal = MemoryJournal(header)
    for mark in marks:
        journal.append(mark)
    for t_s, on in ((10.0, True), (40.0, False), (50.0, True), (110.0, False)):
        journal.append(Mark(t_s, "power", detail={"on": on, "channel": "1"}))
        if on:
            journal.append(Mark(t_s, "start", detail={"kind": "warm", "number": 1}))
    journal.append(Reading(60.0, "transfer.stick.written", 1000.0))
    journal.append(Reading(61.0, "transfer.stick.written", 2000.0))
    if ends_s is not None:
        journal.append(Mark(ends_s, "note", detail={"text": "the end"}))
    if ended is not None:
        journal.seal_now(ended)
    return journal.evidence


def judgement_of(
    *soak_ids: str, ready: bool = True, not_tested: Sequence[str] = (), rules: str = "1"
) -> Judgement:
    """Build a judgement with one finding `not tested` for each text given."""
    return Judgement(
        ready=ready,
        because="all met" if ready else "failed",
        reason="all requirements are met" if ready else "the picture dropped out 3 times",
        findings=[_not_tested(text) for text in not_tested],
        points=(),
        rules=rules,
        seals=("",) * len(soak_ids),
        soaks=soak_ids,
        functions=[
            Exercised("picture", "shows its picture", True, Verdict.MET),
            Exercised("service", "reads its service port", False, Verdict.NOT_TESTED),
            Exercised("sound", "plays sound", False, Verdict.NOT_TESTED),
        ],
    )


def _not_tested(text: str) -> Finding:
    requirement = Requirement(f"run/x/{text}", "x", "run", text, "", "starts")
    return Finding(requirement, Verdict.NOT_TESTED, None, None, None, None, "", "no instrument")
