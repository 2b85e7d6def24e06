"""What one picture says of its colours by itself: which are lacking, which are there.

A lane that is lost has one value all over while the other two show shapes that are no multiples of
one another. Content of one hue cannot be told from it by one picture: amber on black has no blue.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soak.measure.video.colour import Colour

LANES = ("blue", "green", "red")
DIFFERENCES = ("Cb", "Cr")
PAIRS = ("blue = green", "blue = red", "green = red")
PROPERTIES = (*LANES, *DIFFERENCES, *PAIRS)
"""What a picture may lack: a lane that varies, a colour difference, two lanes that differ."""
GREY = "no colour"
AS_RGB = "YCbCr shown as RGB"
AS_YCBCR = "RGB shown as YCbCr"

PLAIN_LUMA = 6.0
"""A picture whose liveliest lane varies by less over its cells says nothing of colours, levels
(standard deviation). Our own choice: JPEG and noise leave up to 1.3 there."""
FLAT_LUMA, FLAT_SHARE = 2.0, 0.2
"""A lane is flat up to this standard deviation over the small picture, levels, or up to this share
of the liveliest other lane's: a JPEG's chroma of half size leaves edges of the others in it. Our
own choice, from lost lanes in drawn and real contents at JPEG quality 50 to 82: up to
0.17 where YUYV has chroma of half width."""
FLAT_CELLS = 2.0
"""And up to this one over the cells, where those edges average out, levels. Our own choice, from
the same: up to 1.3; a level meter without any blue of its own begins at 2.4."""
ALIVE_LUMA, ALIVE_SHARE = 4.0, 0.1
"""From this standard deviation over the cells a lane is surely there, levels, and from this share
of the liveliest. Our own choice, twice what is flat."""
OWN_SHAPES = 2.0
"""The two other lanes differ by more than a multiple of one another: what regression leaves of
either, levels over the cells. Our own choice: content of one hue leaves up to 0.9, a lost lane in
a film that is nearly grey 2.4."""
NO_DIFFERENCE, NO_DIFFERENCE_MEAN = 0.5, 1.0
"""A lost colour difference keeps this standard deviation over the cells, and this mean, levels. Our
own choice, from lost ones under noise of 2 and JPEG quality 60: up to 0.25 and 0.1."""
DIFFERENCE_ALIVE, DIFFERENCE_ALIVE_MEAN = 1.5, 3.0
"""From one of these a colour difference is surely there, levels. Our own choice, three times those
of a lost one."""
OTHER_DIFFERENCE, OF_OTHER, BOTH_SIGNS = 2.0, 0.15, 1.5
"""The other colour difference varies by so much, levels; the lost one by no more than this share of
it; and the other reaches so far to both sides of grey in a cell in a hundred: one hue of its own
may lie on its axis. Our own choice: a film that is nearly grey has 2.4 each."""
ALIKE_LUMA, APART_LUMA = 1.5, 4.0
"""Two lanes are the same up to the first mean difference of their cells, and surely not from the
second, levels. Our own choice."""
EXISTING, LOWEST, HIGHEST = 0.985, -24.0, 279.0
"""YCbCr shown as RGB, read back as YCbCr, holds this share of colours that exist: each lane between
the two levels, which leaves a tenth of the range to the encoder. Own choice: grey haze has 0.981,
black and white do not exist there at all."""
NOT_EXISTING = 0.9
"""With a share below this it is surely no YCbCr. Our own choice."""
FARTHEST_LOW, FARTHEST_HIGH = 48.0, 208.0
"""Means of colour differences lie between these levels, 80 from their middle. Our own choice: a
page of one saturated colour has 75."""
REACHES_LOW, REACHES_HIGH, REACH = 60.0, 200.0, 70.0
"""There green, which is luma, reaches below the first or above the second level, and spans the
third: grey in the middle of the range exists in both readings. Our own choice."""
GREEN_SHARE, MAGENTA_SHARE, DARK_SHARE, BRIGHT_SHARE, NEUTRAL_SHARE = 0.15, 0.002, 0.01, 0.03, 0.06
"""RGB shown as YCbCr turns dark to green and bright to magenta: so many of the pixels at least are
one and the other, and so few are dark, bright green, and neutral. Our own choice."""
TIMES_SURE = 3.0
"""With so many times the dark or neutral share it is surely none. Our own choice."""
_GREEN_LEVEL, _NONE_LEVEL, _MAGENTA_LUMA, _DARK_LEVEL, _BRIGHT_LEVEL, _NEUTRAL_LUMA = (
    *(60, 12, 15),
    *(40, 225, 8),
)
"""Green is above the first level with the others below the second; magenta is so much above green;
dark and bright are levels of green; neutral lanes differ by so much. Our own choice."""

Points = NDArray[np.int16]
Properties = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Signs:
    """What a picture says for a fault, and against: names of `PROPERTIES` or of colour spaces."""

    lost: frozenset[str]
    there: frozenset[str]


def is_flat(colour: Colour, lane: int) -> bool:
    """Tell whether a lane has one value all over the picture."""
    spread = float(colour.spread[lane])
    others = float(max(colour.spread[other] for other in range(3) if other != lane))
    if spread > max(FLAT_LUMA, FLAT_SHARE * others):
        return False
    return float(colour.cell_spread[lane]) <= FLAT_CELLS


def lacking(colour: Colour) -> Properties | None:
    """Return which `PROPERTIES` a picture lacks; None where it is plain and says nothing."""
    if float(colour.cell_spread.max()) < PLAIN_LUMA:
        return None
    lanes = [is_flat(colour, lane) for lane in range(3)]
    return np.array([*lanes, *lacking_colours(colour)])


def lacking_colours(colour: Colour) -> Properties:
    """Return which colour differences and pairs of lanes are lacking, in order of `PROPERTIES`."""
    gone = colour.difference_spread <= NO_DIFFERENCE
    gone &= colour.difference_mean <= NO_DIFFERENCE_MEAN
    return np.concatenate([gone, colour.apart <= ALIKE_LUMA])


def present(colour: Colour) -> Properties:
    """Return which `PROPERTIES` a picture surely has."""
    least = max(ALIVE_LUMA, ALIVE_SHARE * float(colour.cell_spread.max()))
    return np.array([*(colour.cell_spread > least), *present_colours(colour)])


def present_colours(colour: Colour) -> Properties:
    """Return which colour differences and pairs of lanes are surely there."""
    there = colour.difference_spread > DIFFERENCE_ALIVE
    there |= colour.difference_mean > DIFFERENCE_ALIVE_MEAN
    return np.concatenate([there, colour.apart > APART_LUMA])


def signs_of(colour: Colour) -> Signs:
    """Return what a picture says by itself."""
    there = {name for name, has in zip(PROPERTIES, present(colour), strict=True) if has}
    lacks = lacking(colour)
    if lacks is None:
        return Signs(frozenset(), frozenset(there))
    lost = {LANES[lane] for lane in range(3) if lacks[lane] and _others_differ(colour, lane)}
    lost |= {
        DIFFERENCES[place] for place in range(2) if lacks[3 + place] and _other_lives(colour, place)
    }
    for name, speaks in ((AS_RGB, _reads_as_ycbcr), (AS_YCBCR, _is_green_and_magenta)):
        says = speaks(*colour.points)
        if says is not None:
            (lost if says else there).add(name)
    return Signs(frozenset(lost), frozenset(there))


def residual(covariance: NDArray[np.float64], one: int, other: int) -> float:
    """Return what regression on the other leaves of either, the lesser, as standard deviation."""
    both = covariance[one, other] ** 2
    left = (
        covariance[a, a] - both / max(float(covariance[b, b]), 1e-9)
        for a, b in ((one, other), (other, one))
    )
    return float(np.sqrt(max(0.0, min(left))))


def _others_differ(colour: Colour, lane: int) -> bool:
    one, other = (at for at in range(3) if at != lane)
    if min(float(colour.cell_spread[at]) for at in (one, other)) < PLAIN_LUMA:
        return False
    return residual(colour.covariance, one, other) >= OWN_SHAPES


def _other_lives(colour: Colour, which: int) -> bool:
    """Tell whether the other colour difference varies, to both sides of grey."""
    spread = colour.difference_spread
    if spread[1 - which] < max(OTHER_DIFFERENCE, float(spread[which]) / OF_OTHER):
        return False
    low, high = np.percentile(colour.differences[..., 1 - which], (1, 99))
    return bool(low <= -BOTH_SIGNS and high >= BOTH_SIGNS)


def _reads_as_ycbcr(blue: Points, green: Points, red: Points) -> bool | None:
    """Tell whether pixels are YCbCr shown as RGB; None where that is open."""
    # A mean far from the middle cannot be that of a colour difference.
    if not all(FARTHEST_LOW <= float(lane.mean()) <= FARTHEST_HIGH for lane in (blue, red)):
        return False
    luma = np.float32(1.164) * (green - 16)
    lanes = (
        luma + 2.017 * (blue - 128),
        luma - 0.392 * (blue - 128) - 0.813 * (red - 128),
        luma + 1.596 * (red - 128),
    )
    exist = np.all([(lane > LOWEST) & (lane < HIGHEST) for lane in lanes], axis=0)
    if float(exist.mean()) < EXISTING:
        return False if float(exist.mean()) < NOT_EXISTING else None
    low, high = np.percentile(green, (1, 99))
    return True if high - low > REACH and (low < REACHES_LOW or high > REACHES_HIGH) else None


def _is_green_and_magenta(blue: Points, green: Points, red: Points) -> bool | None:
    """Tell whether pixels are RGB shown as YCbCr; None where that is open."""
    dark = _share(green < _DARK_LEVEL)
    if dark > TIMES_SURE * DARK_SHARE:
        return False
    most = np.maximum(red, blue)
    bare = _share((most < _NONE_LEVEL) & (green > _GREEN_LEVEL))
    least = np.minimum(red, blue)
    neutral = _share(np.maximum(most, green) - np.minimum(least, green) < _NEUTRAL_LUMA)
    if neutral > TIMES_SURE * NEUTRAL_SHARE:
        return False
    if bare <= GREEN_SHARE or dark >= DARK_SHARE or neutral >= NEUTRAL_SHARE:
        return None
    magenta = _share(least - green > _MAGENTA_LUMA)
    return (
        True if magenta >= MAGENTA_SHARE and _share(green > _BRIGHT_LEVEL) < BRIGHT_SHARE else None
    )


def _share(which: NDArray[np.bool_]) -> float:
    return float(np.count_nonzero(which)) / max(which.size, 1)
