"""What the watcher is told beforehand, from fixture and model sheet."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from soak.errors import FixtureError
from soak.frozen.fixture import Fixture
from soak.frozen.sheet import ModelSheet
from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.outside import read_bytes
from soak.run.script import Script
from soak.sim.pictures import NO_SIGNAL_FILE, protected_file
from soak.words import msg

ACCOUNT_EVERY_S = 60.0
"""What was learned of the stream goes on record so often, s."""
UNCHANGED_EVERY_S = 60.0
"""How long a picture stands unchanged goes on record so often, s. Own choice."""
FINE_EVERY = 8
"""One picture in so many is seen fully: at 60 a second that costs 4 % of a core. Own choice."""


def make_watcher(fixture: Fixture, sheet: ModelSheet, session: int = 1) -> PictureWatcher | None:
    """Return the watcher for a fixture's capture, or None where none is wired.

    Raises
    ------
    FixtureError
        If a taught picture cannot be read.
    """
    if fixture.capture is None:
        return None
    taught = _taught(fixture, "taught", fixture.capture.taught)
    protected = _taught(fixture, "protected", fixture.capture.protected)
    if fixture.simulated:
        taught.append(NO_SIGNAL_FILE.read_bytes())
        protected.append(protected_file())
    plain = WatcherSettings()
    size = getattr(fixture.capture, "size", None)
    return PictureWatcher(
        WatcherSettings(
            moving=sheet.picture_when_on == "moving",
            size=None if size is None else (size[0], size[1]),
            taught=tuple(taught),
            protected=tuple(protected),
            menu=tuple(_taught(fixture, "menu", fixture.capture.menu)),
            # A logo may stand as long as a whole start takes.
            still_at_start_s=max(sheet.start_s, plain.still_at_start_s),
            # A simulated capture gives one small picture in many, at its own pace.
            frozen_after_s=max(
                sheet.longest_still_s or plain.frozen_after_s,
                1.0 if fixture.simulated else 0.0,
            ),
            longest_black_s=sheet.longest_black_s or 0.0,
            account_every_s=0.0 if fixture.simulated else ACCOUNT_EVERY_S,
            fine_every=0 if fixture.simulated else FINE_EVERY,
            names="capture" if session == 1 else f"capture-session-{session}",
        )
    )


def as_asked(watcher: PictureWatcher | None, script: Script) -> PictureWatcher | None:
    """Let the watcher say what the script's checks have described, and nothing else."""
    asks = any("picture" in stretch.checks for stretch in script.stretches)
    if watcher is None or watcher.settings.moving or not asks:
        return watcher
    return PictureWatcher(replace(watcher.settings, unchanged_every_s=UNCHANGED_EVERY_S))


def _taught(fixture: Fixture, key: str, names: Sequence[str]) -> list[bytes]:
    return [_read(fixture, f"capture.{key}[{at}]", name) for at, name in enumerate(names, 1)]


def _read(fixture: Fixture, key: str, name: str) -> bytes:
    file = Path(fixture.file).parent / name
    try:
        return read_bytes(file)
    except OSError as fault:
        what = msg(
            "{file}: cannot be read: {why}; teach the card's picture again",
            file=str(file),
            why=str(fault.strerror),
        )
        raise FixtureError(fixture.file, key, what) from None
