"""The colours can be read, by the published formula."""

import pytest

from soak.charts.palette import (
    ACCENT,
    INK,
    LINE_COLOURS,
    PAPER,
    SHADE,
    SOFT_INK,
)

# Range 1 to 21 and the weights: W3C, WCAG 2.0 (2008), definitions "contrast ratio" and "relative
# luminance". #3366CC: W3C technique G183, 5.4:1 on white and 3.9:1 against black text (from
# memory). #777777: 4.48:1 on white, the usual near miss of contrast checkers (from memory).


def luminance(colour: str) -> float:
    """Return the relative luminance of `#rrggbb`, 0 (black) to 1 (white)."""
    red, green, blue = (_linear(int(colour[at : at + 2], 16) / 255) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(share: float) -> float:
    return share / 12.92 if share <= 0.03928 else ((share + 0.055) / 1.055) ** 2.4


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


WORKED = [
    ("#000000", "#ffffff", 21.0, 0.0005),
    ("#ffffff", "#ffffff", 1.0, 0.0005),
    ("#3366cc", "#ffffff", 5.4, 0.05),
    ("#3366cc", "#000000", 3.9, 0.05),
    ("#777777", "#ffffff", 4.48, 0.005),
]


@pytest.mark.parametrize(("one", "other", "ratio", "within"), WORKED)
def test_contrast_agrees_with_worked_values(one, other, ratio, within):
    """The formula gives the published ratios, in either order of the two colours."""
    assert contrast(one, other) == pytest.approx(ratio, abs=within)
    assert contrast(other, one) == contrast(one, other)


@pytest.mark.parametrize(
    ("colour", "weight"), [("#ff0000", 0.2126), ("#00ff00", 0.7152), ("#0000ff", 0.0722)]
)
def test_luminance_of_a_primary_is_its_weight(colour, weight):
    """A full primary's luminance is its weight in WCAG 2.0's definition."""
    assert luminance(colour) == pytest.approx(weight)


@pytest.mark.parametrize("colour", [INK, SOFT_INK, ACCENT, *LINE_COLOURS])
def test_every_ink_reads_on_paper_and_on_shading(colour):
    """Text and lines reach 4.5:1 (WCAG 2.0, 1.4.3) on the paper and on the power-off shading."""
    assert contrast(colour, PAPER) >= 4.5
    assert contrast(colour, SHADE) >= 4.5
