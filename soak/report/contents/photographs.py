"""The photographs of the unit on a page: people made them, the bench keeps them by their hash."""

from collections.abc import Mapping, Sequence

from soak.report.contents.context import Photographed
from soak.report.contents.frames import Picture
from soak.report.contents.given import day
from soak.report.model import Photograph
from soak.words import msg


def photographs(shown: Sequence[Photographed]) -> tuple[Photograph, ...]:
    """Return what the pages say of them."""
    return tuple(
        Photograph(
            name=f"p{number}",
            what=one.what,
            on=day(one.on),
            tied=msg("recorded after soak {soak}", soak=one.after_soak)
            if one.after_soak
            else msg("recorded before any soak"),
            sha256=one.sha256,
            problem=one.problem,
        )
        for number, one in enumerate(shown, start=1)
    )


def as_pictures(shown: Sequence[Photographed]) -> Mapping[str, Picture]:
    """Return those that can be shown, by name."""
    parts = zip(photographs(shown), shown, strict=True)
    return {part.name: Picture("image/jpeg", one.content) for part, one in parts}
