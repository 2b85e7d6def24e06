"""Wear of the bench's own cables and sticks, derived from the journals of its soaks.

A cable that has been plugged in a thousand times fails on a good unit. What a soak cost is read
from its evidence, so taking the same journal in again changes nothing.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select

from soak.evidence import Evidence
from soak.frozen.fixture import Fixture
from soak.frozen.wiring import Plugged
from soak.ledger.entries import Wear
from soak.ledger.schema import BENCH_WEAR, SOAKS
from soak.marks import PluggedIn, PowerChanged, StartBegun, facts
from soak.words import NOTHING_SAID, Amount, Message, msg

WORN_FROM = {
    "usb-a": 1000,
    "usb-b": 1000,
    "usb-mini": 3300,
    "usb-micro": 6600,
    "usb-c": 6600,
    "hdmi": 1000,
    "displayport": 1000,
    "": 1000,
}
"""Plug-ins from which a plug counts as worn. USB plugs: two thirds of what they are rated for,
1500 (A, B), 5000 (mini), 10 000 (micro, C), as public encyclopaedias give it; video plugs, of
which many cables keep to no rating, and unnamed plugs: our own choice."""

WORN_FILLINGS = 300
"""A stick counts as worn once it was written over so often: cheap flash bears some hundreds to a
thousand times (common practice)."""
WORN_WRITTEN_BYTES = 5_000_000_000_000
"""The same for a stick of unknown size. Our own choice."""


@dataclass(frozen=True, slots=True)
class PartWear:
    """What all soaks together cost one part of the bench.

    Attributes
    ----------
    part, kind : str
        The cable's name and its plug; for a stick its id and `stick`.
    fixture : str
        The fixture it was last used on.
    soaks, plugged, written_bytes : int
        Soaks it took part in, times it was plugged into a unit, bytes written to it.
    size_bytes : int
        What it holds, as it says; 0 where unknown.
    """

    part: str
    kind: str
    fixture: str
    soaks: int
    plugged: int
    written_bytes: int
    size_bytes: int

    @property
    def share(self) -> float:
        """How much of what it bears is used up; worn from 1."""
        if self.kind == "stick":
            bears_bytes = WORN_FILLINGS * self.size_bytes or WORN_WRITTEN_BYTES
            return self.written_bytes / bears_bytes
        return self.plugged / WORN_FROM.get(self.kind, WORN_FROM[""])

    @property
    def text(self) -> Message:
        """The part and its use in a few words."""
        if self.kind == "stick":
            stick = msg("stick {name}", name=self.part)
            if self.size_bytes:
                stick = msg(
                    "stick {name} of {size}", name=self.part, size=Amount(self.size_bytes, "B")
                )
            return msg(
                "{stick}: {written} written in {soaks} soaks",
                stick=stick,
                written=Amount(self.written_bytes, "B"),
                soaks=self.soaks,
            )
        name = f"{self.part} ({self.kind})" if self.kind else self.part
        return msg("cable {name}: plugged in {count} times", name=name, count=self.plugged)

    @property
    def warning(self) -> Message:
        """What to do about it, one sentence; empty while it is not worn."""
        if self.share < 1:
            return NOTHING_SAID
        return msg(
            "{part}; it counts as worn: take a new one before you blame a unit", part=self.text
        )


def take_in(connection: Connection, evidence: Evidence) -> None:
    """Keep what one soak cost; what was kept of it before is replaced."""
    soak_id = evidence.header.soak_id
    connection.execute(delete(BENCH_WEAR).where(BENCH_WEAR.c.soak_id == soak_id))
    if evidence.header.simulated:
        return
    for values in (*_used(evidence), *_packed(connection, evidence)):
        connection.execute(insert(BENCH_WEAR).values(soak_id=soak_id, **values))


def _packed(connection: Connection, evidence: Evidence) -> Iterator[dict[str, Any]]:
    """Yield what packing wrote to the stick of a carry: once a pack, however often it is unpacked.

    The stick is known by its file system.
    """
    known = evidence.header.fixture.identity("stick")
    stick = known.file_system
    packed = int(known.packed_bytes)
    if not (stick and packed and known.pack):
        return
    worn = BENCH_WEAR.c
    place = f"pack {known.pack}"
    query = select(worn.id).where(worn.part == stick, worn.fixture == place, worn.written_bytes > 0)
    again = connection.execute(query).first() is not None
    yield {
        "part": stick,
        "kind": "stick",
        "fixture": place,
        "plugged": 0,
        "written_bytes": 0 if again else packed,
        "size_bytes": 0,
    }


def _used(evidence: Evidence) -> Iterator[dict[str, Any]]:
    fixture = evidence.header.fixture
    name = fixture.name
    known = fixture.identity("stick")
    if stick_id := known.stick_id or known.serial:
        yield {
            "part": stick_id,
            "kind": "stick",
            "fixture": name,
            "plugged": 0,
            "written_bytes": written_bytes(evidence),
            "size_bytes": int(known.claims_bytes),
        }
    cables = {
        wired.cable: wired.plug
        for wired in fixture.wired.values()
        if isinstance(wired, Plugged) and wired.cable
    }
    for cable, plug in cables.items():
        # A new soak is a new unit in the socket: use is rather stated too high than too low.
        plugged = 1 + sum(plug_in.cable == cable for _, plug_in in facts(evidence, PluggedIn))
        yield {
            "part": cable,
            "kind": plug,
            "fixture": name,
            "plugged": plugged,
            "written_bytes": 0,
            "size_bytes": 0,
        }


def parts(connection: Connection) -> Sequence[PartWear]:
    """Return all parts, the most worn first."""
    worn = BENCH_WEAR.c
    latest = select(worn.part, worn.kind, func.max(worn.id).label("id")).group_by(
        worn.part, worn.kind
    )
    last = latest.subquery()
    totals = connection.execute(
        select(
            worn.part,
            worn.kind,
            func.count().label("soaks"),
            func.sum(worn.plugged).label("plugged"),
            func.sum(worn.written_bytes).label("written_bytes"),
            func.max(worn.size_bytes).label("size_bytes"),
        )
        .join(SOAKS, SOAKS.c.soak_id == worn.soak_id)
        .group_by(worn.part, worn.kind)
    ).all()
    where = {
        (row.part, row.kind): row.fixture
        for row in connection.execute(
            select(worn.part, worn.kind, worn.fixture).join(last, last.c.id == worn.id)
        )
    }
    wears = [
        PartWear(
            row.part,
            row.kind,
            where[row.part, row.kind],
            soaks=row.soaks,
            plugged=row.plugged,
            written_bytes=row.written_bytes,
            size_bytes=row.size_bytes,
        )
        for row in totals
    ]
    return sorted(wears, key=lambda part: -part.share)


def warnings(connection: Connection, fixture: Fixture) -> list[str]:
    """Return the warnings of worn parts that a fixture names or that were last used on it."""
    cables = {wired.cable for wired in fixture.wired.values() if isinstance(wired, Plugged)} - {""}
    name = fixture.name
    return [
        part.warning
        for part in parts(connection)
        if part.warning and (part.fixture == name if part.kind == "stick" else part.part in cables)
    ]


def wear_of(evidence: Evidence) -> Wear:
    """Return starts, seconds under power and bytes written of one soak."""
    return Wear(len(facts(evidence, StartBegun)), powered_s(evidence), written_bytes(evidence))


def powered_s(evidence: Evidence) -> float:
    """Return the seconds in which the power was commanded on.

    Power that nobody switched off before the program ended counts as on until the record that
    says otherwise: use is rather stated too high than too low.
    """
    total_s = 0.0
    on_since_s = None
    for mark, power in facts(evidence, PowerChanged):
        if power.on:
            on_since_s = mark.t_s if on_since_s is None else on_since_s
        elif on_since_s is not None:
            total_s = total_s + mark.t_s - on_since_s
            on_since_s = None
    if on_since_s is not None:
        total_s += max(0.0, evidence.ends_s - on_since_s)
    return total_s


def written_bytes(evidence: Evidence) -> int:
    """Return the bytes written across the unit's ports, all sticks together."""
    names = [
        quantity.name
        for quantity in evidence.header.quantities
        if quantity.name.startswith("transfer.") and quantity.name.endswith(".written")
    ]
    return round(sum(float(evidence.series(name)[1].sum()) for name in names))
