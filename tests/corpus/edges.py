"""A good evening changed so little that it lies on either side of a limit of the judge's own."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from spoilt import Plain, Way, middle, spoilt_by, state
from stored import jobs_of


def edges() -> Iterator[tuple[str, tuple[list[list[str]], Any]]]:
    """Yield the evening changed in each way."""
    [job] = [one for one in jobs_of("evening") if one.name == "good/evening/2"]
    for name, way in WAYS.items():
        yield name, spoilt_by(job, way)


def short_by(missing_s: float) -> Way:
    """Let each stretch end so much early, where no blindness is allowed."""

    def change(records: list[Plain]) -> None:
        for one in records[0]["requirements"]:
            one["blind_allowed"] = 0.0
        for one in records:
            if one.get("what") == "stretch ends":
                one["t_s"] -= missing_s

    return change


def later(source: str, seen: str, by_s: float) -> Way:
    """Let a source turn up so much later after each start."""

    def change(records: list[Plain]) -> None:
        for one in records:
            if one.get("source") == source and one["state"] == seen and one["t_s"] > 0:
                one["t_s"] += by_s

    return change


def lost(source: str, looks: str, before: str, *spans: tuple[float, float]) -> Way:
    """Let a source be lost in the middle: from, and for so long, in s."""

    def change(records: list[Plain]) -> None:
        at_s, _ = middle(records)
        for from_s, for_s in spans:
            records.append(state(at_s + from_s, source, looks))
            records.append(state(at_s + from_s + for_s, source, before))

    return change


def _dark(*spans: tuple[float, float]) -> Way:
    return lost("capture", "black", "picture", *spans)


def _gone(*spans: tuple[float, float]) -> Way:
    return lost("stick", "gone", "seen", *spans)


def _both(*ways: Way) -> Way:
    def change(records: list[Plain]) -> None:
        for way in ways:
            way(records)

    return change


def _all(ways: Mapping[str, Sequence[Any]], way: Callable[..., Way]) -> dict[str, Way]:
    return {name: way(*given) for name, given in ways.items()}


WAYS: Mapping[str, Way] = {
    **_all({f"{s:g} s short": (s,) for s in (1.0, 1.9, 2.1, 10.0)}, short_by),
    **_all({f"stick {s:g} s late": ("stick", "seen", s) for s in (10.0, 25.0, 35.0, 60.0)}, later),
    **_all({f"picture {s:g} s late": ("capture", "picture", s) for s in (2.0, 10.0, 40.0)}, later),
    **_all({f"dark for {s:g} s": ((10.0, s),) for s in (0.15, 0.25, 5.0, 15.0, 60.0)}, _dark),
    "dark twice, 1.5 s apart": _dark((10.0, 1.0), (12.5, 1.0)),
    "dark twice, 2.5 s apart": _dark((10.0, 1.0), (13.5, 1.0)),
    **_all({f"stick gone for {s:g} s": ((10.0, s),) for s in (0.5, 5.0)}, _gone),
    "dark while the stick is gone": _both(_dark((10.0, 20.0)), _gone((10.5, 18.0))),
}
