"""Which faults anybody could tell at all: rules made before any detector was asked.

They look at the content and the fault only, at the pictures before the capture's noise, and at how
strong that noise is. A loss that is called in an undecidable case counts as false.

1. *Black* is undecidable where the content itself is as good as black then (fewer than 1 pixel in
   5000 brighter than the lightest black that is put in, 20 levels, and four sigma of the noise):
   both show the same. Also where the content was told to be black as long by itself: a fade's own
   black cannot be told from a short loss.
2. *No signal* is undecidable where the content looks like the card's own picture (mean difference
   below 10 levels): both show the same. Never so for snow.
3. *Size* and *stall* are always decidable: a header and a clock say so.
4. *Freeze* is undecidable (a) where it is no longer than the content was told to stand by itself,
   with 0.3 s to spare; (b) where nothing that moves would have been seen: fewer than 1 pixel in
   5000 changes by 8 levels and four sigma of the noise in all that time; (c) kept pictures in turn
   over content that is itself a few pictures in turn (a cursor, a spinner, a pulse).
5. *Tint* is undecidable (a) where fewer than 2 % of the pixels change by 24 levels: a blue that was
   not there is not missed; (b) on content of one hue: a page may be shown in another colour;
   (c) on content without any hue, unless it comes by a step or after a loss, when shapes stay and
   grey turns coloured: grey paper without blue is yellow paper; (d) there from the first picture,
   where the result is a picture that somebody may have meant: chroma gone (a black-and-white film)
   and lanes taken for others of a wrong colour space (every lane still has its shapes).
   From the first picture it needs two hues to change, which is what (b) asks for.
6. *Torn* is undecidable where the torn rows have no shapes: fewer than 1.5 % of their pixels, or
   fewer than 1 row in 100 of the picture (8 at least), change by 24 levels and four sigma.
7. *Sparkle* is undecidable on content that is made of single pixels that come and go (stars), and
   where fewer than 1 pixel in 20 000 differs by 60 levels and four sigma (white on white).

What is *asked* of a picture check is told apart from what is decidable: torn from 7 pixels and 6
pictures, freeze from 1 s, sparkle from 0.3 s, all else. A smaller fault that is called is right.
"""

from collections.abc import Callable, Sequence

import cv2
import numpy as np

from judging.content import Image, Told
from judging.faults import PLACES, Fault

AsShown = Callable[[int], Image]
"""The picture of that number, before noise."""
_FEW = 1 / 5000
_BRIGHT = 20
_LIKE_CARD = 10.0
_SPARE_S = 0.3
_HUE_SHARE = 0.01
_HUE_CHROMA = 40
_GREY_SHARE = 0.005
_MEANT = ("chroma gone", "RGB taken for YCbCr", "YCbCr taken for RGB")


