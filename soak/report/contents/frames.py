"""Evidence pictures of a soak: which are shown, in which order, and that they are pictures."""

from collections.abc import Sequence
from dataclasses import dataclass

from soak.derive.said import state_words
from soak.derive.spans import Span
from soak.errors import JournalError, told_of
from soak.evidence import Evidence
from soak.journal.kept import NotAsRecorded
from soak.marks import shown_by
from soak.names import named
from soak.records import KeptFile
from soak.report.contents.seen import at
from soak.report.model import Frame
from soak.words import NOTHING_SAID, Message, joined, msg

AROUND_S = 3.0
"""A picture so shortly before or after an event belongs to it, s. Our own choice."""
MOST = 24
"""Pictures of one soak on the page."""
MOST_BYTES = 6_000_000
"""Of one soak, together: so that a page still travels by mail."""

_SIGNATURES = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture's bytes; `media_type` is what these are, not what somebody called them."""

    media_type: str
    data: bytes


def pictures(
    evidence: Evidence, number: int, pointed: Sequence[Span]
) -> list[tuple[Frame, Picture]]:
    """Return the soak's pictures for the page, in order of time.

    Parameters
    ----------
    pointed : sequence of (float, float)
        Spans in s that the judgement holds against the unit; what was seen there is shown.
    """
    kept_files = [
        kept_file
        for kept_file in evidence.kept_files()
        if kept_file.media_type.startswith("image/")
    ]
    shown = []
    used_bytes = 0
    for index, kept in enumerate(_chosen(kept_files, pointed)):
        name = f"s{number}-f{index + 1}"
        try:
            data = evidence.kept_bytes(kept)
            problem = NOTHING_SAID
        except JournalError as fault:
            data = b""
            problem = fault.what if isinstance(fault, NotAsRecorded) else told_of(fault)
        media_type = picture_type(data)
        if not problem and not media_type:
            problem = msg("not a JPEG or PNG picture")
        if not problem and used_bytes + len(data) > MOST_BYTES:
            problem = msg("left out to keep the page small; it is in the soak's folder")
        used_bytes += 0 if problem else len(data)
        frame = _frame(kept, name, problem)
        shown.append((frame, Picture(media_type, b"" if problem else data)))
    return shown


def picture_type(data: bytes) -> str:
    """Return the media type that the first bytes tell; empty if it is no picture we show."""
    return next((kind for start, kind in _SIGNATURES if data.startswith(start)), "")


def _chosen(found: Sequence[KeptFile], pointed: Sequence[Span]) -> list[KeptFile]:
    """Choose the first and the last picture, those made by hand, and those of what went wrong.

    Every start leaves pictures too, hundreds a night and much alike: they stay in the folder.
    """
    capture = [kept_file for kept_file in found if kept_file.of == "capture"]
    seen = [frame for frame in capture if shown_by(frame).state == "picture"] or capture
    chosen = [frame for frame in seen if shown_by(frame).shows == "first"][:1] + seen[-1:]
    chosen += [frame for frame in found if frame.of != "capture"][: MOST // 4]
    for from_s, to_s in pointed:
        here = [frame for frame in capture if from_s - AROUND_S <= frame.t_s <= to_s + AROUND_S]
        for shows in ("before", "during", "after"):
            at_hand = [frame for frame in here if shown_by(frame).shows == shows]
            chosen += sorted(at_hand, key=lambda one: abs(one.t_s - from_s))[:1]
    names = {frame.name for frame in chosen[:MOST]}
    return [frame for frame in found if frame.name in names]


def _frame(kept: KeptFile, name: str, problem: Message) -> Frame:
    shown = shown_by(kept)
    state = shown.state
    words = joined(
        " ",
        [
            named(shown.shows),
            msg("({state})", state=state_words(state)) if state else NOTHING_SAID,
            msg("– {source}", source=named(kept.of)) if kept.of else NOTHING_SAID,
        ],
    )
    return Frame(
        name=name,
        at=at(kept.t_s),
        shows=words or msg("picture"),
        sha256=kept.sha256,
        problem=problem,
    )
