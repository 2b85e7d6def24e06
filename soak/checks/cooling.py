"""Cooling down before a cold start; no check of its own."""

from collections.abc import Sequence
from contextlib import aclosing
from functools import partial
from typing import Any, cast

import trio

from soak.checks.base import Bench, Place, beside
from soak.records import Reading


async def cooled(bench: Bench, place: Place, within_k: float, limit_s: float) -> str:
    """Wait until the hottest spot is near ambient, at most `limit_s`; return what ended the wait.

    Parameters
    ----------
    within_k : float
        So near, K.
    """
    spots, ambient = _probes(place)
    if not spots or not ambient:
        await trio.sleep(limit_s)
        return f"{limit_s:g} s, no probes at a spot and at ambient"
    with trio.move_on_after(limit_s):
        await _all_within(bench, spots, ambient, within_k)
        return f"within {within_k:g} K of ambient"
    return f"{limit_s:g} s, not yet within {within_k:g} K of ambient"


def _probes(place: Place) -> tuple[list[str], str]:
    wired = place.fixture.probes
    heat = {f"probe.{n}": w.spot for n, w in wired.items() if w.unit == "degC"}
    ambient = next((name for name, spot in heat.items() if spot == "ambient"), "")
    return [name for name, spot in heat.items() if spot not in ("", "ambient")], ambient


async def _all_within(bench: Bench, spots: Sequence[str], ambient: str, within_k: float) -> None:
    """Return when each spot's latest reading is within `within_k` K of ambient.

    Looked at once all have read anew: which of several probes reads first decides nothing.
    """
    latest: dict[str, float] = {}
    fresh: set[str] = set()
    near = trio.Event()

    async def keep(name: str) -> None:
        async with aclosing(cast(Any, bench.follow(name))) as records:
            async for record in records:
                if isinstance(record, Reading):
                    latest[name] = record.value
                    fresh.add(name)
                    notice()

    def notice() -> None:
        if not fresh.issuperset((*spots, ambient)):
            return
        fresh.clear()
        if all(latest[spot] - latest[ambient] <= within_k for spot in spots):
            near.set()

    async with beside(*(partial(keep, name) for name in (*spots, ambient))):
        await near.wait()
