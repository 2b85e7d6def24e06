"""The judging set of the picture check says the truth of itself: labels, balance, seeds, marks.

Nothing here looks at the picture check; pictures are compared with pictures.
"""

from collections import Counter
from dataclasses import replace

import cv2
import numpy as np
import pytest
from judging.clips import Clip
from judging.colours import FORMS, tinted
from judging.content import Told
from judging.decidable import hues, why_not
from judging.design import BLOCK, CODINGS, NOISES, RATES_HZ, SIZES, Setting, recoded, setting_of
from judging.families import CLEAN, FAMILIES, FAULTY, NAMES, content_of
from judging.faults import KINDS, Fault, planned
from judging.films import CLIP_USES, shown_of_clip
from judging.scoring import rate_bound, share_bounds, tried, wrong_calls

SMALL = (160, 120)
PLAIN = Told(longest_still_s=0.1)


def small_clip(seed, family="menus", noise="none", coding="mjpeg-75"):
    """Return a clip of the set, but small."""
    setting = Setting(family, seed % 9, SMALL, coding, noise, 25)
    return Clip(seed, setting, planned(seed, 25, SMALL), FAULTY)


def clip_with(kind, **more):
    """Return the first small clip that holds a decidable fault of a kind, and that fault."""
    for seed in range(40):
        clip = small_clip(seed, **more)
        for fault in clip.faults:
            if fault.kind == kind and fault.decidable and fault.place != "the whole clip":
                return clip, fault
    raise AssertionError(f"no {kind} in 40 clips")


def test_a_block_holds_every_setting_once_and_every_content_as_often():
    """Sizes, codings, noises and rates are a full factorial, as designed experiments define it."""
    made = [setting_of(seed, NAMES, FAULTY) for seed in range(BLOCK)]
    cells = Counter((one.size, one.coding, one.noise, one.rate_hz) for one in made)
    assert len(cells) == len(SIZES) * len(CODINGS) * len(NOISES) * len(RATES_HZ)
    assert set(cells.values()) == {1}
    assert set(Counter((one.family, one.size, one.noise) for one in made).values()) == {1}
    assert set(Counter((one.family, one.coding, one.rate_hz) for one in made).values()) == {1}


def test_every_twenty_clips_hold_every_content():
    """The first N clips are a balanced sample wherever N is a multiple of 20."""
    for start in range(0, 2 * BLOCK, 20):
        batch = [setting_of(seed, NAMES, FAULTY).family for seed in range(start, start + 20)]
        assert sorted(batch) == sorted(NAMES)


def test_the_uses_of_a_clean_clip_all_differ():
    """Each use of a second has another coding, and each noise is met once."""
    uses = [recoded(setting_of(5, NAMES, CLEAN), use) for use in range(3)]
    assert len({one.coding for one in uses}) == 3
    assert {one.noise for one in uses} == set(NOISES)


def test_every_kind_of_fault_is_put_in_as_often():
    """Two clips that follow on one another hold the eight kinds once; 900 hold 450 of each."""
    held = Counter(
        fault.kind
        for seed in range(900)
        for fault in planned(seed, 25, SMALL).faults
        if fault.kind not in ("black", "nosignal")
    )
    assert set(held.values()) == {450}
    pair = [fault.kind for seed in (8, 9) for fault in planned(seed, 25, SMALL).faults]
    assert set(pair) == set(KINDS)


def test_every_form_of_tint_is_put_in_at_every_place():
    """17 forms and 4 places have no common divisor, so that 68 turns hold each pair once."""
    met = Counter(
        (fault.form, fault.place)
        for seed in range(136)
        for fault in planned(seed, 25, SMALL).faults
        if fault.kind == "tint"
    )
    assert len(met) == len(FORMS) * 4


@pytest.mark.parametrize("kind", ["black", "nosignal", "resolution", "tint", "torn", "sparkle"])
def test_pictures_change_where_the_label_says_and_nowhere_else(kind):
    """The shown pictures differ from those without the fault from first to last, not beside it."""
    clip, fault = clip_with(kind)
    for number in (fault.first - 1, fault.last + 1):
        if 0 <= number < len(clip.slots):
            assert np.array_equal(clip.shown(number), clip.without(fault, number))
    for number in {fault.first, fault.last}:
        shown = clip.shown(number)
        clean = clip.without(fault, number)
        assert shown.shape != clean.shape or not np.array_equal(shown, clean)