def why_not(
    fault: Fault, clean: AsShown, faulty: AsShown, told: Told, noise_sigma: float, length_s: float
) -> str:
    """Return why nobody could tell a fault; empty where it can be told."""
    numbers = sorted({fault.first, (fault.first + fault.last) // 2, fault.last})
    pairs = [(clean(number), faulty(number)) for number in numbers]
    if fault.kind == "black":
        return _black([one for one, _ in pairs], told, _BRIGHT + 4 * noise_sigma, length_s)
    if fault.kind == "nosignal":
        return _no_signal(fault, pairs)
    if fault.kind == "freeze":
        return _freeze(fault, clean, faulty, told, 8 + 4 * noise_sigma, length_s)
    if fault.kind == "tint":
        return _tint(fault, pairs)
    if fault.kind == "torn":
        return _torn(pairs, 24 + 4 * noise_sigma)
    if fault.kind == "sparkle":
        if told.dots:
            return "content of single pixels"
        seen = np.median([changed_share(one, other, 60 + 4 * noise_sigma) for one, other in pairs])
        return "" if seen >= 1 / 20_000 else "sparks hardly differ"
    return ""


def is_asked(fault: Fault, length_s: float) -> bool:
    """Tell whether a fault is as large as what is asked of the picture check."""
    if fault.kind == "torn":
        far = fault.form == "line sync" or abs(int(fault.given["pixels"])) >= 7
        return far and fault.last - fault.first + 1 >= 6
    if fault.kind == "freeze":
        return length_s >= 1.0
    return fault.kind != "sparkle" or length_s >= 0.3


def changed(one: Image, other: Image, levels: float) -> np.ndarray:
    """Return which pixels differ by more than so many levels in a lane (rows x columns)."""
    return np.asarray(cv2.absdiff(one, other)).max(axis=2) > levels


def changed_share(one: Image, other: Image, levels: float) -> float:
    """Return the share of pixels, 0 to 1, that differ by more than so many levels in a lane."""
    return float(changed(one, other, levels).mean())


def hues(image: Image) -> int:
    """Count hues in twelfths of a circle that 1 % of the pixels have, chroma 40 levels at least.

    Neighbours count as one hue, and so do the first and the last twelfth.
    """
    small = cv2.resize(image, (320, 240), interpolation=cv2.INTER_NEAREST)
    chroma = small.max(axis=2).astype(int) - small.min(axis=2)
    hue = cv2.cvtColor(small, cv2.COLOR_BGR2HSV)[:, :, 0][chroma >= _HUE_CHROMA]
    counts = np.bincount(hue // 15, minlength=12)[:12]
    there = counts >= _HUE_SHARE * chroma.size
    begins = int(np.sum(there & ~np.roll(there, 1)))
    return 1 if there.all() else begins if begins or not there.any() else 1


def is_grey(image: Image) -> bool:
    """Tell whether fewer than 1 pixel in 200 has a colour."""
    spread = image.max(axis=2).astype(int) - image.min(axis=2)
    return float((spread >= _HUE_CHROMA).mean()) < _GREY_SHARE


def _black(shown: Sequence[Image], told: Told, level: float, length_s: float) -> str:
    if length_s <= told.longest_black_s:
        return "content may be black as long"
    if all(float((image.max(axis=2) > level).mean()) < _FEW for image in shown):
        return "content is black then"
    return ""


def _no_signal(fault: Fault, pairs: Sequence[tuple[Image, Image]]) -> str:
    if fault.form == "snow":
        return ""
    apart = min(float(cv2.absdiff(one, other).mean()) for one, other in pairs)
    return "content looks like the card's picture" if apart < _LIKE_CARD else ""


def _freeze(
    fault: Fault, clean: AsShown, faulty: AsShown, told: Told, levels: float, length_s: float
) -> str:
    if length_s <= told.longest_still_s + _SPARE_S:
        return "content may stand as long"
    if "in turn" in fault.form and told.cyclic:
        return "content is a few pictures in turn"
    kept = faulty(fault.first)
    numbers = np.unique(np.linspace(fault.first, fault.last, 12).astype(int))
    moved = max(changed_share(clean(int(number)), kept, levels) for number in numbers)
    return "nothing would have been seen to move" if moved < _FEW else ""


def _tint(fault: Fault, pairs: Sequence[tuple[Image, Image]]) -> str:
    if np.median([changed_share(one, other, 24) for one, other in pairs]) < 0.02:
        return "hardly a pixel changes"
    from_first = fault.place in PLACES[:2]
    if from_first and fault.form in _MEANT:
        return "may be meant"
    if all(is_grey(one) for one, _ in pairs):
        return "grey content" if from_first else ""
    if np.median([hues(one) for one, _ in pairs]) < 2:
        return "content of one hue"
    return ""


def _torn(pairs: Sequence[tuple[Image, Image]], levels: float) -> str:
    seen = []
    for one, other in pairs:
        differ = changed(one, other, levels)
        moved = np.asarray(cv2.absdiff(one, other)).max(axis=(1, 2)) > 0
        rows = differ.sum(axis=1) >= 4
        share = float(differ[moved].mean()) if moved.any() else 0.0
        seen.append(share >= 0.015 and int(rows.sum()) >= max(8, one.shape[0] // 100))
    return "" if sum(seen) * 2 > len(seen) else "rows without shapes"
