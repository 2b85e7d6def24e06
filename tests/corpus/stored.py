"""Journals kept as lines of JSON, one archive a family, and the evidence read from them.

A family's archive holds for each journal a line `{"journal": name}` and its records in the order
they were made. A line is a record with its kind, or all readings of one quantity in one session as
two columns. Jobs stand at the end: which journals are judged together, and by what other script.
"""

import json
import lzma
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from operator import attrgetter
from pathlib import Path
from typing import Any

import numpy as np
from convert import converted

from soak.records import Header, KeptFile, Mark, Seal, Session, State, from_json

HERE = Path(__file__).parent
JOURNALS, EXPECTED = HERE / "journals", HERE / "expected"
ENDING = ".jsonl.xz"

Plain = dict[str, Any]
_time = attrgetter("t_s")


@dataclass
class StoredSoak:
    """Evidence read from stored lines; the journal's read side, without kept files.

    Attributes
    ----------
    told_windows : mapping of stretch to pieces
        Begin and end in s of each piece, where a made-up journal says so itself.
    told_end_s : float or None
        Soak time of the last record, where a made-up journal says so itself.
    """

    header: Header
    seal: Seal | None = None
    session_list: list[Session] = field(default_factory=list)
    state_list: list[State] = field(default_factory=list)
    mark_lists: list[list[Mark]] = field(default_factory=list)
    kept_list: list[KeptFile] = field(default_factory=list)
    columns: dict[str, list[tuple[Any, Any]]] = field(default_factory=dict)
    ends: list[float] = field(default_factory=list)
    told_windows: Mapping[str, Sequence[Sequence[float]]] = field(default_factory=dict)
    told_end_s: float | None = None

    def take(self, kind: str, record: Any) -> None:
        """Take the next record, or a column of readings."""
        match record:
            case Session():
                self.session_list.append(record)
                self.mark_lists.append([])
                self.ends.append(record.begins_at_s)
                return
            case State():
                self.state_list.append(record)
            case Mark():
                self.mark_lists[-1].append(record)
            case KeptFile():
                self.kept_list.append(record)
            case Seal():
                self.seal = record
            case _ if kind == "readings":
                self._take_readings(record)
                return
            case _:
                self.told_windows = record["windows"]
                self.told_end_s = record["ends_s"]
                return
        if self.ends:
            self.ends[-1] = max(self.ends[-1], record.t_s)

    def _take_readings(self, record: Plain) -> None:
        t_s, values = np.array(record["t_s"], float), np.array(record["value"], float)
        self.columns.setdefault(record["quantity"], []).append((t_s, values))
        if self.ends and len(t_s):
            self.ends[-1] = max(self.ends[-1], float(t_s.max()))

    @property
    def file_sha256(self) -> str:
        return "ab" * 32 if self.seal else ""

    @property
    def ends_s(self) -> float:
        if self.told_end_s is not None:
            return self.told_end_s
        return max(self.ends, default=0.0)

    def series(self, quantity: str, stretch: str = "") -> tuple[Any, Any]:
        parts = self.columns.get(quantity, [])
        t_s = np.concatenate([np.empty(0), *(part[0] for part in parts)])
        values = np.concatenate([np.empty(0), *(part[1] for part in parts)])
        order = np.argsort(t_s, kind="stable")
        t_s, values = t_s[order], values[order]
        if not stretch:
            return t_s, values
        inside = np.zeros(len(t_s), dtype=bool)
        for begins_s, ends_s in self.windows(stretch):
            inside |= (t_s >= begins_s) & (t_s <= ends_s)
        return t_s[inside], values[inside]

    def states(self, source: str) -> Sequence[State]:
        return sorted((one for one in self.state_list if one.source == source), key=_time)

    def marks(self, what: str = "") -> Sequence[Mark]:
        found = [one for marks in self.mark_lists for one in marks if what in ("", one.what)]
        return sorted(found, key=_time)

    def sessions(self) -> Sequence[Session]:
        return self.session_list

    def kept_files(self) -> Sequence[KeptFile]:
        return sorted(self.kept_list, key=_time)

    def kept_bytes(self, kept: KeptFile) -> bytes:
        raise NotImplementedError("the corpus keeps no kept files")

    def windows(self, stretch: str) -> Sequence[tuple[float, float]]:
        if stretch in self.told_windows:
            return [(begins_s, ends_s) for begins_s, ends_s in self.told_windows[stretch]]
        pieces: list[tuple[float, float]] = []
        for marks, end_s in zip(self.mark_lists, self.ends, strict=True):
            begins_s: float | None = None
            for mark in marks:
                if mark.stretch != stretch or mark.what not in ("stretch begins", "stretch ends"):
                    continue
                if begins_s is not None:
                    pieces.append((begins_s, mark.t_s))
                begins_s = mark.t_s if mark.what == "stretch begins" else None
            if begins_s is not None:
                pieces.append((begins_s, end_s))
        return pieces


