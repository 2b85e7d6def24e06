"""Faults of the bench, written into a made-up night as the bench would have recorded them.

None of them is the unit's.
"""

import numpy as np
from made_up_soak import MadeUpSoak


def copied(clean: MadeUpSoak) -> MadeUpSoak:
    return MadeUpSoak(
        clean.header,
        list(clean.state_list),
        list(clean.mark_list),
        clean.session_list,
        dict(clean.readings),
        clean.pieces,
        clean.seal,
        clean.ends_s,
    )


def capture_blind(soak, from_s, chance):
    """Let the capture see nothing for a while."""
    soak.spell("capture", from_s, from_s + chance.uniform(1, 1500), "blind")


def card_gives_way(soak, from_s, chance):
    """Let a failing card show nonsense before it goes."""
    gone_s = from_s + chance.uniform(0.3, 50)
    soak.spell("capture", from_s, gone_s + chance.uniform(5, 600), "blind")
    look = str(chance.choice(["stalled", "black", "no signal"]))
    soak.spell("capture", from_s, gone_s, look)


def card_comes_back(soak, from_s, chance):
    """Let a card that was opened again show nothing at first."""
    seen_s = from_s + chance.uniform(5, 600)
    black_s = seen_s + chance.uniform(0.3, 8)
    soak.spell("capture", from_s, black_s, "blind")
    soak.spell("capture", seen_s, black_s, "black")


def that_was_me(soak, from_s, chance):
    """Let the operator move the cable, and say so."""
    to_s = from_s + chance.uniform(0.3, 30)
    soak.spell("capture", from_s, to_s, "no signal")
    told = {"from_s": from_s - 2, "to_s": to_s + 2, "was_me": True, "text": "my cable", "by": "KY"}
    soak.mark(to_s + 5, "note", **told)


def host_slept(soak, from_s, chance):
    """Let the computer sleep; what it sees on waking is old."""
    for_s = float(chance.uniform(20, 900))
    soak.spell("capture", from_s, from_s + for_s, str(chance.choice(["stalled", "no signal"])))
    soak.mark(from_s + for_s, "host slept", for_s=for_s)


def switch_deaf(soak, from_s, chance):
    """Let the relay's board not answer; whether there is power nobody knows."""
    to_s = from_s + chance.uniform(5, 300)
    soak.mark(from_s, "power unanswered", on=True, channel="1", why="")
    soak.spell("capture", from_s + 0.5, to_s, "no signal")
    soak.mark(to_s, "power", on=True, channel="1", why="")


def relay_stays_open(soak, from_s, chance):
    """Let the relay answer and stay open from one on to the end; no meter is at the inlet."""
    on_s = from_s + float(chance.uniform(5, 60))
    soak.mark(from_s, "power", on=False, channel="1", why="")
    soak.mark(on_s, "power", on=True, channel="1", why="")
    soak.spell("capture", from_s + 0.1, soak.ends_s, "no signal")
    soak.spell("stick", from_s + 0.1, soak.ends_s, "gone")
    for name in [name for name in soak.readings if name.startswith("transfer.")]:
        t_s, value = soak.readings[name]
        soak.readings[name] = (t_s[t_s < from_s], value[t_s < from_s])
    t_s, value = soak.readings["probe.outside"]
    left = np.exp(-np.maximum(t_s - from_s, 0.0) / 600.0)
    torn = np.abs(value) > 150.0
    soak.readings["probe.outside"] = (t_s, np.where(torn, value, 21.0 + (value - 21.0) * left))


def probe_torn(soak, from_s, chance):
    """Break a probe's wire: it reads anything."""
    t_s, value = soak.readings["probe.outside"]
    to_s = from_s + chance.uniform(10, 1500)
    broken = (t_s >= from_s) & (t_s < to_s)
    wrong = float(chance.choice([-200.0, 850.0, 2300.0]))
    soak.readings["probe.outside"] = (t_s, np.where(broken, wrong, value))


def stick_lost_by_the_bench(soak, from_s, chance):
    """Let the bench's own reader of the stick fail; the chunk at its edge is damaged."""
    to_s = from_s + chance.uniform(5, 900)
    soak.spell("stick", from_s, to_s, "blind")
    t_s, value = soak.readings["transfer.stick.damaged"]
    near = np.argmin(np.abs(t_s - from_s))
    if abs(t_s[near] - from_s) <= 1:
        soak.readings["transfer.stick.damaged"] = (t_s, np.where(t_s == t_s[near], 512.0, value))


TROUBLES = (
    capture_blind,
    card_gives_way,
    card_comes_back,
    that_was_me,
    host_slept,
    switch_deaf,
    relay_stays_open,
    probe_torn,
    stick_lost_by_the_bench,
)
