"""What goes wrong on the bench in a scene, never the unit's fault."""

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from soak.settings import Seconds, Settings
from soak.sim.episodes import Between


class Outage(Settings):
    """A bench fault: it begins at a time of the soak drawn from `at_s` and lasts `for_s`.

    Attributes
    ----------
    at_s : (float, float)
        Time of the soak when it begins, drawn from this range, s.
    for_s : float
        How long it lasts, s.
    """

    at_s: Between
    for_s: Seconds = Field(gt=0)


class ProbeOutage(Outage):
    """A probe that falls silent; `probe` is its name in the fixture, without `probe.`.

    Attributes
    ----------
    probe : str
        The probe, by its name in the fixture, without `probe.`.
    """

    probe: str = Field(min_length=1)


class ProbeAt(Settings):
    """A probe and a time, drawn from `at_s`, from which on something is wrong with it.

    Attributes
    ----------
    probe : str
        The probe, by its name in the fixture, without `probe.`.
    at_s : (float, float)
        Time of the soak from which on it is so, drawn from this range, s.
    """

    probe: str = Field(min_length=1)
    at_s: Between


class ProbeGarbles(ProbeAt):
    """A probe whose words come garbled: it reads each of `reads` once, in its measurement unit.

    Attributes
    ----------
    reads : sequence of float
        What it reads from then on, each once, in its measurement unit.
    """

    reads: Sequence[float] = Field(min_length=1)


class Relay(Settings):
    """A relay that fails: from a time drawn from `at_s` and from the on numbered `from_on` on.

    Attributes
    ----------
    fault : str
        `welded`: answers, but the power stays on; `open`: answers, but the power stays off;
        `mute`: does nothing and does not answer.
    at_s : (float, float)
        Time of the soak from which on it fails, drawn from this range, s.
    from_on : int
        The on, counted from 1, with which it begins to fail; 0: the first after that time.
    times : int
        At so many ons; 0: at all that follow.
    """

    fault: Literal["welded", "open", "mute"]
    at_s: Between = (0.0, 0.0)
    from_on: int = Field(default=0, ge=0)
    times: int = Field(default=0, ge=0)


class BenchTroubles(Settings):
    """What goes wrong on the bench, never the unit's fault.

    Attributes
    ----------
    presser_vanishes : Outage or None
        What presses the unit's button does not answer.
    servo_vanishes : Outage or None
        The servo at a plug does not answer.
    adapter_vanishes : Outage or None
        The capture card is gone from the computer.
    capture_wedges : Outage or None
        The capture card gives no pictures, though it is there.
    probe_silent : ProbeOutage or None
        A probe gives no readings.
    probe_falls_off : ProbeAt or None
        A probe comes off its spot and measures the air.
    probe_garbles : ProbeGarbles or None
        A probe reads what cannot be.
    hub_vanishes : Outage or None
        The bench's USB hub is gone, and the link with it.
    host_sleeps : Outage or None
        The bench's computer sleeps.
    relay : Relay or None
        The relay of the switch fails.
    """

    presser_vanishes: Outage | None = None
    servo_vanishes: Outage | None = None
    adapter_vanishes: Outage | None = None
    capture_wedges: Outage | None = None
    probe_silent: ProbeOutage | None = None
    probe_falls_off: ProbeAt | None = None
    probe_garbles: ProbeGarbles | None = None
    hub_vanishes: Outage | None = None
    host_sleeps: Outage | None = None
    relay: Relay | None = None
