"""A clip of the set: its setting, its content, its faults with their marks, and its packets."""

import functools
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import cv2
import numpy as np

from judging.coding import Form, coded, form_of
from judging.colours import tinted
from judging.content import Image
from judging.damage import Card, blackened, sparkling, torn
from judging.decidable import is_asked, why_not
from judging.design import USES, Setting, recoded, setting_of
from judging.families import CLEAN, FAULTY, NAMES, content_of
from judging.faults import Fault, Timeline, judged, planned
from judging.noise import STRONG_SIGMA, WEAK_SIGMA, Noise
from soak.roles import Picture

CLEAN_S = 20.0
_JITTER_S = 0.0005
_SIGMAS = {"none": 0.0, "weak": WEAK_SIGMA, "strong": STRONG_SIGMA}


@dataclass(slots=True)
class _Way:
    """One coding with its noise, and what it made last."""

    coding: str
    noise: Noise | None
    image: Image | None = None
    packet: bytes = b""

    @property
    def form(self) -> Form:
        """The form of its packets."""
        return form_of(self.coding)


class Clip:
    """One clip, made again the same by its seed.

    Parameters
    ----------
    seed : int
        Its number, from 0.
    setting : Setting
        How it is made.
    timeline : Timeline
        Its pictures and the faults in them, not yet marked.
    salt : int
        FAULTY or CLEAN.
    """

    def __init__(self, seed: int, setting: Setting, timeline: Timeline, salt: int) -> None:
        self.seed = seed
        self.setting = setting
        self.slots = timeline.slots
        self._salt = salt
        self.content = content_of(setting, seed, salt)
        self.told = self.content.told
        self.card = Card(setting.size, np.random.default_rng([salt, seed, 8]))
        self._noise = Noise.of_capture(
            setting.size, np.random.default_rng([salt, seed, 9]), setting.noise
        )
        self.faults = timeline.faults
        self.faults = tuple(self._marked(fault) for fault in timeline.faults)

    @property
    def seconds(self) -> float:
        """How long it is, s."""
        return (self.slots[-1] + 1) / self.setting.rate_hz

    @property
    def taught(self) -> tuple[bytes, ...]:
        """What the card was taught, as JPEG files."""
        return self.card.taught({one.form for one in self.faults if one.kind == "nosignal"})

    def without(self, fault: Fault, number: int) -> Image:
        """Return a picture as it would be shown without this fault, before noise."""
        return self._shown(number, tuple(one for one in self.faults if one != fault))

    def shown(self, number: int) -> Image:
        """Return a picture as it is shown, before noise."""
        return self._shown(number, self.faults)

    def pictures(self) -> Iterator[Picture]:
        """Yield what the card delivers."""
        for (picture,) in self.in_ways([self.setting]):
            yield picture

    def in_ways(self, settings: Sequence[Setting]) -> Iterator[Sequence[Picture]]:
        """Yield what the card delivers, each picture in several codings and noises at once."""
        ways = [self._way(setting) for setting in settings]
        late = np.random.default_rng([self._salt, self.seed, 11]).normal(
            0, _JITTER_S, len(self.slots)
        )
        before_s = -1.0
        for number, slot in enumerate(self.slots):
            image = self.shown(number)
            t_s = max(before_s + 1e-6, slot / self.setting.rate_hz + float(late[number]) + 0.01)
            before_s = t_s
            size = (image.shape[1], image.shape[0])
            again = self._same_packet(number)
            yield [
                Picture(
                    t_s, number, way.form, size, memoryview(self._packet(way, image, number, again))
                )
                for way in ways
            ]

    def label(self) -> dict[str, Any]:
        """Return all that is known of it, for a line of JSON."""
        return {
            "seed": self.seed,
            "setting": asdict(self.setting),
            "told": asdict(self.told),
            "pictures": len(self.slots),
            "seconds": round(self.seconds, 3),
            "faults": [asdict(fault) for fault in self.faults],
        }

    def _way(self, setting: Setting) -> "_Way":
        noise = self._noise
        if setting.noise != self.setting.noise:
            rng = np.random.default_rng([self._salt, self.seed, 10])
            noise = Noise.of_capture(setting.size, rng, setting.noise)
        return _Way(setting.coding, noise)

    def _packet(self, way: "_Way", image: Image, number: int, again: bool) -> bytes:
        """Return the bytes of a picture; the last ones where the very same picture stands."""
        if not again and (image is not way.image or way.noise is not None):
            way.packet = coded(self._with_noise(image, number, way.noise), way.coding)
            way.image = image
        return way.packet

    def _same_packet(self, number: int) -> bool:
        return any(one.form == "same packet" and one.holds(number) for one in self.faults)

    def _with_noise(self, image: Image, number: int, noise: Noise | None) -> Image:
        """Lay the capture's noise over it; what the card makes itself and other sizes have none."""
        own = any(one.kind == "nosignal" and one.holds(number) for one in self.faults)
        other = (image.shape[1], image.shape[0]) != self.setting.size
        return image if noise is None or own or other else noise.over(image, number)

    def _base(self, number: int, faults: tuple[Fault, ...]) -> Image:
        image = self.content.picture(self.slots[number] / self.setting.rate_hz)
        for fault in faults:
            if fault.kind == "tint" and fault.holds(number):
                image = tinted(image, fault.form, int(fault.given["level"]))
        return image

    def _shown(self, number: int, faults: tuple[Fault, ...]) -> Image:
        held = [one for one in faults if one.holds(number)]
        frozen = next((one for one in held if one.kind == "freeze"), None)
        if frozen is not None:
            turns = {"two in turn": 2, "three in turn": 3}.get(frozen.form, 1)
            return self._base(frozen.first - turns + (number - frozen.first) % turns, faults)
        image = self._base(number, faults)
        for fault in held:
            image = self._damaged(image, fault, number)
        return image

    def _damaged(self, image: Image, fault: Fault, number: int) -> Image:
        rng = np.random.default_rng([self._salt, self.seed, 12, number])
        if fault.kind == "black":
            return blackened(self.setting.size, fault, number, rng)
        if fault.kind == "nosignal":
            return self.card.picture(fault.form, number, rng)
        if fault.kind == "resolution":
            size = (int(fault.given["width"]), int(fault.given["rows"]))
            return np.asarray(cv2.resize(image, size, interpolation=cv2.INTER_AREA), np.uint8)
        if fault.kind == "torn":
            return torn(image, fault, rng)
        return sparkling(image, fault, rng) if fault.kind == "sparkle" else image

    def _marked(self, fault: Fault) -> Fault:
        length = fault.last - fault.first + 1
        length_s = length / self.setting.rate_hz
        if fault.kind in ("resolution", "stall"):
            return judged(fault, True, "")
        why = why_not(
            fault,
            functools.partial(self.without, fault),
            self.shown,
            self.told,
            _SIGMAS[self.setting.noise],
            length_s,
        )
        return judged(fault, is_asked(fault, length_s), why)


def faulty_clip(seed: int) -> Clip:
    """Return clip `seed` of those with faults."""
    setting = setting_of(seed, NAMES, FAULTY)
    return Clip(seed, setting, planned(seed, setting.rate_hz, setting.size), FAULTY)


def clean_clip(seed: int) -> Clip:
    """Return clip `seed` of those without any fault: 20 s."""
    setting = setting_of(seed, NAMES, CLEAN)
    return Clip(seed, setting, Timeline((), tuple(range(int(CLEAN_S * setting.rate_hz)))), CLEAN)


def uses_of(clip: Clip) -> list[Setting]:
    """Return the settings in which a clean clip is shown; none of its seconds is shown again."""
    return [recoded(clip.setting, use) for use in range(USES)]
