"""What the bench has shown it can see, kept from `soak prove` for headers and reports."""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from soak.records import Json
from soak.report.context import Challenge

_FILE = "proved.json"
"""In the bench's folder: `{fixture file: {"on": date, "seen": [{source, what, smallest_s}]}}`."""


def keep(bench: Path, fixture: str, on: str, seen: Sequence[Challenge]) -> None:
    """Keep what `soak prove` found on a fixture; replaces what was there."""
    file = bench / _FILE
    known = _read(file)
    known[Path(fixture).name] = {
        "on": on,
        "seen": [{"source": c.source, "what": c.what, "smallest_s": c.smallest_s} for c in seen],
    }
    beside = file.with_suffix(".new")
    beside.write_text(json.dumps(known, indent=1, sort_keys=True), encoding="utf-8")
    beside.replace(file)


def reference(bench: Path, fixture: str) -> Mapping[str, Any]:
    """Return what goes into a header's references: `{"challenge": {...}}`, or nothing."""
    known = _read(bench / _FILE).get(Path(fixture).name)
    if not known:
        return {}
    breaks = [one["smallest_s"] for one in known["seen"] if one["source"] == "capture"]
    return {"challenge": {**known, "smallest_break_s": next(iter(breaks), None)}}


def challenges_of(references: Json) -> list[Challenge]:
    """Return the challenges that a header holds."""
    kept = references.get("challenge", {})
    return [
        Challenge(entry["source"], entry["what"], entry["smallest_s"], str(kept.get("on", "")))
        for entry in kept.get("seen", [])
    ]


def _read(file: Path) -> dict[str, Any]:
    try:
        found = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}  # never proved, or the file was damaged: then nothing is claimed
    return found if isinstance(found, dict) else {}
