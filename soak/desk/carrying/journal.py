"""What came of a carried pack, put on record as a soak of the job."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import trio

from soak import __version__
from soak.clock import BootClock
from soak.desk.carrying.search import Came
from soak.frozen.fixture import Fixture
from soak.frozen.references import References
from soak.frozen.script import PlannedScript, PlannedStretch
from soak.frozen.sheet import ModelSheet
from soak.frozen.unit import UnitStated
from soak.journal import create, first_session
from soak.marks import CarriedFile, StretchBegins, StretchEnds, mark_of
from soak.measure.stick.carried import Pack
from soak.quantities import Quantity
from soak.records import FORMAT, Header, Observed, Reading, Requirement, State
from soak.rules.carried import CARRIED_WHOLE, CarriedTerms

CHECK = "carried"
STRETCH = "carry"
DAMAGED = "carried.damaged"
LENGTH = "carried.length"
MOST_COPIES = 50
_SHOWN_BY_CARRYING = ("", "transfer", CHECK)
"""Checks of functions on the port that carrying stands in for; empty: no other check shows it."""


@dataclass(frozen=True, slots=True)
class Carried:
    """All that is known of a pack that came back.

    Attributes
    ----------
    way : str
        `"by the stick"` or `"through a folder"`.
    file_system : str
        What tells the stick's file system from others; empty if unknown.
    came : sequence of Came
        Every file of the pack.
    """

    pack: Pack
    port: str
    folder: str
    packed_utc: str
    way: str
    file_system: str
    came: Sequence[Came]


def requirement(carried: Carried, sheet: ModelSheet) -> Requirement:
    """Return the demand: all of the pack came across whole, which shows what is on that port."""
    shown = frozenset(
        name
        for name, function in sheet.functions.items()
        if function.port == carried.port and function.check in _SHOWN_BY_CARRYING
    )
    terms = CarriedTerms(
        port=carried.port,
        path="carried",
        over=sheet.ports[carried.port].text,
        files=sum(came.length_bytes > 0 for came in carried.came),
        size_bytes=carried.pack.size_bytes,
    )
    return CARRIED_WHOLE.demand(
        terms,
        quantity=DAMAGED,
        id=f"{STRETCH}/{CHECK}/{carried.port}",
        check=CHECK,
        stretch=STRETCH,
        limit=0.0,
        needs=frozenset({"stick"}),
        shows_repair=shown,
    )


def write(
    folder: Path,
    soak_id: str,
    ledger_says: tuple[str, UnitStated, References],
    sheet: ModelSheet,
    of: Carried,
) -> None:
    """Write and seal the journal.

    Parameters
    ----------
    ledger_says : tuple
        Job, unit and references as `Ledger.for_header` gives them.

    Raises
    ------
    JournalError
        If it cannot be written.
    """
    job_id, unit, references = ledger_says
    header = Header(
        format=FORMAT,
        soak_id=soak_id,
        job_id=job_id,
        unit=unit,
        model_sheet=sheet,
        script=_script(),
        fixture=_fixture(of),
        quantities=(Quantity(DAMAGED, "B", "stick"), Quantity(LENGTH, "B", "stick")),
        requirements=(requirement(of, sheet),),
        references=references,
        seed=0,
        simulated=False,
    )
    clock = BootClock()

    async def main() -> None:
        journal = create(folder, header, first_session(__version__, clock), clock=clock)
        try:
            for record in _records(of, clock.now_s()):
                journal.append(record)
            journal.append(mark_of(clock.now_s(), StretchEnds(observed_s=0.0), STRETCH))
            await journal.seal("complete", {})
        finally:
            journal.close()

    trio.run(main, clock=clock)


def _records(of: Carried, now_s: float) -> list[Observed]:
    records: list[Observed] = [
        State(now_s, "stick", "seen"),
        mark_of(now_s, StretchBegins(), STRETCH),
    ]
    for came in of.came:
        records += [
            record
            for copy in came.carried
            for record in (
                Reading(now_s, LENGTH, float(copy.found.length_bytes)),
                Reading(now_s, DAMAGED, float(copy.found.damaged_bytes)),
            )
        ]
        records.append(mark_of(now_s, file_of(came, of.pack), STRETCH, CHECK))
    return records


def file_of(one: Came, pack: Pack) -> CarriedFile:
    """Return what came of a file; changed copies first, many copies cut short."""
    copies = sorted(one.copies, key=lambda copy: (copy.found.came == "whole", copy.where))
    return CarriedFile(
        file=one.number,
        name=pack.file_name(one.number),
        length_bytes=one.length_bytes,
        came=one.came,
        original_whole=one.original_is_whole,
        copies=[
            {
                "where": copy.where,
                "original": copy.original,
                "came": copy.found.came,
                "length_bytes": copy.found.length_bytes,
                "damaged_bytes": copy.found.damaged_bytes,
                "kinds": {str(kind): count for kind, count in copy.found.wrong.items()},
                "places": [dict(place) for place in copy.found.where],
            }
            for copy in copies[:MOST_COPIES]
        ],
        unreadable=[copy.where for copy in one.unreadable[:MOST_COPIES]],
        unreadable_at_bytes=[copy.at_bytes for copy in one.unreadable[:MOST_COPIES]],
        more_copies=max(0, len(copies) - MOST_COPIES),
    )


def _fixture(of: Carried) -> Fixture:
    identity: dict[str, Any] = {"pack": of.pack.name, "packed_utc": of.packed_utc, "way": of.way}
    if of.file_system:  # for the ledger: what packing wrote wears this stick
        identity |= {"file_system": of.file_system, "packed_bytes": of.pack.size_bytes}
    stick = {"driver": CHECK, "port": of.port, "path": "carried", "folder": of.folder}
    return Fixture.of_json({"name": "carried by hand", "stick": {**stick, "identity": identity}})


def _script() -> PlannedScript:
    return PlannedScript(
        name="carry",
        about="A pack of files that the unit copied, looked through when it came back.",
        listing=False,
        beside=True,
        stretches=(PlannedStretch(name=STRETCH, lasts_s=0.0, attended=True, checks={CHECK: {}}),),
    )
