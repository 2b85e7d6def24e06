"""Torn pictures: rows that are shifted sideways against the rows above them."""

from typing import Any

import cv2
import numpy as np

from soak.measure.video.fine.view import Profile, View

STEP_RATIO, STEP_LUMA = 2.2, 2.0
"""A tear makes the step from one row to the next so much larger than it was. Own choice."""
FITS = 0.35
"""Shifted back, the rows fit this much better (squared difference). Own choice."""
LEAST_SHIFT = 3
"""Slanted edges of the content shift by less from row to row, pixels. Our own choice."""
_MOST_CANDIDATES = 6
"""So many rows that stand out most are looked at for a tear. Our own choice."""


def _beside(profile: Profile, reach: int) -> Profile:
    """Return the largest value within `reach` of each place."""
    return np.asarray(
        cv2.dilate(profile.reshape(-1, 1), np.ones((2 * reach + 1, 1), np.uint8)), np.float32
    ).ravel()


def candidates(now: Profile, before: Profile) -> list[int]:
    """Return rows after which the step is new and large, the largest first."""
    if now.shape != before.shape:
        return []
    usual = np.maximum(_beside(before, 2), 0.6 * np.float32(np.median(before)))
    excess = now - (STEP_RATIO * usual + STEP_LUMA)
    # One tear after a scene cut is hidden in nothing: compare with the rows around it, too.
    around = cv2.medianBlur(now.reshape(-1, 1), 5).ravel()
    excess = np.minimum(excess, now - 1.5 * np.minimum(around, now / 1.6))
    order = np.argsort(excess)[::-1][: 3 * _MOST_CANDIDATES]
    found: list[int] = []
    for row in order:
        if excess[row] <= 0 or len(found) >= _MOST_CANDIDATES:
            break
        found.append(int(row))
    return found


def prominent(now: Profile) -> list[int]:
    """Return rows after which the step is larger than those around it, the largest first."""
    around = cv2.medianBlur(now.reshape(-1, 1), 5).ravel()
    excess = now - (1.8 * around + STEP_LUMA)
    order = np.argsort(excess)[::-1][:_MOST_CANDIDATES]
    return [int(row) for row in order if excess[row] > 0]


def shift_after(view: View, row: int) -> int:
    """Return by how many pixels the rows after `row` are shifted against it; 0 if they are not."""
    luma = view.luma
    width = luma.shape[1]
    reach = min(256, width // 4)
    above = luma[row : row + 1].astype(np.float32)
    below = luma[row + 1 : row + 2].astype(np.float32)
    middle = above[:, reach : width - reach]
    if float(np.std(middle)) < 4.0:
        return 0
    cost: Any = cv2.matchTemplate(below, middle, cv2.TM_SQDIFF).ravel()
    at = int(np.argmin(cost))
    shift = at - reach
    fits = float(cost[at]) <= FITS * float(cost[reach])
    return int(shift) if fits and abs(shift) >= LEAST_SHIFT else 0


def tears(now: View, before: View) -> list[tuple[int, int]]:
    """Return (row, shift in pixels) of each new tear."""
    found = ((row, shift_after(now, row)) for row in candidates(now.row_steps, before.row_steps))
    return [(row, shift) for row, shift in found if shift]


def still_torn(now: View, marks: list[tuple[int, int]]) -> bool:
    """Tell whether a tear found before is still at its row."""
    rows = len(now.row_steps)
    return any(row < rows and shift_after(now, row) != 0 for row, _ in marks)
