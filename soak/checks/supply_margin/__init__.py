"""Supply margin: starts at the rated limits of the supply, and short breaks of it."""

from soak.checks.supply_margin.check import SupplyMargin
from soak.checks.supply_margin.settings import SupplyMarginSettings

__all__ = ["THE_CHECK", "SupplyMargin", "SupplyMarginSettings"]

THE_CHECK = SupplyMargin
