"""Units that fail in bouts, of known truth, and the evidence of soaks in which they do."""

import numpy as np
from made_up_soak import TOOK_S, MadeUpSoak, clean_night

from soak.records import Requirement, Seal, State

HOUR = 3600.0
LOSS_S = 3.0
"""So long lasts each loss; nothing is counted meanwhile."""


def drawn(
    chance: np.random.Generator,
    *,
    pause_s: float,
    within_s: float,
    mean_size: float,
    watched_s: float,
    same_size: bool = False,
) -> list[float]:
    """Return the time watched before each fault, s: pauses and gaps exponential, sizes geometric.

    With `same_size` each bout has as many faults as the mean says.
    """
    times_s: list[float] = []
    t_s = 0.0
    while True:
        t_s += chance.exponential(pause_s)
        size = int(mean_size) if same_size else int(chance.geometric(1 / mean_size))
        gaps = chance.exponential(within_s, size - 1)
        bout = t_s + np.concatenate(([0.0], np.cumsum(gaps)))
        times_s += [float(one) for one in bout if one <= watched_s]
        t_s = float(bout[-1])
        if t_s > watched_s:
            return times_s


def soak_with(
    times_s: list[float], watched_s: float, *needs: Requirement, soak_id: str = "S1"
) -> MadeUpSoak:
    """Return a soak of one stretch, "hot run", that loses the picture at each of these times."""
    soak = clean_night(soak_id, starts=0).demanding(*needs)
    lasts_s = TOOK_S + watched_s + LOSS_S * len(times_s)
    soak.state_list = [State(0.0, "switch", "seen"), State(0.0, "capture", "no signal")]
    soak.mark_list, soak.readings, soak.pieces = [], {}, {"hot run": [(0.0, lasts_s)]}
    soak.mark(0.0, "stretch begins", "hot run")
    soak.mark(0.0, "power", on=True, channel="1", why="")
    soak.state_list.append(State(TOOK_S, "capture", "picture", 1 / 60))
    for number, t_s in enumerate(times_s):
        at_s = TOOK_S + t_s + LOSS_S * number
        soak.state_list.append(State(at_s, "capture", "black", 1 / 60))
        soak.state_list.append(State(at_s + LOSS_S, "capture", "picture", 1 / 60))
    soak.mark(lasts_s, "stretch ends", "hot run", because="done")
    soak.mark(lasts_s, "power", on=False, channel="1", why="end")
    soak.ends_s, soak.seal = lasts_s + 1, Seal(lasts_s + 1, "complete")
    return soak
