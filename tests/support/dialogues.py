"""What an instrument says and is told, read from `tests/data/dialogues/<kind>.toml`.

`[[parse]]` holds one answer and what it means; `[[dialogue]]` is played over a pseudo terminal;
`[[pulled]]` says for a role what is answered to what while its adapter is pulled out and put back
(a probe reads 12.5).
Text is one byte a character; `hex 01 05` stands for the bytes themselves,
`repeat 300 U` for as many.
"""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parents[1] / "data" / "dialogues"


def as_bytes(text: str) -> bytes:
    """Return the bytes a dialogue file means."""
    if text.startswith("hex "):
        return bytes.fromhex(text[4:])
    if text.startswith("repeat "):
        _, times, piece = text.split(" ", 2)
        return piece.encode("latin-1") * int(times)
    return text.encode("latin-1")


def kinds() -> list[str]:
    """Return the kinds of drivers that have a dialogue file."""
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


def of_kind(kind: str) -> dict[str, Any]:
    """Return what a kind's file holds."""
    return tomllib.loads((FOLDER / f"{kind}.toml").read_text(encoding="utf-8"))


def entries(table: str) -> Iterator[Any]:
    """Yield each entry of `table` in all files as a pytest parameter, settings merged in."""
    import pytest

    for kind in kinds():
        data = of_kind(kind)
        for entry in data.get(table, []):
            whole = {
                **entry,
                "role": data["role"],
                "settings": {"port": "/dev/none", **data["settings"], **entry.get("settings", {})},
            }
            yield pytest.param(whole, id=f"{kind}: {entry['claim']}")
