"""How much a soak may write to the bench's disk by its latest end, and whether there is so much."""

from collections.abc import Sequence

from soak.desk.orders import Prepared
from soak.journal.batches import BATCH_S
from soak.journal.reserve import RESERVE_BYTES
from soak.measure.video.watcher_settings import WatcherSettings
from soak.quantities import show_bytes
from soak.room import free_bytes

BATCH_BYTES = 150
"""A batch of readings beside its values: number, kind, link of 32 B, and SQLite's own share; a
state or a mark takes about as much."""
BATCHES_PER_S = 1 / BATCH_S
READING_BYTES = 18
"""Time, value and quantity of one reading, as `journal.rows` packs them."""
READINGS_PER_S = 1.0
"""What a probe gives unless its fixture says more; a transfer gives fewer."""
FRAME_BYTES = 305_000
"""A 1080p picture of film as capture cards send it, measured; a menu takes less."""


def needed_bytes(one: Prepared) -> int:
    """Return what one soak may write by its script's latest end, its report included, B."""
    plan = one.plan(one.fixture.as_json())
    rates = [max(READINGS_PER_S, 1 / _every_s(one, each.source)) for each in plan.header.quantities]
    per_s = BATCHES_PER_S * BATCH_BYTES + READING_BYTES * sum(rates)
    frames = 0 if one.fixture.capture is None else WatcherSettings().frames_in_all
    return int(plan.not_after_s * per_s) + frames * FRAME_BYTES + RESERVE_BYTES


def _every_s(one: Prepared, source: str) -> float:
    probe = one.fixture.probes.get(source.removeprefix("probe."))
    return float(getattr(probe, "every_s", 1 / READINGS_PER_S))


def short_of_room(prepared: Sequence[Prepared]) -> str:
    """Say how much room lacks for soaks that run side by side; empty where there is enough."""
    reports = prepared[0].folder.parent
    there = next(one for one in (reports, *reports.parents) if one.is_dir())
    free, needed = free_bytes(there), sum(map(needed_bytes, prepared))
    if free is None or free >= needed:
        return ""
    return (
        f"The disk of {there.resolve()} has {show_bytes(free)} free, and by its latest end this "
        f"may write {show_bytes(needed)}: a disk that gets full ends it."
    )
