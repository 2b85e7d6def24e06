"""Contents that look odd and are normal."""

import cv2
import numpy as np
from faulty_clips import as_packets

from soak.measure.looker import LookerSettings
from soak.measure.lookthrough import look_over


def dim_scrolling_text(number):
    """Return text of little contrast that runs sideways under a camera's noise."""
    rng = np.random.default_rng(9)
    page = np.full((270, 960, 3), 30, np.uint8)
    for line in range(0, 270, 19):
        words = " ".join("".join(chr(one) for one in rng.integers(97, 123, 6)) for _ in range(20))
        cv2.putText(page, words, (10, line), 0, 0.45, (88, 86, 84), 2)
    for at in range(number):
        shown = np.roll(page, -5 * at, axis=1)[:, :480]
        noise = rng.normal(0, 1.0, shown.shape).astype(np.int16)
        yield cv2.add(np.ascontiguousarray(shown), noise, dtype=cv2.CV_8U)


def test_dim_scrolling_text_is_no_freeze():
    """It is spread evenly and averages out as noise does, but lies in lines."""
    pictures = as_packets(dim_scrolling_text(400), 1 / 60)
    look = look_over(pictures, LookerSettings(moving=True))
    assert [span.kind for span in look.spans] == ["picture"]