def test_a_freeze_shows_the_picture_before_it():
    """Its pictures are the last one before it, and what would have been shown moves on."""
    clip, fault = clip_with("freeze", family="games")
    before = clip.shown(fault.first - 1)
    if fault.form in ("one picture", "same packet"):
        assert np.array_equal(clip.shown(fault.last), before)
    assert not np.array_equal(clip.shown(fault.last), clip.without(fault, fault.last))
    assert not np.array_equal(clip.shown(fault.last + 1), clip.shown(fault.last))


def test_a_stall_is_a_gap_of_half_a_second_at_least():
    """Time stamps of the pictures before and after it are so far apart, all others are not."""
    clip, fault = clip_with("stall")
    times = [picture.t_s for picture in clip.pictures()]
    apart = np.diff(times)
    assert fault.last == fault.first + 1
    assert apart[fault.first] > 0.5
    assert np.delete(apart, fault.first).max() < 0.1


def test_the_same_seed_makes_the_same_packets():
    """Two clips of one seed are alike byte for byte, noise and times included."""
    made = [
        [(one.t_s, bytes(one.data)) for one in small_clip(3, noise="strong").pictures()]
        for _ in range(2)
    ]
    assert made[0] == made[1]
    assert made[0] != [
        (one.t_s, bytes(one.data)) for one in small_clip(4, noise="strong").pictures()
    ]


@pytest.mark.parametrize("family", NAMES)
def test_no_content_stands_longer_than_it_tells(family):
    """Looked at for 6 s at 25 pictures a second; told with one picture to spare."""
    for occurrence in range(3):
        made = FAMILIES[family](SMALL, np.random.default_rng(occurrence), occurrence)
        stands = 0
        longest = 0
        for number in range(1, 150):
            alike = np.array_equal(made.picture(number / 25), made.picture((number - 1) / 25))
            stands = stands + 1 if alike else 0
            longest = max(longest, stands)
        assert longest / 25 <= made.told.longest_still_s + 1 / 25


def test_no_second_of_an_open_clip_is_shown_more_than_three_times():
    """Of each clip, which pictures the three seeds show that may; clean clips show none."""
    for number in range(3):
        shown = Counter(
            picture for seed in range(CLIP_USES) for picture in shown_of_clip(seed, number)
        )
        assert max(shown.values()) <= 3
    later = content_of(setting_of(0, NAMES, CLEAN), 0, CLEAN)
    assert NAMES[0] == "film"
    assert later._clip is None


def _page(ink, paper=(255, 255, 255)):
    image = np.full((120, 160, 3), paper, np.uint8)
    for row in range(10, 110, 12):
        cv2.putText(image, "nepsor kalo", (4, row), cv2.FONT_HERSHEY_SIMPLEX, 0.4, ink, 1)
    return image


def _why(fault, clean, faulty, told=PLAIN, sigma=0.0, length_s=5.0):
    return why_not(fault, lambda number: clean, lambda number: faulty, told, sigma, length_s)


def _fault(kind, form="", place="a step in the middle", **given):
    return Fault(kind, form, 10, 60, place, given)


def test_a_lost_lane_on_a_page_of_one_hue_is_undecidable():
    """Amber without red is green: somebody may have meant it."""
    page = _page((0, 176, 255), (0, 0, 0))
    fault = _fault("tint", "red lost")
    assert _why(fault, page, tinted(page, "red lost", 0)) == "content of one hue"
    assert hues(page) == 1


def test_a_lost_lane_on_two_hues_is_decidable_but_a_meant_grey_is_not():
    """Red and blue bars on white: two hues; without chroma from the first it is grey film."""
    page = _page((0, 0, 0))
    page[:40, :60] = (200, 40, 30)
    page[60:, :60] = (30, 40, 200)
    for place in ("from the first picture", "a step in the middle"):
        assert not _why(_fault("tint", "red lost", place), page, tinted(page, "red lost", 0))
    gone = _fault("tint", "chroma gone", "from the first picture")
    assert _why(gone, page, tinted(page, "chroma gone", 0)) == "may be meant"


