"""Transfer: data that names its own place crosses the unit's port, over and over."""

from soak.checks.transfer.check import TransferCheck
from soak.checks.transfer.crossing import MOST_MARKS
from soak.checks.transfer.settings import TransferSettings

__all__ = ["MOST_MARKS", "THE_CHECK", "TransferSettings"]

THE_CHECK = TransferCheck
