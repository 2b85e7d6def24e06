"""What the bench has shown it can see, kept from `soak prove` for headers and reports."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from soak.frozen.fixture import Fixture
from soak.frozen.references import BenchProved, References, UnitProved
from soak.frozen.shape import read_as
from soak.natures import what_it_is_known_by
from soak.outside import json_of, read_bytes
from soak.records import Json
from soak.report.contents.context import Challenge

_FILE = "proved.json"
"""In the bench's folder: `{fixture file: {"on": date, "seen": [{source, what, smallest_s}]}}`,
and beside these, where a unit was named, `"proved": {tag, utc, fixture, by, is}`."""

PROVED_FOR_S = 7 * 86400.0
"""So long what `soak prove` saw of a unit counts for it, s; a plug may be moved. Our own choice."""


@dataclass(frozen=True, slots=True)
class ProvedOn:
    """What `soak prove` showed to be at a unit.

    Attributes
    ----------
    tag : str
        The unit.
    at : datetime
        When, UTC.
    fixture : Fixture
        What was wired, with identities.
    by : mapping of source to str
        By which step each instrument was proved.
    """

    tag: str
    at: datetime
    fixture: Fixture
    by: Mapping[str, str]


def keep(
    bench: Path, fixture: str, on: str, seen: Sequence[Challenge], proved: ProvedOn | None = None
) -> None:
    """Keep what `soak prove` found on a fixture; replaces what was there."""
    file = bench / _FILE
    known = _read(file)
    known[Path(fixture).name] = {
        "on": on,
        "seen": [{"source": c.source, "what": c.what, "smallest_s": c.smallest_s} for c in seen],
    }
    if proved is not None:
        known[Path(fixture).name]["proved"] = {
            "tag": proved.tag,
            "utc": proved.at.isoformat(timespec="seconds"),
            "fixture": without_identity(proved.fixture),
            "by": dict(proved.by),
            "is": {s: what_it_is_known_by(proved.fixture, s) for s in proved.fixture.wired},
        }
    beside = file.with_suffix(".new")
    beside.write_text(json.dumps(known, indent=1, sort_keys=True), encoding="utf-8")
    beside.replace(file)


def reference(
    bench: Path, fixture: Fixture, tag: str, now: datetime
) -> tuple[BenchProved | None, UnitProved | None]:
    """Return what goes into a header's references, or nothing.

    First what the fixture has been seen to see, then what was proved on this unit, if that is not
    too long ago and the fixture still says the same.

    Parameters
    ----------
    fixture : Fixture
        As it would stand in the header, not opened.
    """
    known = _read(bench / _FILE).get(Path(fixture.file).name)
    if not known:
        return None, None
    proved = known.pop("proved", None)
    seen = read_as(BenchProved, known)
    breaks = [trial.smallest_s for trial in seen.seen if trial.source == "capture"]
    whole = replace(seen, smallest_break_s=next(iter(breaks), None))
    if not proved or proved["tag"] != tag or proved["fixture"] != without_identity(fixture):
        return whole, None
    age_s = (now - datetime.fromisoformat(proved["utc"])).total_seconds()
    if not 0 <= age_s <= PROVED_FOR_S:
        return whole, None
    return whole, UnitProved(on=whole.on, by=proved["by"], is_=proved["is"])


def known_as(bench: Path, file: str) -> tuple[str, Mapping[str, Json]]:
    """Return by what each instrument of a fixture file was known when it was proved, and the day.

    As `soak.natures.what_it_is_known_by` says it; empty where it was not proved on a unit.
    """
    kept = _read(bench / _FILE).get(Path(file).name) or {}
    return str(kept.get("on", "")), (kept.get("proved") or {}).get("is") or {}


def without_identity(fixture: Fixture) -> Any:
    """Return a fixture as it stands in a header without what was found only when it was opened."""
    return _without(fixture.as_json())


def _without(told: Any) -> Any:
    if isinstance(told, Mapping):
        return {
            key: _without(value) for key, value in told.items() if key not in ("identity", "file")
        }
    return told


def challenges_of(references: References) -> list[Challenge]:
    """Return the challenges that a header holds."""
    kept = references.challenge or BenchProved()
    return [Challenge(bench.source, bench.what, bench.smallest_s, kept.on) for bench in kept.seen]


def _read(file: Path) -> dict[str, Any]:
    try:
        content = json_of(read_bytes(file))
    except (OSError, ValueError):
        return {}  # never proved, or the file was damaged: then nothing is claimed
    return content if isinstance(content, dict) else {}
