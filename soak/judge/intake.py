"""How often a fault was seen before the repair: what later quiet is measured against."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.faults import picture_faults, terms_of
from soak.derive.spans import common, holds, minus, total_s
from soak.records import Json
from soak.rules.wiggle import RULE, Moved, movements


def seen_at_intake(course: Course) -> Json:
    """Return the episodes and the hours of an intake, hands off and moved kept apart.

    A plug that is moved opens far more often than one at rest: to set a quiet night against
    movements would prove a repair too early.

    Returns
    -------
    Json
        `soak_id`, `complaint`, `port`; `events` in `hours` with hands off (the picture);
        `moved`: of that port, cold and hot apart, `heat`, `events`, `hours`.
    """
    header = course.header
    wiggles = [one for one in header.requirements if one.rule == RULE]
    found = {one.id: movements(one, course) for one in wiggles}
    hands = [(m.from_s, m.to_s) for all_ in found.values() for m in all_ if m.movement != "rest"]
    # The port that opened most often is the one whose repair must be shown.
    worst = max(wiggles, key=lambda one: sum(_events(m) for m in found[one.id]), default=None)
    port = str(worst.params["port"]) if worst else ""
    moved = [
        _moved(str(one.params["heat"]), found[one.id])
        for one in wiggles
        if one.params["port"] == port
    ]
    terms = terms_of(None, header)
    pauses = [(from_s, to_s + 5.0) for from_s, to_s in hands]
    picture = [f for f in picture_faults(course, terms) if not holds(f.from_s, pauses)]
    quiet = minus(minus(course.started, course.unseen("capture", terms.bad)), hands)
    watched_s = total_s(common(quiet, course.session_spans)) if "capture" in course.roles else 0.0
    return {
        "soak_id": header.soak_id,
        "complaint": str(header.references.get("complaint", "")),
        "port": port,
        "events": len(picture),
        "hours": round(watched_s / 3600, 6),
        "moved": moved,
    }


def _moved(heat: str, all_: Sequence[Moved]) -> Json:
    hands = [one for one in all_ if one.movement != "rest"]
    hours = sum(one.seen_s for one in hands) / 3600
    return {"heat": heat, "events": sum(map(_events, hands)), "hours": round(hours, 6)}


def _events(moved: Moved) -> int:
    return len(moved.events)
