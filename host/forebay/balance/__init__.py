"""Energy and water balances from a shelf, each figure with its uncertainty (GUM)."""

from forebay.balance.compute import balance, balance_of
from forebay.balance.measured import Measured
from forebay.balance.model import Balance

__all__ = ["Balance", "Measured", "balance", "balance_of"]
