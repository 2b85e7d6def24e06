"""Evidence made up for a test: a clean night by default, to be spoiled one thing at a time."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from headers import header_of, header_with

from soak.journal.kept import NotAsRecorded
from soak.quantities import Quantity
from soak.records import FORMAT, Header, KeptFile, Mark, Requirement, Seal, Session, State
from soak.words import msg

CYCLE_S, OFF_S, TOOK_S = 90.0, 30.0, 20.0
STARTS_S = 20 * CYCLE_S
HOT_S = 4 * 3600.0

SHEET = {
    "model": "Ferrow SP-40",
    "picture_when_on": "moving",
    "start_s": 20.0,
    "mains": False,
    "disk": False,
    "lithium_cell": False,
    "holds_data": False,
}

FIXTURE = {
    "name": "bay 1",
    "switch": {"driver": "simulated", "channel": "1"},
    "capture": {"driver": "simulated", "port": "video"},
    "stick": {"driver": "simulated", "port": "service", "path": "through"},
    "probe": {
        "outside": {"spot": "outside", "unit": "degC", "accuracy": 1.0},
        "ambient": {"spot": "ambient", "unit": "degC", "accuracy": 0.5},
    },
}

SCRIPT = {
    "name": "overnight",
    "stretches": [
        {"name": "starts", "lasts_s": None, "checks": {"power_cycles": {"warm": 20, "cold": 0}}},
        {
            "name": "hot run",
            "lasts_s": HOT_S,
            "checks": {"picture": {}, "transfer": {}, "spots": {}},
        },
    ],
}

QUANTITIES = (
    Quantity("probe.outside", "degC", "probe.outside", 0.1, 1.0),
    Quantity("probe.ambient", "degC", "probe.ambient", 0.1, 0.5),
    Quantity("transfer.stick.speed", "B/s", "stick"),
    Quantity("transfer.stick.chunk_s", "s", "stick"),
    Quantity("transfer.stick.damaged", "B", "stick"),
    Quantity("transfer.stick.written", "B", "stick"),
)


def demand(rule: str, quantity: str = "", limit: float | None = 0.0, **more: Any) -> Requirement:
    """Return a requirement as the checks make them."""
    where = {
        "starts": ("starts", "power_cycles"),
        "off proved": ("starts", "power_cycles"),
        "failure free": ("hot run", "picture"),
    }
    stretch, check = where.get(rule, ("hot run", "picture"))
    fields = {"check": check, "stretch": stretch, "text": f"{rule} is kept.", **more}
    name = f"{fields['stretch']}/{fields['check']}/{rule} {quantity}"
    return Requirement(id=name, quantity=quantity, rule=rule, limit=limit, **fields)


@dataclass
class MadeUpSoak:
    """Evidence in lists that a test may change; implements the journal's read side."""

    header: Header
    state_list: list[State] = field(default_factory=list)
    mark_list: list[Mark] = field(default_factory=list)
    session_list: list[Session] = field(default_factory=list)
    readings: dict[str, tuple[Any, Any]] = field(default_factory=dict)
    pieces: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    files: dict[str, bytes] = field(default_factory=dict)
    seal: Seal | None = None
    ends_s: float = 0.0

    @property
    def file_sha256(self) -> str:
        return "ab" * 32 if self.seal else ""

    def series(self, quantity: str, stretch: str = "") -> tuple[Any, Any]:
        t_s, value = self.readings.get(quantity, (np.empty(0), np.empty(0)))
        if not stretch:
            return t_s, value
        here = np.zeros(len(t_s), dtype=bool)
        for begin_s, end_s in self.windows(stretch):
            here |= (t_s >= begin_s) & (t_s <= end_s)
        return t_s[here], value[here]

    def states(self, source: str) -> Sequence[State]:
        found = [state for state in self.state_list if state.source == source]
        return sorted(found, key=lambda state: state.t_s)

    def marks(self, what: str = "") -> Sequence[Mark]:
        found = [mark for mark in self.mark_list if what in ("", mark.what)]
        return sorted(found, key=lambda mark: mark.t_s)

    def sessions(self) -> Sequence[Session]:
        return self.session_list

    def kept_files(self) -> Sequence[KeptFile]:
        return [KeptFile(0.0, name, "image/jpeg", "", of="") for name in self.files]

    def kept_bytes(self, kept: KeptFile) -> bytes:
        if not self.files[kept.name]:
            raise NotAsRecorded(kept.name, msg("was recorded and is gone"))
        return self.files[kept.name]

    def windows(self, stretch: str) -> Sequence[tuple[float, float]]:
        return self.pieces.get(stretch, [])

    def mark(
        self, t_s: float, what: str, stretch: str = "", check: str = "", **detail: Any
    ) -> None:
        """Add a mark."""
        self.mark_list.append(Mark(t_s, what, stretch, check, detail))

    def fault(self, t_s: float, instrument: str, what: str) -> None:
        """Add the mark of a bench fault."""
        detail = {"instrument": instrument, "what": what}
        self.mark_list.append(Mark(t_s, "bench fault", detail=detail))

    def spell(self, source: str, from_s: float, to_s: float, state: str) -> None:
        """Let a source be in another state from one time to another, then as it was before.

        What was said of it in between is forgotten, as a source says only changes.
        """
        after = [known for known in self.states(source) if known.t_s <= to_s][-1]
        self.state_list = [
            known
            for known in self.state_list
            if known.source != source or not from_s <= known.t_s <= to_s
        ]
        self.state_list.append(State(from_s, source, state, 1 / 60))
        self.state_list.append(State(to_s, source, after.state, 1 / 60))

    def demanding(self, *requirements: Requirement) -> "MadeUpSoak":
        """Return the same soak with these requirements in its header."""
        return replace(self, header=replace(self.header, requirements=requirements))

    def with_header(self, **changes: Any) -> "MadeUpSoak":
        """Return the same soak with other entries in its header."""
        return replace(self, header=header_with(self.header, **changes))


