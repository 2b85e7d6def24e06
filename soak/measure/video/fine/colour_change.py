"""What has become of a scene's colours: whether a loss explains how two pictures differ."""

from collections.abc import Iterator

import numpy as np

from soak.measure.video.colour import TO_DIFFERENCES, TO_LUMA, Small
from soak.measure.video.fine.lanes import (
    AS_RGB,
    AS_YCBCR,
    DIFFERENCES,
    FLAT_CELLS,
    GREY,
    LANES,
    PAIRED,
    PAIRS,
    lacking_colours,
    present_colours,
)

LEFT_LUMA, LEFT_SHARE = 12.0, 0.3
"""A wrong colour space explains a change where it leaves no more than so many levels, mean over the
cells and lanes, and no more than this share of the change. Our own choice: clipped colours leave 6
to 7 of 45, motion adds 3."""
GOES_ON_LUMA = 5.0
"""A scene goes on where a loss leaves no more than so many levels, likewise. Our own choice: motion
from one picture to the next leaves up to 3.5 in a film."""
TIMES_APART, SHARE_APART = 3.0, 0.5
"""Where pictures lie between the two, so many times the levels may be left, and this share: those
between are then looked at one by one. Our own choice."""
CHANGED_LUMA, CHANGED_SHARE = 8.0, 0.2
"""So many levels of change in one lane, in this share of the cells: else a small mark has taken
another colour. Our own choice."""
KEPT_LUMA = 2.5
"""The two lanes beside a lost one go on as they were, levels of mean change over the cells. Our own
choice, half of what motion leaves."""
SHAPES_LUMA = 6.0
"""The lost lane had shapes before, levels (standard deviation over the cells). Our own choice."""


def loss_between(now: Small, before: Small, follows: bool = True) -> str:
    """Return which loss turned a scene's cells into those of now; '' if none did.

    Parameters
    ----------
    now, before : array of float32
        Cells of two pictures, shape (18, 32, 3).
    follows : bool
        Whether the one follows directly on the other.
    """
    change = np.abs(now - before)
    if float((change.max(axis=2) > CHANGED_LUMA).mean()) < CHANGED_SHARE:
        return ""
    lost = _lost_lane(now, before, change)
    if lost:
        return lost
    times = 1.0 if follows else TIMES_APART
    share = LEFT_SHARE if follows else SHARE_APART
    most = dict.fromkeys(_lacked_now(now, before), times * GOES_ON_LUMA)
    by_space = min(times * LEFT_LUMA, share * float(change.mean()))
    most |= {AS_RGB: by_space, AS_YCBCR: by_space}
    lefts = {
        name: left
        for name, made in _losses(before)
        if name in most and (left := float(np.abs(now - made).mean())) <= most[name]
    }
    return min(lefts, key=lambda one: lefts[one], default="")


def _lacked_now(now: Small, before: Small) -> set[str]:
    """Return the colours that are lacking now and were there before."""
    came = lacking_colours(now) & present_colours(before)
    lost = {name for name, gone in zip((*DIFFERENCES, *PAIRS), came, strict=True) if gone}
    # Grey lacks everything, so that it alone explains it.
    return {GREY} if bool(lacking_colours(now).all()) and lost else lost


def _lost_lane(now: Small, before: Small, change: Small) -> str:
    means = change.mean(axis=(0, 1))
    lane = int(np.argmax(means))
    others = [one for one in range(3) if one != lane]
    if float(means[others].max()) > KEPT_LUMA:
        return ""
    had = float(before[..., lane].std()) >= SHAPES_LUMA
    return LANES[lane] if had and float(now[..., lane].std()) <= FLAT_CELLS else ""


def _losses(before: Small) -> Iterator[tuple[str, Small]]:
    """Yield what a scene's cells become by each loss but that of a lane."""
    luma = before @ TO_LUMA.astype(np.float32)
    blue_difference, red_difference = np.moveaxis(
        before @ TO_DIFFERENCES.T.astype(np.float32), 2, 0
    )
    none = np.zeros_like(luma)
    yield GREY, _bgr(luma, none, none)
    yield DIFFERENCES[0], _bgr(luma, none, red_difference)
    yield DIFFERENCES[1], _bgr(luma, blue_difference, none)
    for name, (one, other) in zip(PAIRS, PAIRED, strict=True):
        for lane, like in ((one, other), (other, one)):
            made = before.copy()
            made[..., lane] = before[..., like]
            yield name, made
    yield (
        AS_RGB,
        np.stack(
            [
                128 + blue_difference * (224 / 255),
                16 + luma * (219 / 255),
                128 + red_difference * (224 / 255),
            ],
            axis=2,
        ),
    )
    blue, green, red = np.moveaxis(before, 2, 0)
    luma = (green - 16) * (255 / 219)
    yield AS_YCBCR, _bgr(luma, (blue - 128) * (255 / 224), (red - 128) * (255 / 224))


def _bgr(luma: Small, blue_difference: Small, red_difference: Small) -> Small:
    """Return B, G, R of Y, Cb, Cr in full range (ITU-T T.871, section 7)."""
    green = luma - 0.344136 * blue_difference - 0.714136 * red_difference
    lanes = [luma + 1.772 * blue_difference, green, luma + 1.402 * red_difference]
    return np.asarray(np.clip(np.stack(lanes, axis=2), 0, 255), np.float32)
