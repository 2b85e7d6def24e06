"""Records for tests of the journal: a header, and streams of records from a seed."""

import random
from collections.abc import Sequence
from typing import Any

from headers import header_of

from soak.evidence import Evidence
from soak.quantities import Quantity
from soak.records import FORMAT, Header, KeptFile, Mark, Observed, Reading, State

QUANTITIES = (
    Quantity("probe.ambient", "degC", "probe.ambient", 0.1, 0.5),
    Quantity("probe.outlet", "degC", "probe.outlet", 0.1, 0.5),
    Quantity("transfer.stick.speed", "B/s", "stick"),
)


def header(soak_id: str = "kittiwake-0001", **other: object) -> Header:
    """Return the header of an invented soak of an invented unit."""
    values: dict[str, object] = {
        "format": FORMAT,
        "soak_id": soak_id,
        "job_id": "job-0001",
        "unit": {"serial": "SP40-0001", "tag": "KY-7", "model": "Ferrow SP-40", "repairs": []},
        "model_sheet": {},
        "script": {"name": "evening"},
        "fixture": {"name": "bench 1", "simulated": "calm"},
        "quantities": QUANTITIES,
        "requirements": (),
        "references": {},
        "seed": 7,
        "simulated": True,
    }
    return header_of(**{**values, **other})


def stream(seed: int, count: int) -> list[Observed]:
    """Return records as a soak makes them: mostly readings, now and then a state or a mark."""
    draw = random.Random(seed)
    made: list[Observed] = []
    for number in range(count):
        t_s = number / 8
        kind = draw.random()
        if kind < 0.85:
            made.append(Reading(t_s, draw.choice(QUANTITIES).name, draw.uniform(-40, 1e8)))
        elif kind < 0.93:
            made.append(State(t_s, "capture", draw.choice(["picture", "black", "blind"]), 0.25))
        else:
            made.append(Mark(t_s, "note", "evening", "", {"text": f"№ {number}", "from_s": t_s}))
    return made


def kept_file(t_s: float, name: str) -> KeptFile:
    """Return a kept file as a check hands it in, its SHA-256 not yet filled in."""
    return KeptFile(t_s, name, "image/jpeg", "", "capture", {"shows": "during"})


def said(evidence: Evidence) -> dict[str, Any]:
    """Return all that was observed, as plain lists."""
    return {
        "readings": {
            entry.name: [column.tolist() for column in evidence.series(entry.name)]
            for entry in evidence.header.quantities
        },
        "states": [s for name in ("capture", "stick") for s in evidence.states(name)],
        "marks": list(evidence.marks()),
        "kept_files": [entry.name for entry in evidence.kept_files()],
    }


def expected(records: Sequence[Observed]) -> dict[str, Any]:
    """Return what `said` must answer, worked out from the list of records alone."""
    ordered = sorted(records, key=lambda record: record.t_s)
    readings = [record for record in ordered if isinstance(record, Reading)]
    return {
        "readings": {
            entry.name: [
                [r.t_s for r in readings if r.quantity == entry.name],
                [r.value for r in readings if r.quantity == entry.name],
            ]
            for entry in QUANTITIES
        },
        "states": [
            s
            for name in ("capture", "stick")
            for s in ordered
            if isinstance(s, State) and s.source == name
        ],
        "marks": [record for record in ordered if isinstance(record, Mark)],
        "kept_files": [record.name for record in ordered if isinstance(record, KeptFile)],
    }
