"""The colours of the charts and the sheet; a test holds their contrast.

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
