"""Write SVG elements: escaped, with short numbers and the same bytes for the same input."""

from collections.abc import Iterable
from html import escape

from soak.charts.palette import INK, PAPER
from soak.charts.words import printable

FONT = "Helvetica, Arial, 'Liberation Sans', sans-serif"
SIZE = 12.0
"""Height of the charts' text in px; a phone shows the narrow variant at its own size."""

_NARROW = frozenset("iljtf.,:;'|!()[] ")
_WIDE = frozenset("mwMW%@…–—")


def number(value: float) -> str:
    """Write a coordinate in px with at most one decimal."""
    shown = f"{value:.1f}".removesuffix(".0")
    return "0" if shown == "-0" else shown


def element(name: str, *inside: str, **attributes: object) -> str:
    """Write one element; `font_size=12` becomes `font-size="12"`, None is left out."""
    parts = [name]
    for key, value in attributes.items():
        if value is None or value == "":
            continue
        shown = number(value) if isinstance(value, float) else str(value)
        parts.append(f'{key.rstrip("_").replace("_", "-")}="{escape(shown, quote=True)}"')
    content = "".join(inside)
    head = " ".join(parts)
    return f"<{head}>{content}</{name}>" if content else f"<{head}/>"


def label(
    x: float,
    y: float,
    words: object,
    *,
    anchor: str = "start",
    fill: str = INK,
    halo: bool = False,
    bold: bool = False,
) -> str:
    """Write a text at (x, y) in px; with `halo` it stays readable across lines."""
    extra: dict[str, object] = {}
    if halo:
        extra = {"stroke": PAPER, "stroke_width": 4, "paint_order": "stroke"}
        extra["stroke_linejoin"] = "round"
    return element(
        "text",
        escape(printable(words, 200), quote=False),
        x=float(x),
        y=float(y),
        text_anchor=None if anchor == "start" else anchor,
        fill=fill,
        font_weight="bold" if bold else None,
        **extra,
    )


def path(points: Iterable[tuple[float, float]]) -> str:
    """Write the `d` of an open line through points in px."""
    parts = [f"{number(x)} {number(y)}" for x, y in points]
    return "M" + "L".join(parts) if parts else ""


def text_width(words: str, size: float = SIZE) -> float:
    """Estimate the width in px of `words`; generous, so that nothing touches.

    The advances are rounded up from those of common sans-serif faces; wide scripts count one em.
    """
    total = 0.0
    for sign in words:
        if ord(sign) > 0x2E80:
            total += 1.05
        elif sign in _NARROW:
            total += 0.34
        elif sign in _WIDE:
            total += 0.95
        else:
            total += 0.7 if sign.isupper() else 0.58
    return total * size


def figure(name: str, title: str, about: str, width: float, height: float, *inside: str) -> str:
    """Write the `<svg>` with its title and description for screen readers.

    Parameters
    ----------
    name : str
        Unique on the page, letters, digits and hyphens; ids within the figure begin with it.
    title, about : str
        What it is; what it shows, in words.
    """
    return element(
        "svg",
        element("title", escape(printable(title)), id=f"{name}-title"),
        element("desc", escape(printable(about, 2000)), id=f"{name}-about"),
        *inside,
        xmlns="http://www.w3.org/2000/svg",
        role="img",
        aria_labelledby=f"{name}-title {name}-about",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=number(width),
        height=number(height),
        font_family=FONT,
        font_size=SIZE,
        fill=INK,
    )
