"""What does not go together: channels named twice, cameras on one bus, a hub for unit and bench."""

from collections.abc import Iterator, Sequence
from itertools import combinations

from soak.bench.fixture import check_claims
from soak.bench.reached import Way
from soak.bench.usb.device import hub_and_port
from soak.bench.usb.isochronous import MICROFRAME_BYTES, PERIODIC_BYTES, most_reserved_of
from soak.desk.trouble.found import Finding, Trouble, Unseen
from soak.desk.trouble.host import Host
from soak.desk.trouble.named import Named
from soak.errors import FixtureError
from soak.frozen.fixture import Fixture
from soak.frozen.wiring import role_of
from soak.words import Message, all_of, joined, msg

_HIGH_SPEED_MBPS = 480.0
"""Only devices of this speed share what `PERIODIC_BYTES` counts, Mb/s. USB 2.0, 7.1.8."""
_AT_THE_UNIT = frozenset({"link", "stick"})
"""Roles whose device is what is tested, or hangs on it."""


def of_names(fixtures: Sequence[Fixture], names: Sequence[Named]) -> Iterator[Finding]:
    """Tell what is taken twice, under whatever names, within a fixture and by two."""
    real = {name.reached.name: name.node for name in names if name.node}
    fixtures = [fixture for fixture in fixtures if not fixture.simulated]
    told_before: set[str] = set()
    groups = [*([fixture] for fixture in fixtures), *map(list, combinations(fixtures, 2))]
    for group in groups:
        try:
            check_claims(group, lambda port: real.get(port, port))
        except FixtureError as fault:
            alone = len(group) == 1
            mend = msg("or do not soak on both at a time")
            if alone:
                mend = msg("write another `channel` or `port` into {file}", file=fault.file)
            for mistake in fault.mistakes:
                what = mistake.within(fault.file)
                if str(what) not in told_before:
                    told_before.add(str(what))
                    yield Trouble(what, [mend], in_the_way=alone)
    yield from _watched_twice(names)


def _watched_twice(names: Sequence[Named]) -> Iterator[Finding]:
    """Tell of a link's or network port's device that two fixtures name: it is at one unit."""
    watched = [name for name in names if role_of(name.source) in ("link", "network")]
    for first, second in combinations(watched, 2):
        its = first.node or first.reached.name
        if its == (second.node or second.reached.name):
            sentence = msg(
                "{where} names {name}, which {other} names too",
                where=second.where,
                name=second.reached.name,
                other=first.where,
            )
            mend = msg("name another in one of the two, or do not soak on both at a time")
            yield Trouble(sentence, [mend], in_the_way=False)


def of_cameras(names: Sequence[Named], host: Host) -> Iterator[Finding]:
    """Tell of cameras that one bus cannot serve at a time."""
    cards = [name for name in names if name.reached.way is Way.VIDEO and name.node]
    if host.devices is None and len(cards) > 1:
        yield Unseen(msg("on which USB controller a camera is: this system does not tell"))
    listed = host.root / "sys/bus/usb/devices"
    buses: dict[str, dict[str, int]] = {}
    for name in cards:
        device = (host.devices or {}).get(name.place)
        if device is not None and device.speed_mbps == _HIGH_SPEED_MBPS:
            bus = name.place.partition("-")[0]
            buses.setdefault(bus, {})[name.node] = most_reserved_of(listed / name.place)
    for bus, cameras in sorted(buses.items()):
        if len(cameras) > 1 and sum(cameras.values()) > PERIODIC_BYTES:
            sentence = msg(
                "{cameras} hang on USB bus {bus}, that is on one controller; together they may "
                "take {taken} B of each microframe of {all} B, and {most} B are all that such "
                "streams get (USB 2.0, 5.6.4)",
                cameras=all_of(cameras),
                bus=bus,
                taken=sum(cameras.values()),
                all=MICROFRAME_BYTES,
                most=PERIODIC_BYTES,
            )
            mend = [
                msg(
                    "plug one into a socket of another controller: `lsusb -t` shows which is where"
                ),
                msg("or ask for smaller pictures: `size`, `rate_hz` under [capture]"),
            ]
            yield Trouble(sentence, mend, in_the_way=False)


def of_hubs(names: Sequence[Named]) -> Iterator[Finding]:
    """Tell where what is tested hangs on one hub with the bench's own instruments.

    A device that leaves together with others makes the bench blind (`bench/usb/eyes.py`), so a
    unit that pulls its hub down would be a hole, and no fault.
    """
    for name in names:
        hub = _hub(name)
        if not hub or role_of(name.source) not in _AT_THE_UNIT:
            continue
        beside = [name for name in names if _is_beside(name, hub)]
        if beside:
            sentence = msg(
                "{where} hangs on the hub at {hub} with {others}: if the unit pulls the hub down, "
                "nobody can tell unit from bench",
                where=name.where,
                hub=hub,
                others=_all_where(beside),
            )
            mend = msg("plug it into another hub, or into the computer itself")
            yield Trouble(sentence, [mend], in_the_way=False)


def _all_where(names: Sequence[Named]) -> Message:
    return joined("; ", dict.fromkeys(name.where for name in names))


def _is_beside(name: Named, hub: str) -> bool:
    return _hub(name) == hub and role_of(name.source) not in _AT_THE_UNIT


def _hub(name: Named) -> str:
    """Return the hub that a device hangs on; empty if on the computer's own socket."""
    if "-" not in name.place:
        return ""
    hub, _ = hub_and_port(name.place)
    return "" if hub.startswith("usb") else hub
