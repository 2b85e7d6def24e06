"""False alarms on clean video: every content in several variants, looped, hours of it."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

import cv2
import numpy as np
from picture_accuracy import say
from picture_contents import Content, dimmed, noisy

from soak.measure.video.lookthrough import look_over
from soak.measure.video.watcher import WatcherSettings
from soak.roles import Picture

SECONDS = 10
DROPOUTS = ("black", "no signal", "frozen", "stalled", "other size")


@dataclass(frozen=True)
class Variant:
    """One way to show a content: gain, lift, noise in levels, JPEG quality, rate and size."""

    gain: float
    lift: float
    sigma: float
    quality: int
    rate_hz: float
    size: tuple[int, int]

    def of(self, content: Content) -> Iterator[np.ndarray]:
        """Yield the frames of a content so shown; at 30 a second every second one."""
        changed = dimmed(content, self.gain, self.lift) if self.gain != 1.0 else content
        changed = noisy(changed, self.sigma, 31) if self.sigma else changed
        return islice(changed(self.size), 0, None, round(60 / self.rate_hz))


VARIANTS = (
    Variant(1.0, 0, 0.0, 85, 60.0, (640, 360)),
    Variant(0.8, 10, 2.0, 70, 60.0, (640, 360)),
    Variant(0.35, 14, 1.0, 92, 60000 / 1001, (640, 360)),
    Variant(1.15, 0, 4.0, 85, 30.0, (640, 360)),
    Variant(0.6, 5, 3.0, 60, 60.0, (640, 360)),
    Variant(0.5, 40, 0.0, 50, 30000 / 1001, (640, 360)),
    Variant(1.0, 0, 1.0, 80, 60.0, (640, 360)),
    Variant(0.25, 20, 2.0, 85, 60.0, (640, 360)),
)
"""The first four and the rest are two halves: the rest with other values."""


def clean(hours: float, fine_every: int, contents: dict[str, Content]) -> None:
    """Look through `hours` of clean video of these contents; print every alarm."""
    each_s = hours * 3600 / (len(contents) * len(VARIANTS))
    alarms: Counter[str] = Counter()
    looked_s = 0.0
    for variant in VARIANTS:
        for name, content in contents.items():
            pictures = _played(variant, content, each_s)
            settings = WatcherSettings(moving=True, fine_every=fine_every)
            look = look_over(pictures, settings, 1 / variant.rate_hz)
            looked_s += look.pictures / variant.rate_hz
            for span in (*look.spans, *look.faults):
                if span.kind != "picture":
                    alarms[span.kind] += 1
                    when = f"from {span.from_s:.2f} s for {span.seconds:.2f} s"
                    say(f"  {name}, {variant}: {span.kind} {when}")
        say(f"{variant}: {looked_s / 3600:.2f} h so far, alarms {dict(alarms)}")
    dropouts = sum(alarms[kind] for kind in DROPOUTS)
    say(f"{len(contents)} contents in {len(VARIANTS)} variants, pieces of {SECONDS} s looped")
    say(f"{looked_s / 3600:.2f} h, promised to move; alarms {dict(alarms)}")
    say(f"false dropouts in 8 h: {dropouts / looked_s * 8 * 3600:.2f}")


def _played(variant: Variant, content: Content, seconds: float) -> Iterator[Picture]:
    """Play a piece of a content again and again, each time from elsewhere, as cuts do."""
    quality = [cv2.IMWRITE_JPEG_QUALITY, variant.quality]
    kept, means = [], []
    for frame in islice(variant.of(content), round(SECONDS * variant.rate_hz)):
        kept.append(memoryview(cv2.imencode(".jpg", frame, quality)[1].tobytes()))
        means.append(float(frame.mean()) - variant.lift)
    # A hard cut into the black of a fade is a dropout for all that can be seen.
    early = means[: len(kept) // 2]
    starts = [at for at, mean in enumerate(early) if mean >= np.median(early) / 2]
    rng, at, left = np.random.default_rng(len(kept)), 0, 0
    for number in range(round(seconds * variant.rate_hz)):
        if not left:
            at, left = int(rng.choice(starts)), len(kept) // 2
        yield Picture(number / variant.rate_hz, number, "mjpeg", variant.size, kept[at])
        at, left = at + 1, left - 1
