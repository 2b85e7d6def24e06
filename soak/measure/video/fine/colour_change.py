"""What has become of a scene's colours: whether a loss explains how two pictures differ."""

from collections.abc import Collection, Iterator

import numpy as np

from soak.measure.video.colour import TO_LUMA, Colour, Small
from soak.measure.video.fine.lanes import (
    AS_RGB,
    AS_YCBCR,
    DIFFERENCES,
    FLAT_CELLS,
    GREY,
    LANES,
    PAIRS,
    lacking_colours,
    present_colours,
)

LEFT_LUMA, LEFT_SHARE = 18.0, 0.4
"""A wrong colour space explains a change where it leaves no more than so many levels, mean over the
cells and lanes, and no more than this share of the change. Our own choice: colours that are
clipped leave 6 to 14 of 45, motion adds 3."""
GOES_ON_LUMA = 5.0
"""A scene goes on where a loss leaves no more than so many levels, likewise. Our own choice: motion
from one picture to the next leaves up to 3.5 in a film."""
TIMES_APART, SHARE_APART = 3.0, 0.6
"""Where pictures lie between the two, so many times the levels may be left, and this share: those
between are then looked at one by one. Our own choice."""
SPACE_LUMA = 15.0
"""A wrong colour space changes the cells by at least so many levels on the mean. Our own choice:
drawn and real contents changed by 40 and more."""
CHANGED_LUMA, CHANGED_SHARE = 8.0, 0.2
"""So many levels of change in one lane, in this share of the cells: else a small mark has taken
another colour. Our own choice."""
KEPT_LUMA = 2.5
"""The two lanes beside a lost one go on as they were, levels of mean change over the cells. Our own
choice, half of what motion leaves."""
SHAPES_LUMA = 6.0
"""The lost lane had shapes before, levels (standard deviation over the cells). Our own choice."""

_PAIRED = ((0, 1), (0, 2), (1, 2))
"""Which lanes each of the pairs is of, in their order. By definition."""
_LUMA_RANGE, _DIFFERENCE_RANGE = 219 / 255, 224 / 255
"""Limited range in full: ITU-R BT.601. By definition."""


def loss_between(now: Colour, before: Colour, follows: bool = True) -> str:
    """Return which loss turned the colours of a scene into those of now; '' if none did.

    Parameters
    ----------
    follows : bool
        Whether the one picture follows directly on the other.
    """
    change = np.abs(now.cells - before.cells)
    if float((change.max(axis=2) > CHANGED_LUMA).mean()) < CHANGED_SHARE:
        return ""
    lost = _lost_lane(now, before, change)
    if lost:
        return lost
    times = 1.0 if follows else TIMES_APART
    most = dict.fromkeys(_lacked_now(now, before), times * GOES_ON_LUMA)
    moved = float(change.mean())
    if moved >= SPACE_LUMA:
        by_space = min(times * LEFT_LUMA, (LEFT_SHARE if follows else SHARE_APART) * moved)
        most |= {AS_RGB: by_space, AS_YCBCR: by_space}
    lefts = {
        name: left
        for name, made in _losses(before, most)
        if (left := float(np.abs(now.cells - made).mean())) <= most[name]
    }
    return min(lefts, key=lambda one: lefts[one], default="")


def _lacked_now(now: Colour, before: Colour) -> set[str]:
    """Return the colours that are lacking now and were there before."""
    lacking = lacking_colours(now)
    if not lacking.any():
        return set()
    came = lacking & present_colours(before)
    lost = {name for name, gone in zip((*DIFFERENCES, *PAIRS), came, strict=True) if gone}
    # Grey lacks everything, so that it alone explains it.
    return {GREY} if bool(lacking.all()) and lost else lost


def _lost_lane(now: Colour, before: Colour, change: Small) -> str:
    means = change.mean(axis=(0, 1))
    lane = int(np.argmax(means))
    others = [other for other in range(3) if other != lane]
    if float(means[others].max()) > KEPT_LUMA:
        return ""
    had = float(before.cell_spread[lane]) >= SHAPES_LUMA
    return LANES[lane] if had and float(now.cell_spread[lane]) <= FLAT_CELLS else ""


def _losses(before: Colour, names: Collection[str]) -> Iterator[tuple[str, Small]]:
    """Yield what a scene's cells become by each of these losses."""
    if not names:
        return
    cells = before.cells
    luma = cells @ TO_LUMA.astype(np.float32)
    both = np.moveaxis(before.differences, 2, 0)
    none = np.zeros_like(luma)
    kept = {GREY: (none, none), DIFFERENCES[0]: (none, both[1]), DIFFERENCES[1]: (both[0], none)}
    for name in kept.keys() & names:
        yield name, _bgr(luma, *kept[name])
    for name, (one, other) in zip(PAIRS, _PAIRED, strict=True):
        for lane, like in ((one, other), (other, one)) if name in names else ():
            made = cells.copy()
            made[..., lane] = cells[..., like]
            yield name, made
    if AS_RGB in names:
        lanes = [both[0] * _DIFFERENCE_RANGE, luma * _LUMA_RANGE, both[1] * _DIFFERENCE_RANGE]
        yield AS_RGB, np.stack(lanes, axis=2) + np.array([128, 16, 128], np.float32)
    if AS_YCBCR in names:
        blue, green, red = np.moveaxis(cells, 2, 0)
        shown = ((blue - 128) / _DIFFERENCE_RANGE, (red - 128) / _DIFFERENCE_RANGE)
        yield AS_YCBCR, _bgr((green - 16) / _LUMA_RANGE, *shown)


def _bgr(luma: Small, blue_difference: Small, red_difference: Small) -> Small:
    """Return B, G, R of Y, Cb, Cr in full range (ITU-T T.871, section 7)."""
    green = luma - 0.344136 * blue_difference - 0.714136 * red_difference
    lanes = [luma + 1.772 * blue_difference, green, luma + 1.402 * red_difference]
    return np.asarray(np.clip(np.stack(lanes, axis=2), 0, 255), np.float32)
