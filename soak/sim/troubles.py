"""When the simulated bench itself fails: spans of time drawn from the scene."""

from collections.abc import Sequence
from typing import NamedTuple

from soak.sim.chance import between, stream
from soak.sim.scene import Scene
from soak.sim.scene_bench import Outage
from soak.words import Message, msg


class Trouble(NamedTuple):
    """One bench fault: from when until when in s, and what the bench would say of it."""

    from_s: float
    until_s: float
    why: Message


def capture_troubles(scene: Scene, seed: int) -> Sequence[Trouble]:
    """Return when the capture cannot see, in order of time."""
    known = (
        (
            "adapter",
            scene.bench.adapter_vanishes,
            msg("the capture adapter vanished; plug it in again"),
        ),
        (
            "card",
            scene.bench.capture_wedges,
            msg("the capture card gives no pictures; reopening it"),
        ),
    )
    return sorted(_drawn(seed, part, outage, why) for part, outage, why in known if outage)


def probe_troubles(scene: Scene, seed: int, name: str) -> Sequence[Trouble]:
    """Return when the probe of that name, `"probe.heatsink"`, is silent."""
    outage = scene.bench.probe_silent
    if outage is None or name != f"probe.{outage.probe}":
        return ()
    return [_drawn(seed, name, outage, msg("no reading came; look at its cable"))]


def probe_falls_off_s(scene: Scene, seed: int, name: str) -> float:
    """Return when the probe of that name comes off its spot; infinite if it never does."""
    off = scene.bench.probe_falls_off
    if off is None or name != f"probe.{off.probe}":
        return float("inf")
    return between(stream(seed, f"off.{name}"), off.at_s)


def probe_garbles(scene: Scene, seed: int, name: str) -> tuple[float, Sequence[float]]:
    """Return from when the probe of that name is garbled, and what it reads then, in turn."""
    garbles = scene.bench.probe_garbles
    if garbles is None or name != f"probe.{garbles.probe}":
        return float("inf"), ()
    return between(stream(seed, f"garbled.{name}"), garbles.at_s), garbles.reads


def link_troubles(scene: Scene, seed: int) -> Sequence[Trouble]:
    """Return when the bench's own hub is gone, and the link with it."""
    outage = scene.bench.hub_vanishes
    why = msg("the bench's hub vanished; plug it in again")
    return () if outage is None else [_drawn(seed, "hub", outage, why)]


def presser_troubles(scene: Scene, seed: int) -> Sequence[Trouble]:
    """Return when what presses the unit's button does not answer."""
    outage = scene.bench.presser_vanishes
    why = msg("no answer within 1 s")
    return () if outage is None else [_drawn(seed, "presser", outage, why)]


def servo_troubles(scene: Scene, seed: int) -> Sequence[Trouble]:
    """Return when the servo at a plug does not answer."""
    outage = scene.bench.servo_vanishes
    return () if outage is None else [_drawn(seed, "servo", outage, msg("no answer within 1 s"))]


def host_sleep(scene: Scene, seed: int) -> Trouble | None:
    """Return when the bench's computer sleeps; None if it stays awake."""
    outage = scene.bench.host_sleeps
    return None if outage is None else _drawn(seed, "host", outage, msg("the host slept"))


def relay_fails_s(scene: Scene, seed: int) -> float:
    """Return from when on the relay is at fault; infinite for a good one."""
    relay = scene.bench.relay
    return float("inf") if relay is None else between(stream(seed, "relay"), relay.at_s)


def _drawn(seed: int, part: str, outage: Outage, why: Message) -> Trouble:
    from_s = between(stream(seed, f"outage.{part}"), outage.at_s)
    return Trouble(from_s, from_s + outage.for_s, why)