def test_a_tear_across_rows_without_shapes_is_undecidable():
    """The same tear is decidable on a page of text."""
    empty = np.full((120, 160, 3), 200, np.uint8)
    fault = _fault("torn", "standing", pixels=20)
    page = _page((0, 0, 0))
    assert _why(fault, empty, empty) == "rows without shapes"
    assert not _why(fault, page, np.roll(page, 20, axis=1))


def test_a_freeze_is_undecidable_on_what_stands_anyway_or_drowns_in_noise():
    """No longer than told, or a movement of 20 levels under noise of sigma 5."""
    page = _page((0, 0, 0))
    moved = page.copy()
    moved[50:70, 60:90] = np.maximum(moved[50:70, 60:90], 20) - 20
    fault = _fault("freeze", "one picture")
    assert _why(fault, page, page, Told(longest_still_s=5.0)) == "content may stand as long"
    assert not _why(fault, moved, page)
    assert _why(fault, moved, page, sigma=5.0) == "nothing would have been seen to move"
    turned = replace(fault, form="two in turn")
    assert _why(turned, moved, page, Told(cyclic=True)) == "content is a few pictures in turn"


def test_black_on_black_and_sparks_among_stars_are_undecidable():
    """What the content shows by itself is no fault."""
    black = np.zeros((120, 160, 3), np.uint8)
    assert _why(_fault("black", "0"), black, black) == "content is black then"
    assert not _why(_fault("black", "0"), _page((0, 0, 0)), black)
    fading = Told(longest_black_s=6.0)
    assert _why(_fault("black", "0"), _page((0, 0, 0)), black, fading) == (
        "content may be black as long"
    )
    sparks = _fault("sparkle", "dots", share=0.001)
    assert _why(sparks, black, _page((0, 0, 0)), Told(dots=True)) == "content of single pixels"


def test_a_call_in_an_undecidable_case_is_false_and_one_by_another_name_is_told_apart():
    """One clip by hand: an undecidable tint, a decidable tear, four calls."""
    tint = {**_row("tint", 0, 20), "decidable": False}
    torn = _row("torn", 40, 50)
    setting = {"family": "pages", "size": [640, 480]}
    rows = [[5, 9, "tint"], [41, 44, "torn"], [48, 49, "sparkle"], [80, 81, "black"]]
    look = {"rows": rows, "noise": "none", "coding": "yuyv", "fine": 8}
    clip = {"seed": 0, "setting": setting, "faults": [tint, torn]}
    assert [(one.kind, one.onset) for one in tried(clip, look)] == [("torn", 1)]
    calls = [(one.kind, one.is_other) for one in wrong_calls(clip, look)]
    assert calls == [("tint", False), ("sparkle", True), ("black", False)]


def test_a_call_that_goes_far_beyond_a_fault_is_false_and_finds_nothing():
    """Dark content called black all along has not found the black in it."""
    black = _row("black", 100, 110)
    setting = {"family": "dark film", "size": [640, 480]}
    look = {"rows": [[50, 200, "black"]], "noise": "none", "coding": "yuyv", "fine": 8}
    clip = {"seed": 0, "setting": setting, "faults": [black]}
    assert [one.onset for one in tried(clip, look)] == [None]
    assert [one.is_other for one in wrong_calls(clip, look)] == [False]
    look["rows"] = [[98, 130, "black"]]
    assert [one.onset for one in tried(clip, look)] == [-2]


def _row(kind, first, last):
    return {
        "kind": kind,
        "form": "",
        "place": "",
        "first": first,
        "last": last,
        "decidable": True,
        "asked": True,
    }


def test_bounds_are_the_published_ones():
    """Rule of three: none in 299 shows 99 % at one-sided 95 %; none in 24 h shows 3.0 / 24 h."""
    assert share_bounds(299, 299)[0] == pytest.approx(0.025 ** (1 / 299))
    assert rate_bound(0, 24.0) == pytest.approx(-np.log(0.05) / 24)


def test_a_taught_picture_is_what_the_card_shows():
    """The card's blue comes back from its JPEG within 3 levels."""
    clip, fault = clip_with("nosignal")
    taught = cv2.imdecode(np.frombuffer(clip.taught[0], np.uint8), cv2.IMREAD_COLOR)
    blue = clip.card.picture("blue", 0, np.random.default_rng(0))
    assert np.abs(taught.astype(int) - blue).max() <= 3
    assert fault.kind == "nosignal"
