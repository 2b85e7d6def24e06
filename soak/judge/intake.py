"""How often a fault was seen before the repair: what later quiet is measured against."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.faults import picture_faults, terms_of
from soak.derive.moved import REST, Moved, movements
from soak.derive.spans import common, holds, minus, total_s
from soak.records import Json
from soak.rules.wiggle import NO_EPISODE_WHEN_MOVED


def seen_at_intake(course: Course) -> Json:
    """Return the episodes and the hours of an intake, hands off and moved kept apart.

    A plug that is moved opens far more often than one at rest: to set a quiet night against
    movements would prove a repair too early.

    Returns
    -------
    Json
        `soak_id`, `complaint`, `port`; `events` in `hours` with hands off (the picture);
        `moved`: of that port, cold and hot apart, `heat`, `events`, `hours`.

    Raises
    ------
    JournalError
        If what was demanded of a moved plug cannot be read: its movements would count as rest.
    """
    header = course.header
    wiggles = [
        (terms, movements(need, terms, course))
        for need, terms in NO_EPISODE_WHEN_MOVED.among(header.requirements)
    ]
    hands = [(m.from_s, m.to_s) for _, all_ in wiggles for m in all_ if m.movement != REST]
    # The port that opened most often is the one whose repair must be shown.
    worst = max(wiggles, key=lambda one: sum(map(_events, one[1])), default=None)
    port = worst[0].port if worst else ""
    moved = [_moved(terms.heat, all_) for terms, all_ in wiggles if terms.port == port]
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
    hands = [one for one in all_ if one.movement != REST]
    hours = sum(one.seen_s for one in hands) / 3600
    return {"heat": heat, "events": sum(map(_events, hands)), "hours": round(hours, 6)}


def _events(moved: Moved) -> int:
    return len(moved.events)