def clean_night(
    soak_id: str = "S1", utc: str = "2026-01-05T21:00:00Z", starts: int = 20, every_s: float = 10.0
) -> MadeUpSoak:
    """Return the evidence of a unit without a fault: 20 starts, then four hours on."""
    header = header_of(
        format=FORMAT,
        soak_id=soak_id,
        job_id="J1",
        unit={"serial": "KY-1", "repairs": [], "wiped": None},
        model_sheet=SHEET,
        script=SCRIPT,
        fixture=FIXTURE,
        quantities=QUANTITIES,
        requirements=(),
        references={},
        seed=1,
        simulated=True,
    )
    soak = MadeUpSoak(header)
    soak.session_list.append(Session(1, "0", "boot", utc, 0.0, 0.0, "first start"))
    for source, state in (("switch", "seen"), ("capture", "no signal"), ("stick", "seen")):
        soak.state_list.append(State(0.0, source, state))
    for name in ("outside", "ambient"):
        soak.state_list.append(State(0.0, f"probe.{name}", "seen"))
    _starts(soak, starts)
    begins_s = STARTS_S
    ends_s = begins_s + HOT_S
    soak.mark(begins_s, "stretch begins", "hot run")
    soak.pieces["hot run"] = [(begins_s, ends_s)]
    soak.mark(ends_s, "stretch ends", "hot run", because="done")
    soak.mark(ends_s + 1, "power", on=False, channel="1", why="end")
    soak.state_list.append(State(ends_s + 1.1, "capture", "no signal", 1 / 60))
    soak.ends_s = ends_s + 5
    soak.seal = Seal(soak.ends_s, "complete")
    _readings(soak, np.arange(0.0, soak.ends_s, every_s))
    return soak


def _starts(soak: MadeUpSoak, number: int) -> None:
    soak.mark(0.0, "stretch begins", "starts")
    soak.pieces["starts"] = [(0.0, STARTS_S)]
    soak.mark(STARTS_S, "stretch ends", "starts", because="done")
    for at in range(number):
        off_s, on_s = at * CYCLE_S, at * CYCLE_S + OFF_S
        told = {"kind": "warm", "number": at + 1}
        soak.mark(off_s, "power", on=False, channel="1", why="")
        soak.mark(off_s + 1, "off proved", "starts", "power_cycles", by="capture", after_s=1.0)
        soak.mark(on_s, "power", on=True, channel="1", why="")
        soak.mark(on_s, "start", "starts", "power_cycles", off_s=OFF_S, dwell="", **told)
        seen = {"seen": True, "took_s": TOOK_S}
        soak.mark(on_s + TOOK_S, "start ended", "starts", "power_cycles", **told, **seen)
        if at:
            soak.state_list.append(State(off_s + 0.1, "capture", "no signal", 1 / 60))
        soak.state_list.append(State(on_s + TOOK_S, "capture", "picture", 1 / 60))


def _readings(soak: MadeUpSoak, t_s: Any) -> None:
    warm = np.maximum(t_s - STARTS_S, 0.0)
    soak.readings["probe.ambient"] = (t_s, np.full_like(t_s, 21.0))
    soak.readings["probe.outside"] = (t_s, 40.0 + 10.0 * (1 - np.exp(-warm / 600)))
    crossing = t_s[t_s >= STARTS_S]
    for name, value in (("speed", 30e6), ("chunk_s", 0.14), ("damaged", 0.0), ("written", 4e6)):
        soak.readings[f"transfer.stick.{name}"] = (crossing, np.full_like(crossing, value))


def fail_start(soak: MadeUpSoak, at: int) -> None:
    """Let the unit show no picture in one of its starts."""
    on_s = at * CYCLE_S + OFF_S
    soak.mark_list = [
        replace(mark, t_s=on_s + 55, detail={**mark.detail, "seen": False, "took_s": None})
        if mark.what == "start ended" and mark.t_s == on_s + TOOK_S
        else mark
        for mark in soak.mark_list
    ]
    soak.state_list = [
        state
        for state in soak.state_list
        if not (state.source == "capture" and on_s <= state.t_s <= on_s + 59)
    ]