@dataclass(frozen=True)
class Job:
    """What is judged together: the lines of its journals, and the script it is judged by."""

    name: str
    journals: Mapping[str, Sequence[str]]
    script: Plain | None

    def soaks(self) -> list[StoredSoak]:
        """Return the evidence of its journals, read anew."""
        return [read(lines) for lines in self.journals.values()]


def read(lines: Iterable[str]) -> StoredSoak:
    """Return the evidence that a journal's lines hold; the header is the first."""
    soak: StoredSoak | None = None
    for line in lines:
        kind, record = _record(line)
        if soak is None:
            soak = StoredSoak(record)
        else:
            soak.take(kind, record)
    assert soak is not None
    return soak


@cache
def _record(line: str) -> tuple[str, Any]:
    """Read one line; many journals share a line, and records do not change."""
    data = json.loads(line)
    kind, record = converted(data.pop("kind"), data)
    return kind, record if kind in ("readings", "told") else from_json(kind, record)


def families() -> list[str]:
    """Return the names of the families that are stored."""
    return sorted(path.name.removesuffix(ENDING) for path in JOURNALS.glob(f"*{ENDING}"))


def jobs_of(family: str) -> list[Job]:
    """Return the jobs of a family."""
    journals: dict[str, list[str]] = {}
    jobs: list[Job] = []
    with lzma.open(JOURNALS / f"{family}{ENDING}", "rt", encoding="utf-8") as file:
        for line in file:
            if line.startswith('{"journal":'):
                lines = journals.setdefault(json.loads(line)["journal"], [])
            elif line.startswith('{"job":'):
                data = json.loads(line)
                of = {name: journals[name] for name in data["of"]}
                script = data["script"] and converted("script", data["script"])[1]
                jobs.append(Job(data["job"], of, script))
            else:
                lines.append(line)
    return jobs


def write(family: str, journals: Mapping[str, Iterable[str]], jobs: Iterable[Plain]) -> int:
    """Write a family's archive; return its size in bytes.

    Parameters
    ----------
    jobs : iterable of dict
        Each with `job` (its name), `of` (names of journals) and `script` (or None).
    """
    JOURNALS.mkdir(exist_ok=True)
    path, part = JOURNALS / f"{family}{ENDING}", JOURNALS / f"{family}.part"
    with lzma.open(part, "wt", encoding="utf-8", preset=9 | lzma.PRESET_EXTREME) as file:
        for name, lines in journals.items():
            file.write(dumped({"journal": name}))
            file.writelines(lines)
        for job in jobs:
            file.write(dumped(job))
    part.replace(path)
    return path.stat().st_size


def written_anew(family: str) -> int:
    """Write a family's journals as `converted` tells them; return the size in bytes."""
    jobs = jobs_of(family)
    journals = {name: lines for job in jobs for name, lines in job.journals.items()}
    told = [{"job": job.name, "of": list(job.journals), "script": job.script} for job in jobs]
    return write(family, {name: map(_converted, lines) for name, lines in journals.items()}, told)


def _converted(line: str) -> str:
    data = json.loads(line)
    kind, record = converted(data.pop("kind"), data)
    return dumped({"kind": kind, **record})


def dumped(data: Plain) -> str:
    """Return one line of JSON."""
    return json.dumps(data, separators=(",", ":"), ensure_ascii=False) + "\n"
