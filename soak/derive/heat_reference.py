"""What a known-good unit leaves behind for later ones: the rise of each spot in the end."""

import numpy as np

from soak.derive.course import Course
from soak.derive.heat import End, last_end, spots_of
from soak.derive.spans import Span
from soak.records import Json


def heat_reference_of(course: Course) -> Json | None:
    """Return rises by spot with the current drawn; None where no spot's end can be told."""
    wired = course.header.fixture.get("probe", {})
    ends: dict[str, End] = {}
    for quantity in spots_of(course.header.fixture):
        found = last_end(course, quantity)
        if isinstance(found, End):
            ends[str(wired[quantity.removeprefix("probe.")]["spot"])] = found
    if not ends:
        return None
    run = next(iter(ends.values())).run
    return {
        "soak_id": course.header.soak_id,
        "tag": course.header.unit["tag"],
        "rises_k": {spot: round(end.rise_k, 3) for spot, end in ends.items()},
        "how": {spot: end.how for spot, end in ends.items()},
        "drawn_a": drawn_a(course, run),
    }


def drawn_a(course: Course, run: Span) -> float | None:
    """Return the median current over the last half of a run, A; None without a probe of it."""
    wired = course.header.fixture.get("probe", {})
    name = next((f"probe.{name}" for name, entry in wired.items() if entry["unit"] == "A"), "")
    if not name:
        return None
    t_s, value = course.series(name)
    late = (t_s >= (run[0] + run[1]) / 2) & (t_s <= run[1])
    return round(float(np.median(value[late])), 4) if late.any() else None
