"""What a recording of pictures shows, for tests that ask for its states alone."""

from collections.abc import Iterable, Sequence

from soak.measure.video.lookthrough import Shown, look_over
from soak.measure.video.watcher import WatcherSettings
from soak.roles import Picture


def look_through(
    pictures: Iterable[Picture], settings: WatcherSettings, period_s: float | None = None
) -> Sequence[Shown]:
    """Return the states of a recording in order of time."""
    return look_over(pictures, settings, period_s).spans
