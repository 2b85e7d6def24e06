"""What cannot be told of a picture, with what the model sheet promises of it."""

from soak.frozen.fixture import Fixture
from soak.frozen.sheet import ModelSheet
from soak.measure.video.watcher_settings import WatcherSettings
from soak.words import Amount, Message, Number, msg

TINT = "capture.tint"
"""What colours that are lost are counted by."""


def rests_told(sheet: ModelSheet) -> list[Message]:
    """Return what a freeze and a black may hide in, by the longest rests of what the unit shows."""
    plain = WatcherSettings()
    still_s = sheet.longest_still_s
    black_s = sheet.longest_black_s
    lines = []
    if sheet.picture_when_on != "moving":
        lines.append(msg("a picture that freezes: the model sheet does not promise that it moves"))
    elif still_s:
        lines.append(
            msg(
                "a freeze shorter than {longest}: what a good unit shows stands as long",
                longest=Amount(still_s, "s"),
            )
        )
    else:
        lines.append(
            msg(
                "whether a still is a title card: moving is promised without longest_still_s, so "
                "any that stands for {time} s is a loss (see soak teach --as rests)",
                time=Number(plain.frozen_after_s, "g"),
            )
        )
    if black_s:
        lines.append(
            msg(
                "a loss to black shorter than {longest}: what a good unit shows is as long",
                longest=Amount(black_s, "s"),
            )
        )
    elif sheet.picture_when_on != "may blank":
        lines.append(
            msg(
                "a loss within the black after a fade, for {time} s; a sudden black is always a "
                "loss, as the model sheet says no longest_black_s",
                time=Number(plain.fade_black_s, "g"),
            )
        )
    return lines


def colours_told(fixture: Fixture) -> list[Message]:
    """Return which lost colours cannot be told from content, and how they could be."""
    capture = fixture.capture
    if capture is None or capture.menu:
        return []
    return [
        msg(
            "a colour that is lost before the first good picture, where what is shown has one hue "
            "or none: teach the unit's own menu (soak teach FIXTURE --as menu)"
        )
    ]
