"""What a soak cost the unit, read from its evidence."""

from soak.evidence import Evidence
from soak.ledger.entries import Wear


def wear_of(evidence: Evidence) -> Wear:
    """Return starts, seconds under power and bytes written of one soak."""
    return Wear(len(evidence.marks("start")), powered_s(evidence), written_bytes(evidence))


def powered_s(evidence: Evidence) -> float:
    """Return the seconds in which the power was commanded on.

    Power that nobody switched off before the program ended counts as on until the record that
    says otherwise: use is rather stated too high than too low.
    """
    total_s, on_since_s = 0.0, None
    for mark in evidence.marks("power"):
        if mark.detail.get("on"):
            on_since_s = mark.t_s if on_since_s is None else on_since_s
        elif on_since_s is not None:
            total_s, on_since_s = total_s + mark.t_s - on_since_s, None
    if on_since_s is not None:
        total_s += max(0.0, evidence.ends_s - on_since_s)
    return total_s


def written_bytes(evidence: Evidence) -> int:
    """Return the bytes written across the unit's ports, all sticks together."""
    names = [
        quantity.name
        for quantity in evidence.header.quantities
        if quantity.name.startswith("transfer.") and quantity.name.endswith(".written")
    ]
    return round(sum(float(evidence.series(name)[1].sum()) for name in names))
