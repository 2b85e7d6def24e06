"""The charts: whole, readable, and true to gaps, extremes, failures and short breaks."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from soak.charts.band import Piece, Row, band
from soak.charts.bars import Bar, bars
from soak.charts.dots import Dot, dots
from soak.charts.lines import Level, Line, lines, speeds
from soak.charts.svg import text_width
from soak.language import language

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "<script>alert(1)</script>\"&'\u202egnp.exe\x00\x1b[31m" + "x" * 10_000
SPAN = (0.0, 28800.0)
SAY = language("en").say


def a_line(words: str = "outside", holes=()) -> Line:
    t_s = np.arange(0.0, 28800.0, 10.0)
    keep = np.ones(t_s.size, bool)
    for begin_s, end_s in holes:
        keep &= (t_s < begin_s) | (t_s > end_s)
    return Line(words, t_s[keep], 20 + t_s[keep] / 1000, holes)


def draw_all(words: str, width: int) -> list[str]:
    """Return one chart of each kind with `words` wherever text goes."""
    pieces = [Piece(0, 100, "picture"), Piece(100, 100.35, words, words), Piece(101, 9e3, "off")]
    return [
        lines(
            "a",
            words,
            words,
            [a_line(words)],
            axis=words,
            say=SAY,
            span_s=SPAN,
            limits=[Level(words, 40.0)],
            off=[(0, 60)],
            width=width,
        ),
        speeds("s", words, words, [a_line(words)], say=SAY, span_s=SPAN, width=width),
        bars("m", words, words, [Bar(words, 12, words), Bar("rest", 0)], say=SAY, width=width),
        dots(
            "d",
            words,
            words,
            [Dot(words, 18.0), Dot("cold", None)],
            say=SAY,
            limit_s=46.0,
            width=width,
        ),
        band(
            "b",
            words,
            words,
            [Row(words, pieces)],
            say=SAY,
            span_s=SPAN,
            stretches=[(words, 0.0, 20000.0)],
            width=width,
        ),
    ]


@pytest.mark.parametrize("width", [720, 360])
@pytest.mark.parametrize("words", ["ambient", HOSTILE, ""])
def test_every_chart_is_well_formed_and_named_for_screen_readers(words, width):
    """Each is XML with role, title and description, whatever text it is given."""
    for drawn in draw_all(words, width):
        root = ET.fromstring(drawn)
        assert root.tag == f"{SVG}svg"
        assert root.get("role") == "img"
        ids = root.get("aria-labelledby").split()
        assert [root.find(f"{SVG}title").get("id"), root.find(f"{SVG}desc").get("id")] == ids
        assert not root.findall(f".//{SVG}script")
        assert {e.tag.removeprefix(SVG) for e in root.iter()} <= {
            "svg",
            "title",
            "desc",
            "rect",
            "path",
            "text",
            "g",
            "circle",
            "defs",
            "pattern",
        }
        assert not [e for e in root.iter() if any(key.startswith("on") for key in e.attrib)]


def test_hostile_characters_do_not_reach_a_chart():
    """Reversing and control characters are gone and long text is cut, so it cannot fill a page."""
    for drawn in draw_all(HOSTILE, 720):
        assert not re.search("[\u202e\x00\x1b]", drawn)
        assert len(drawn) < 60_000


@pytest.mark.parametrize("width", [720, 360])
def test_no_text_is_cut_at_the_edges(width):
    """By the estimate of its width every text ends within the figure."""
    for drawn in draw_all("a rather long name of a spot on the unit", width):
        for text in ET.fromstring(drawn).iter(f"{SVG}text"):
            words, x = "".join(text.itertext()), float(text.get("x"))
            wide = text_width(words)
            left = x - {"end": wide, "middle": wide / 2}.get(text.get("text-anchor", ""), 0.0)
            assert left >= -2, words
            assert left + wide <= width + 2, words


def runs(drawn: str) -> list[str]:
    """Return the separate pieces of the first line drawn."""
    found = next(
        p for p in ET.fromstring(drawn).iter(f"{SVG}path") if p.get("stroke-width") == "1.6"
    )
    return found.get("d").split("M")[1:]


def test_a_hole_is_drawn_as_a_gap():
    """A line with one hole is two lines, without it one."""
    whole = lines("a", "t", "t", [a_line()], axis="°C", say=SAY, span_s=SPAN)
    holed = lines("a", "t", "t", [a_line(holes=[(9000, 12000)])], axis="°C", say=SAY, span_s=SPAN)
    assert len(runs(whole)) == 1
    assert len(runs(holed)) == 2


def test_readings_inside_a_hole_are_not_drawn():
    """What an instrument said while it was blind is neither a line nor ten thousand dots."""
    line = Line("x", a_line().t_s, a_line().value, [(9000.0, 28800.0)])
    drawn = lines("a", "t", "t", [line], axis="°C", say=SAY, span_s=SPAN)
    assert len(runs(drawn)) == 1
    assert drawn.count("<circle") <= 1


def test_missing_readings_are_a_gap_even_where_nobody_declared_a_hole():
    """A probe that said nothing for an hour leaves a gap in its line."""
    line = a_line(holes=[(9000, 12600)])
    drawn = lines("a", "t", "t", [Line("x", line.t_s, line.value)], axis="°C", say=SAY, span_s=SPAN)
    assert len(runs(drawn)) == 2


def test_a_lone_spike_reaches_its_height_on_the_page():
    """One reading of 90 among a hundred thousand at 50 is drawn at the level of its limit line."""
    t_s = np.linspace(0, 28800, 100_000)
    value = np.full(t_s.size, 50.0)
    value[41_000] = 90.0
    drawn = lines(
        "a",
        "t",
        "t",
        [Line("x", t_s, value)],
        axis="°C",
        say=SAY,
        span_s=SPAN,
        limits=[Level("l", 90.0)],
    )
    level = next(
        p for p in ET.fromstring(drawn).iter(f"{SVG}path") if p.get("stroke-dasharray") == "1 3 8 3"
    )
    limit_y = float(level.get("d").split()[1].split("H")[0])
    tops = [float(point.split()[1]) for run in runs(drawn) for point in run.split("L")]
    assert min(tops) == pytest.approx(limit_y, abs=0.11)


def test_values_that_are_not_finite_are_left_out():
    """A NaN neither breaks the chart nor appears in it."""
    line = a_line()
    line.value[5] = np.nan
    line.value[9] = np.inf
    drawn = lines("a", "t", "t", [line], axis="°C", say=SAY, span_s=SPAN)
    assert "nan" not in drawn
    assert "inf" not in drawn


def test_a_chart_without_any_reading_is_still_a_chart():
    """No data gives empty axes, not an error."""
    empty = Line("x", np.empty(0), np.empty(0))
    assert (
        ET.fromstring(lines("a", "t", "t", [empty], axis="°C", say=SAY, span_s=(0.0, 0.0)))
        is not None
    )
    assert ET.fromstring(dots("d", "t", "t", [], say=SAY)) is not None
    assert ET.fromstring(band("b", "t", "t", [], say=SAY, span_s=(0.0, 0.0))) is not None


def test_speed_is_drawn_in_megabytes_from_zero():
    """28 MB/s stands between 0 and 40 on an axis that says MB/s."""
    line = Line("x", np.arange(0.0, 100.0), np.full(100, 28e6))
    words = [
        "".join(t.itertext())
        for t in ET.fromstring(speeds("s", "t", "t", [line], say=SAY, span_s=(0, 100))).iter(
            f"{SVG}text"
        )
    ]
    assert "speed, MB/s" in words
    assert {"0", "30"} <= set(words)


def test_failed_starts_are_named_and_have_a_shape_of_their_own():
    """Two failed starts give two crosses more than none, and their numbers in words."""
    good = [Dot("warm", 18.0)] * 50
    bad = list(good)
    bad[12] = bad[40] = Dot("warm", None)
    drawn = dots("d", "t", "t", bad, say=SAY, limit_s=46.0)
    crosses = drawn.count("l10 10m0-10l-10 10")
    assert crosses == 3  # two starts and the legend
    assert "did not start: no. 13, 41" in drawn
    assert "l10 10m0-10l-10 10" not in dots("d", "t", "t", good, say=SAY, limit_s=46.0)


def test_the_slowest_of_many_thousand_starts_is_still_drawn():
    """Thinning starts keeps the slowest one and every failed one."""
    many = [Dot("warm", 18.0)] * 20_000
    many[777] = Dot("warm", 44.0)
    many[15_000] = Dot("warm", None)
    drawn = dots("d", "t", "t", many, say=SAY, limit_s=46.0)
    heights = [float(c.get("cy")) for c in ET.fromstring(drawn).iter(f"{SVG}circle")]
    assert len(heights) < 4000
    assert min(heights) < sorted(heights)[5] - 20
    assert "no. 15001" in drawn


@pytest.mark.parametrize("lasts_s", [0.0, 0.02, 0.35])
def test_the_shortest_break_in_a_night_has_a_visible_width(lasts_s):
    """A break of a frame in eight hours is at least 2 px wide, and named with its time."""
    pieces = [
        Piece(0, 14400, "picture"),
        Piece(14400, 14400 + lasts_s, "black", "black, 0.35 s"),
        Piece(14400 + lasts_s, 28800, "picture"),
    ]
    drawn = band("b", "t", "t", [Row("picture", pieces)], say=SAY, span_s=SPAN)
    black = [
        p.get("d")
        for p in ET.fromstring(drawn).iter(f"{SVG}path")
        if p.get("fill", "").endswith("-p5)")
    ]
    widths = [float(w) for w in re.findall(r"h([\d.]+)v", black[0])]
    assert widths[0] >= 2.0
    assert "4:00:00 black, 0.35 s" in drawn


def test_states_differ_by_pattern_and_word_not_by_colour_alone():
    """Any two states have different hatching or lightness, and their names beside them."""
    states = ["picture", "black", "no signal", "frozen", "blind", "off", "starting", "other size"]
    pieces = [Piece(i * 100, i * 100 + 100, state) for i, state in enumerate(states)]
    root = ET.fromstring(band("b", "t", "t", [Row("picture", pieces)], say=SAY, span_s=(0, 800)))
    looks = {
        p.get("id"): (p[0].get("fill"), p[1].get("d") if len(p) > 1 else "")
        for p in root.iter(f"{SVG}pattern")
    }
    assert len(set(looks.values())) == len(states)
    words = {"".join(text.itertext()) for text in root.iter(f"{SVG}text")}
    assert set(states) <= words


def test_breaks_too_many_to_name_are_counted():
    """What finds no room for its words is said to be there."""
    pieces = [Piece(i * 30, i * 30 + 1, "black", f"black {i}") for i in range(200)]
    drawn = band("b", "t", "t", [Row("picture", pieces)], say=SAY, span_s=SPAN)
    left_out = int(re.search(r"and (\d+) more, too close", drawn)[1])
    assert left_out + drawn.count(" black ") == 200


def test_a_bar_is_as_long_as_its_count_and_none_has_no_bar():
    """Twice the count is twice the length; a count of none is written and not drawn."""
    rows = [Bar("left", 6, "longest 0.76 s"), Bar("right", 3), Bar("rest", 0)]
    drawn = ET.fromstring(bars("m", "Episodes", "about", rows, say=SAY))
    _paper, *lengths = [float(one.get("width", 0)) for one in drawn.iter(f"{SVG}rect")]
    assert len(lengths) == 2
    assert abs(lengths[0] - 2 * lengths[1]) <= 0.2
    texts = [one.text for one in drawn.iter(f"{SVG}text")]
    assert {"6, longest 0.76 s", "3", "0"} <= set(texts)
