"""The colours of the charts and the sheet, and the contrast that holds them together.

The colours carry no verdict: nothing is green for good or red for bad. What differs, differs by
dash, hatching or shape and by a label too, so that all of it survives a grey printer.
"""

INK = "#1f1c19"
SOFT_INK = "#5a534c"
PAPER = "#ffffff"
RULE = "#d9d3c8"
SHADE = "#efebe3"
ACCENT = "#7a3b12"
"""Limits, and what broke one."""

LINE_COLOURS = ("#22406b", "#6b3f6e", "#2f5d56", "#6d5312", "#1f1c19", "#75405a")
LINE_DASHES = ("", "7 3", "2 2", "9 3 2 3", "12 4", "4 4")


def _linear(channel: int) -> float:
    share = channel / 255
    return share / 12.92 if share <= 0.03928 else float(((share + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    """Return the relative luminance of `#rrggbb`, 0 (black) to 1 (white).

    References
    ----------
    W3C, Web Content Accessibility Guidelines (WCAG) 2.0, 2008, definition "relative luminance".
    """
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return 0.2126 * _linear(red) + 0.7152 * _linear(green) + 0.0722 * _linear(blue)


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21.

    References
    ----------
    W3C, Web Content Accessibility Guidelines (WCAG) 2.0, 2008, definition "contrast ratio".
    """
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)
